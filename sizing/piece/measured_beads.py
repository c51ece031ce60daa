"""Beads of an earlier measurement, read from the JSON that `strand` and `lot` print."""

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from sizing.base.errors import PieceError
from sizing.lot.groups import natural_limits
from sizing.piece.parts import BeadPart
from sizing.piece.stringing import Layout
from sizing.strand.size_pattern import find_pattern
from vision.common.records import FloatArray, StrandBead

# Rounder than this a bead has one size: 2 to 5 % is semi-round in the official Tahitian pearl classification
# (second-hand).
_ROUND_SHARE = 0.05
_FEWEST_OF_A_SIZE = 2
_COVERAGE = 2.0  # JCGM 100:2008, 6.3.3: about 95 %

Beads = tuple[tuple[BeadPart, ...], Layout]


def load_measured(path: str | Path) -> Beads:
    """Read the beads of a saved measurement, and the layout that keeps the order they had.

    A uniform strand or lot gives one bead of its mean size; a strand with a repeat gives the repeat;
    any other strand gives its beads in order; a mixed lot gives its natural sizes, graduated.

    Raises
    ------
    PieceError
        The file cannot be read, or is no such measurement.
    """
    name = Path(path).name
    try:
        fields = json.loads(Path(path).read_text(encoding="utf-8"))
        return _beads(fields, name)
    except OSError as error:
        raise PieceError(f"{path} cannot be read ({error.strerror}): check its name") from error
    except (ValueError, KeyError, TypeError) as error:
        raise PieceError(
            f"{name} is no measurement: save one with strandgauge strand PHOTO --json > {name}"
        ) from error


def _beads(fields: Mapping[str, Any], name: str) -> Beads:
    if not fields["beads"]:
        raise PieceError(f"{name} holds no beads: measure another photo")
    if "along_mm" in fields["beads"][0]:
        return _strand(fields)
    return _lot(fields, name)


def _strand(fields: Mapping[str, Any]) -> Beads:
    beads = [_strand_bead(bead) for bead in fields["beads"]]
    lengths = fields["strand"]
    closed_up_mm = float(lengths["closed_up_mm"])
    rel_u95 = float(lengths.get("closed_up_u95_mm") or lengths["length_u95_mm"] or 0.0) / closed_up_mm
    along, across = (np.array([getattr(bead, size) for bead in beads]) for size in ("along_mm", "across_mm"))
    along = np.where(np.isfinite(along), along, closed_up_mm / len(beads))
    across = np.where(np.isfinite(across), across, along)
    pattern = find_pattern(beads)
    if pattern.uniform:
        return (_part("measured", closed_up_mm / len(beads), float(across.mean()), rel_u95),), Layout()
    if pattern.repeat:
        places = [slice(place, None, pattern.repeat) for place in range(pattern.repeat)]
        sizes = [(float(along[place].mean()), float(across[place].mean())) for place in places]
        layout = Layout(symmetric=pattern.symmetric)
    else:
        sizes = [(float(a), float(t)) for a, t in zip(along, across, strict=True)]
        layout = Layout(whole=False)
    parts = [_part(f"bead {i + 1}", a, t, rel_u95) for i, (a, t) in enumerate(sizes)]
    return tuple(parts), layout


def _lot(fields: Mapping[str, Any], name: str) -> Beads:
    keys = ("max_feret_mm", "min_feret_mm", "max_feret_u95_mm")
    measured = [bead for bead in fields["beads"] if None not in [bead[key] for key in keys]]
    if not measured:
        raise PieceError(f"{name} holds no bead with a size: measure another photo")
    longest, widest, u95 = (np.array([float(bead[key]) for bead in measured]) for key in keys)
    rel_u95 = _COVERAGE * max(float(photo["scale_rel_u"]) for photo in fields["photos"])
    groups = np.digitize(longest, natural_limits(longest, u95 / _COVERAGE))
    kinds = [group for group in range(groups.max() + 1) if (groups == group).sum() >= _FEWEST_OF_A_SIZE]
    chosen = [groups == group for group in kinds] or [groups >= 0]
    parts = [_loose_part(longest[beads], widest[beads], rel_u95) for beads in chosen]
    return tuple(parts), Layout(graduated=len(parts) > 1)


def _loose_part(longest: FloatArray, widest: FloatArray, rel_u95: float) -> BeadPart:
    """Make one bead of a group; one that is clearly longer than wide is strung along its length."""
    along, across = float(longest.mean()), float(widest.mean())
    if along - across < _ROUND_SHARE * along:
        along = across = (along + across) / 2
    return _part("measured", along, across, rel_u95)


def _part(name: str, along_mm: float, across_mm: float, rel_u95: float) -> BeadPart:
    return BeadPart(name=name, along_mm=along_mm, across_mm=across_mm, rel_u95=rel_u95)


def _strand_bead(bead: Mapping[str, Any]) -> StrandBead:
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
