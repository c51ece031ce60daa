"""Beads of an earlier measurement, read from the JSON that `strandgauge strand` and `lot` print."""

import contextlib
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sizing.base.errors import PieceError
from sizing.base.json_file import read_json
from sizing.base.printable import printable
from sizing.lot.classes import nearest_usual_mm
from sizing.piece.bead_size import check_size
from sizing.piece.measured_kinds import Measured, kinds_of
from sizing.piece.parts import BeadPart
from sizing.piece.stringing import Layout
from sizing.strand.size_pattern import Pattern, find_pattern
from vision.common import flags
from vision.common.records import PART_KINDS, StrandBead

# Strands sold as 8 mm span 7.5 to 8.4 mm (common practice, no source): sizes that differ by no more are one.
_ONE_SIZE_SHARE = 0.12
_FEWEST_OF_A_SIZE = 2  # a single odd bead is not a size of its own: common practice, no source
_MOST_STRUNG = 1000  # a photo shows a tenth of that; finding a repeat among so many takes a second

Fields = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredBeads:
    """Beads of an earlier measurement.

    Attributes
    ----------
    beads : tuple of BeadPart
        One of each kind, or in the order they had on the strand.
    layout : Layout
        Keeps that order.
    remarks : tuple of str
        What to know about them, a sentence each.
    """

    beads: tuple[BeadPart, ...]
    layout: Layout
    remarks: tuple[str, ...] = ()


def load_measured(path: str | Path) -> MeasuredBeads:
    """Read the beads of a saved measurement, how many of each size there are, and their uncertainty.

    A lot gives one bead of each size that it was sorted into, graduated. A uniform strand, several strands
    of one size together, or a lot whose sizes differ as little, give one bead of their mean size. Any other
    strand gives its beads in order, of as few kinds as its sizes form; where they repeat, one repeat. Of
    several strands that are not of one size the first is taken, and a remark says so.

    Raises
    ------
    PieceError
        The file cannot be read, or is not such a measurement.
    """
    name = Path(path).name
    with _refusal(name):
        return _read(read_json(path), name)


def measured_from(fields: Fields, name: str) -> MeasuredBeads:
    """Return the beads of a saved measurement that was read already; see `load_measured`.

    Raises
    ------
    PieceError
        It is not such a measurement; `name` is what messages call it.
    """
    with _refusal(name):
        return _read(fields, name)


def no_measurement(name: str) -> PieceError:
    """Return the error about a file that holds something else."""
    return PieceError(
        f"{name} is not a saved measurement: make one with strandgauge strand PHOTO --json > {name}"
    )


@contextlib.contextmanager
def _refusal(name: str) -> Iterator[None]:
    try:
        yield
    except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError, RecursionError) as error:
        raise no_measurement(name) from error


def _read(fields: Fields, name: str) -> MeasuredBeads:
    if not fields["beads"]:
        raise PieceError(f"{name} has no beads: measure another photo")
    measured = _strand(fields, name) if "along_mm" in fields["beads"][0] else _lot(fields, name)
    for bead in measured.beads:
        _check_size(bead, name)
    return measured


def _check_size(bead: BeadPart, name: str) -> None:
    try:
        check_size(bead.along_mm)
    except ValueError as error:
        raise PieceError(f"{name}: {error}, or measure again") from error


