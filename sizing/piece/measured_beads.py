"""Beads of an earlier measurement, read from the JSON that `strandgauge strand` and `lot` print."""

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sizing.base.errors import PieceError
from sizing.lot.groups import natural_limits
from sizing.piece.parts import BeadPart
from sizing.piece.stringing import Layout
from sizing.strand.size_pattern import find_pattern
from vision.common.records import FloatArray, StrandBead

# A bead rounder than this has one size. In the official Tahitian pearl classification, as reported, diameters
# that differ by 2 to 5 % are semi-round.
_ROUND_SHARE = 0.05
_FEWEST_OF_A_SIZE = 2  # a single odd bead is not a size of its own: common practice, no source
_COVERAGE = 2.0  # k of an expanded uncertainty, about 95 %: JCGM 100:2008, 6.3.3

Fields = Mapping[str, Any]


class MeasuredBeads(NamedTuple):
    """Beads of an earlier measurement, and the layout that keeps the order they had."""

    beads: tuple[BeadPart, ...]
    layout: Layout


def load_measured(path: str | Path) -> MeasuredBeads:
    """Read the beads of a saved measurement.

    A uniform strand or lot gives one bead of its mean size. A strand with a repeat gives the repeat, and
    any other strand its beads in order. A lot of several sizes gives one bead of each, graduated.

    Raises
    ------
    PieceError
        The file cannot be read, or is not such a measurement.
    """
    name = Path(path).name
    try:
        return _read(json.loads(Path(path).read_text(encoding="utf-8")), name)
    except OSError as error:
        raise PieceError(f"{path} cannot be read ({error.strerror}): check its name") from error
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise PieceError(
            f"{name} is not a saved measurement: make one with strandgauge strand PHOTO --json > {name}"
        ) from error


def _read(fields: Fields, name: str) -> MeasuredBeads:
    if not fields["beads"]:
        raise PieceError(f"{name} has no beads: measure another photo")
    if "along_mm" in fields["beads"][0]:
        return _strand(fields)
    return _lot(fields, name)


def _strand(fields: Fields) -> MeasuredBeads:
    """Take the mean bead, the repeat, or all beads of a strand in order."""
    beads = [_strand_bead(bead) for bead in fields["beads"]]
    lengths = fields["strand"]
    closed_up_mm = float(lengths["closed_up_mm"])
    rel_u95 = float(lengths.get("closed_up_u95_mm") or lengths["length_u95_mm"] or 0.0) / closed_up_mm
    mean_mm = closed_up_mm / len(beads)
    along, across = (np.array([getattr(bead, size) for bead in beads]) for size in ("along_mm", "across_mm"))
    along = np.where(np.isfinite(along), along, mean_mm)
    across = np.where(np.isfinite(across), across, along)
    pattern = find_pattern(beads)
    if pattern.uniform:
        bead = BeadPart(name="measured", along_mm=mean_mm, across_mm=float(across.mean()), rel_u95=rel_u95)
        return MeasuredBeads((bead,), Layout())
    unit = pattern.repeat or len(beads)
    places = [slice(place, None, unit) for place in range(unit)]
    parts = [
        BeadPart(
            name=f"bead {number}",
            along_mm=float(along[place].mean()),
            across_mm=float(across[place].mean()),
            rel_u95=rel_u95,
        )
        for number, place in enumerate(places, start=1)
    ]
    layout = Layout(symmetric=pattern.symmetric) if pattern.repeat else Layout(whole=False)
    return MeasuredBeads(tuple(parts), layout)


def _lot(fields: Fields, name: str) -> MeasuredBeads:
    """Take one bead of each natural size of a lot."""
    keys = ("max_feret_mm", "min_feret_mm", "max_feret_u95_mm")
    measured = [bead for bead in fields["beads"] if None not in [bead[key] for key in keys]]
    if not measured:
        raise PieceError(f"{name} has no bead with a size: measure another photo")
    longest, widest, u95 = (np.array([float(bead[key]) for bead in measured]) for key in keys)
    rel_u95 = _COVERAGE * max(float(photo["scale_rel_u"]) for photo in fields["photos"])
    groups = np.digitize(longest, natural_limits(longest, u95 / _COVERAGE))
    kinds = [group for group in range(groups.max() + 1) if (groups == group).sum() >= _FEWEST_OF_A_SIZE]
    chosen = [groups == group for group in kinds] or [groups >= 0]
    parts = [_loose_part(longest[beads], widest[beads], rel_u95=rel_u95) for beads in chosen]
    return MeasuredBeads(tuple(parts), Layout(graduated=len(parts) > 1))


def _loose_part(longest: FloatArray, widest: FloatArray, *, rel_u95: float) -> BeadPart:
    """Take the mean of a group; beads that are clearly longer than wide are strung along their length."""
    along, across = float(longest.mean()), float(widest.mean())
    if along - across < _ROUND_SHARE * along:
        along = across = (along + across) / 2
    return BeadPart(name="measured", along_mm=along, across_mm=across, rel_u95=rel_u95)


def _strand_bead(bead: Fields) -> StrandBead:
    """Make a bead with what finding a pattern needs: sizes and flags."""
    sizes = {
        key: math.nan if bead[key] is None else float(bead[key])
        for key in ("across_mm", "across_u95_mm", "along_mm", "along_u95_mm")
    }
    return StrandBead(
        number=int(bead["number"]),
        centre_px=(0.0, 0.0),
        gap_after_mm=0.0,
        colour_rgb=(0, 0, 0),
        outline_px=np.zeros((0, 2)),
        flags=tuple(bead["flags"]),
        **sizes,
    )