def _strand(fields: Fields, name: str) -> MeasuredBeads:
    """Take the mean bead, the repeat, or all beads in order, of all strands of one size or of the first."""
    if len(fields["beads"]) > _MOST_STRUNG:
        raise PieceError(f"{name} has over {_MOST_STRUNG} beads on a strand: measure a part of it")
    strands = fields.get("strands") or [fields["strand"]]
    beads = [_strand_bead(bead) for bead in fields["beads"]]
    if all(bead.kind != "bead" for bead in beads):
        raise PieceError(f"{name} has spacers and covers, but no bead: measure a strand with beads")
    remarks = (*_as_measured(fields), *_unsure([word for strand in strands for word in strand["flags"]]))
    strung = _Strung(beads=beads, strands=strands, scale_rel_u=_scale_rel_u(fields))
    if len(strands) > 1 and not strung.pattern.uniform:
        first = [k for k, bead in enumerate(fields["beads"]) if bead["strand"] == strands[0]["number"]]
        strung = replace(strung, beads=[beads[k] for k in first], strands=strands[:1])
        remarks = (*remarks, f"Planned with strand 1 of {len(strands)}: not all beads are of one size.")
    parts, layout = strung.parts()
    return MeasuredBeads(beads=parts, layout=layout, remarks=remarks)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Strung:
    """Beads of one strand or several, with what was saved of each strand as a whole."""

    beads: Sequence[StrandBead]
    strands: Sequence[Fields]
    scale_rel_u: float

    @property
    def pattern(self) -> Pattern:
        """The pattern of the sizes."""
        return find_pattern(self.repeated, scale_rel_u=self.scale_rel_u)

    @property
    def repeated(self) -> list[StrandBead]:
        """Beads and spacers; covers belong to the ends."""
        return [bead for bead in self.beads if bead.kind != "cover"]

    @property
    def count(self) -> int:
        """How many of them are beads."""
        return sum(bead.kind == "bead" for bead in self.beads)

    @property
    def mean_mm(self) -> float:
        """Mean length of a bead."""
        closed_up = sum(_length(strand["closed_up_mm"]) for strand in self.strands)
        others = [bead.along_mm for bead in self.beads if bead.kind != "bead" and bead.along_mm > 0]
        return (closed_up - sum(others)) / self.count

    @property
    def rel_u95(self) -> float:
        """Relative uncertainty of a bead's length, that of the strand known least well."""
        return max(map(_rel_u95, self.strands))

    @property
    def sizes(self) -> Measured:
        """The sizes of the beads."""
        return _measured(self.repeated, self.mean_mm, scale_rel_u=self.scale_rel_u)

    def parts(self) -> tuple[tuple[BeadPart, ...], Layout]:
        """Return the mean bead, the repeat, or all beads in order, and how they are laid out."""
        sizes, pattern = self.sizes, self.pattern
        if pattern.uniform:
            across_mm = float(sizes.across_mm[[part.kind == "bead" for part in self.repeated]].mean())
            mean = BeadPart(along_mm=self.mean_mm, across_mm=across_mm, rel_u95=self.rel_u95, have=self.count)
            return (mean,), Layout()
        kinds = [tuple(kind) for kind in kinds_of(sizes)]
        part_of = {
            kind: _kind(sizes, [each == kind for each in kinds], rel_u95=self.rel_u95) for kind in set(kinds)
        }
        if not pattern.repeat:
            return tuple(part_of[kind] for kind in kinds), Layout(whole=False)
        # Where a place of the repeat holds beads that were measured as two kinds, most of them decide.
        places = [Counter(kinds[place :: pattern.repeat]) for place in range(pattern.repeat)]
        order = [place.most_common(1)[0][0] for place in places]
        return tuple(part_of[kind] for kind in order), Layout(symmetric=pattern.symmetric)


def _measured(beads: Sequence[StrandBead], mean_mm: float, *, scale_rel_u: float) -> Measured:
    """Return the sizes of a strand's beads; a size that is missing is taken as the mean."""
    along, across = (np.array([getattr(bead, size) for bead in beads]) for size in ("along_mm", "across_mm"))
    u95 = [np.array([getattr(bead, f"{size}_u95_mm") for bead in beads]) for size in ("along", "across")]
    along = np.where(np.isfinite(along), along, mean_mm)
    across = np.where(np.isfinite(across), across, along)
    return Measured(
        along_mm=along,
        across_mm=across,
        along_u95_mm=np.nan_to_num(u95[0]),
        across_u95_mm=np.nan_to_num(u95[1]),
        scale_rel_u=scale_rel_u,
    )


def _kind(sizes: Measured, chosen: Sequence[bool], *, rel_u95: float) -> BeadPart:
    """Take the mean of the beads of one kind, named by the nearest usual size where they are round."""
    along, across = float(sizes.along_mm[chosen].mean()), float(sizes.across_mm[chosen].mean())
    usual = nearest_usual_mm(across)
    is_usual_round = usual == nearest_usual_mm(along)
    return BeadPart(
        name=f"{usual:g} mm" if is_usual_round else "",
        along_mm=along,
        across_mm=across,
        rel_u95=rel_u95,
        have=sum(chosen),
    )


def _lot(fields: Fields, name: str) -> MeasuredBeads:
    """Take one bead of each size that a lot was sorted into; a size of a single bead is left out."""
    lot = fields["lot"]
    if not lot["whole"]["count"]:
        raise PieceError(f"{name} has no bead with a size: measure another photo")
    remarks = [*_as_measured(fields), *_unsure(lot["flags"]), *_unmeasured(len(lot["unmeasured"]))]
    if _is_one_size(fields["beads"]):
        return MeasuredBeads(
            beads=(_loose_part(lot["whole"], name=""),), layout=Layout(), remarks=tuple(remarks)
        )
    classes = [each for each in lot["classes"] if each["count"] >= _FEWEST_OF_A_SIZE] or lot["classes"]
    single = [printable(each["name"]) for each in lot["classes"] if each not in classes]
    if single:
        remarks.append(f"Left out, as there is only one of its size: the bead of {', '.join(single)}.")
    parts = tuple(_loose_part(each, name=printable(each["name"])) for each in classes)
    return MeasuredBeads(beads=parts, layout=Layout(graduated=len(parts) > 1), remarks=tuple(remarks))


def _is_one_size(beads: Sequence[Fields]) -> bool:
    """Return whether the beads of a lot differ no more than those of a strand that is sold as one size."""
    widths = [_length(bead["min_feret_mm"]) for bead in beads if bead["min_feret_mm"] is not None]
    return max(widths) - min(widths) <= _ONE_SIZE_SHARE * float(np.median(widths))


def _loose_part(tally: Fields, *, name: str) -> BeadPart:
    """Take the mean of some beads; clearly longer ones are strung along their length."""
    count = int(tally["count"])
    along, u95 = _length(tally["strung_mm"]) / count, float(tally["strung_u95_mm"]) / count
    across = along
    if tally["strung_long_mm"] != tally["strung_mm"]:
        along, u95 = _length(tally["length_mean_mm"]), float(tally["length_mean_u95_mm"])
        across = _length(tally["width_mean_mm"])
    return BeadPart(name=name, along_mm=along, across_mm=across, rel_u95=u95 / along, have=count)


def _unsure(found: Sequence[str]) -> Iterator[str]:
    """Say that a number of beads is not certain."""
    if flags.COUNT_UNSURE & set(found):
        yield "On the photo the number of beads is not certain: count those that you have."


def _as_measured(fields: Fields) -> Iterator[str]:
    """Say what is to be known of the measurement as a whole."""
    yield from _scale_unsure(fields)
    said = len(fields.get("corrections") or ())
    if said:
        yield f"Of that measurement {said} thing{' was' if said == 1 else 's were'} put right by hand."


def _scale_unsure(fields: Fields) -> Iterator[str]:
    """Say that the sheet should be checked before anything is strung."""
    if fields.get("warnings"):
        yield "Not certain: the scale of that measurement was not checked. Check the sheet and measure again."


def _unmeasured(count: int) -> Iterator[str]:
    if count:
        yield f"Not counted: {count} bead{'' if count == 1 else 's'} without a measured size."


def _rel_u95(lengths: Fields) -> float:
    """Return the relative uncertainty of a bead's length; what is doubted of the ends does not change it."""
    mean = lengths.get("along") or {}
    if lengths.get("doubts") or lengths.get("cut_by"):
        return float(mean.get("mean_u95_mm") or 0.0) / _length(mean.get("mean_mm"))
    u95 = float(lengths.get("closed_up_u95_mm") or lengths["length_u95_mm"] or 0.0)
    return u95 / _length(lengths["closed_up_mm"])


def _scale_rel_u(fields: Fields) -> float:
    return max((float(photo["scale_rel_u"]) for photo in fields["photos"]), default=0.0)


def _length(value: object) -> float:
    """Return a size as a number."""
    if not isinstance(value, int | float) or not 0 < value < math.inf:
        raise ValueError(f"{value!r} is not a size")
    return float(value)


def _strand_bead(bead: Fields) -> StrandBead:
    """Make a bead with what finding a pattern needs: sizes and flags."""
    across, across_u95, along, along_u95 = (
        math.nan if bead[key] is None else _length(bead[key])
        for key in ("across_mm", "across_u95_mm", "along_mm", "along_u95_mm")
    )
    kind = bead.get("kind", "bead")
    if kind not in PART_KINDS:
        raise ValueError(f"{kind!r} is no kind of bead")
    return StrandBead(
        number=int(bead["number"]),
        across_mm=across,
        across_u95_mm=across_u95,
        along_mm=along,
        along_u95_mm=along_u95,
        kind=kind,
        centre_px=(0.0, 0.0),
        gap_after_mm=0.0,
        colour_rgb=(0, 0, 0),
        outline_px=np.zeros((0, 2)),
        flags=tuple(bead["flags"]),
    )
