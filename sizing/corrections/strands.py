"""Measured strands, corrected by their maker."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from sizing.base.errors import CorrectionError
from sizing.corrections.doubts import Known, Said, cleared, renumbered, still_doubted, strand_flags
from sizing.corrections.likeness import Size, rescaled
from sizing.corrections.missed import place_on, with_missed
from sizing.corrections.plan import CorrectionPlan, each_bead, plan_of
from sizing.corrections.row import Part, changed, kept, row_of, span
from vision.common.changes import largest_change
from vision.common.corrections import Correction
from vision.common.numbering import numbered
from vision.common.records import Loop, Strand, StrandBead


@dataclass(frozen=True, slots=True, kw_only=True)
class _String:
    """A strand on its way to a corrected one.

    Attributes
    ----------
    strand : Strand
        As measured.
    row : list of Part
        Its beads by now; empty where none is left.
    named : frozenset of int
        Old numbers of the beads that corrections name.
    ends : dict
        What they say about its ends.
    new_ends_u95_mm : tuple of float
        What each missed bead beyond an end adds to the uncertainty of the length.
    """

    strand: Strand
    row: list[Part]
    named: frozenset[int]
    ends: dict[str, Said]
    new_ends_u95_mm: tuple[float, ...] = field(default=())


def correct_strands(strands: Sequence[Strand], corrections: Sequence[Correction]) -> tuple[Strand, ...]:
    """Return the strands of a photo as their maker corrects them.

    All numbers are those of the uncorrected photo, so the order of the corrections does not matter. Beads are
    numbered anew; `was` says their old numbers. Nothing is measured again. The strung length goes from outer
    end to outer end of what is left; what lies between the ends changes it not. A missed bead has the size of
    its neighbours, and beyond an end it lengthens the strand. Of a closed loop the length all round stays.

    Parameters
    ----------
    strands : sequence of Strand
        As measured, never corrected before.
    corrections : sequence of Correction

    Raises
    ------
    CorrectionError
        They contradict each other, name what is not there, or leave no bead.

    Examples
    --------
    Of 21 rounds of 8 mm the first is a stopper:

    >>> from tests.helpers.strands import make_strand
    >>> strand = make_strand([8.0] * 21)
    >>> [right] = correct_strands([strand], [Correction(action="stopper", numbers=(1,))])
    >>> len(right.beads), right.length_mm, right.beads[0].number, right.beads[0].was
    (20, 160.0, 1, (2,))
    """
    if not corrections:
        return tuple(strands)
    numbers = [("", bead.number) for strand in strands for bead in strand.beads]
    said = [_placed(correction, strands) for correction in each_bead(corrections)]
    plan = plan_of(said, numbers)
    strings = [_without_dropped(strand, plan) for strand in strands]
    if not any(string.row for string in strings):
        raise CorrectionError("no bead would be left: leave out some of the corrections")
    for missed in _outwards(strings, plan.missed):
        strings = _put_in(strings, missed)
    right = [_finished(string) for string in strings if string.row]
    return tuple(replace(strand, corrections=tuple(said)) for strand in numbered(right))


def _without_dropped(strand: Strand, plan: CorrectionPlan) -> _String:
    """Return a strand with what was said of its beads."""
    row = changed(row_of(strand.beads), plan, scale_rel_u=strand.conditions.scale_rel_u)
    inner = [k for k, part in enumerate(row) if not part.dropped] or [0, len(row) - 1]
    outside = {"left end": row[: inner[0]], "right end": row[inner[-1] + 1 :]}
    return _String(
        strand=strand,
        row=kept(row, closed=strand.loop is not None),
        named=frozenset(bead.number for bead in strand.beads if plan.action(("", bead.number))),
        ends={end: _said([part.dropped for part in parts]) for end, parts in outside.items()},
    )


def _said(dropped: Sequence[str]) -> Said:
    """Return what is known of an end where such parts were taken off."""
    return "settled" if "stopper" in dropped else "shortened" if dropped else ""


def _outwards(strings: Sequence[_String], missed: Sequence[Correction]) -> list[Correction]:
    """Return missed beads from the nearest to any measured one to the farthest."""
    centres = np.array([part.bead.centre_px for string in strings for part in string.row])
    return sorted(
        missed, key=lambda each: float(np.hypot(*(centres - np.array(each.px, dtype=float)).T).min())
    )


def _put_in(strings: list[_String], missed: Correction) -> list[_String]:
    """Return the strings with a missed bead on the nearest of them."""
    px = missed.px or (math.nan, math.nan)
    nearest = min(
        (k for k, string in enumerate(strings) if string.row),
        key=lambda k: place_on(strings[k].row, px).near_px,
    )
    string = strings[nearest]
    longer = with_missed(string.row, px)
    more = replace(string, row=longer.row)
    if longer.end:
        ends: dict[str, Said] = {**string.ends, longer.end: "settled"}
        more = replace(more, ends=ends, new_ends_u95_mm=(*string.new_ends_u95_mm, longer.u95_mm))
    return [*strings[:nearest], more, *strings[nearest + 1 :]]


def _finished(string: _String) -> Strand:
    """Return the record of a corrected strand, its beads numbered from 1."""
    strand = string.strand
    lost = _change(string)
    doubts = still_doubted(strand.doubts, _known(string))
    row = cleared(string.row, strand.doubts, doubts)
    doubts = renumbered(doubts, row)
    length, closed_up = _lengths(string, lost)
    return replace(
        strand,
        beads=tuple(_bead(part, number=k) for k, part in enumerate(row, 1)),
        length_mm=length.mm,
        length_u95_mm=length.u95_mm + largest_change(doubt.length_mm for doubt in doubts),
        closed_up_mm=closed_up.mm,
        closed_up_u95_mm=closed_up.u95_mm + largest_change(doubt.closed_up_mm for doubt in doubts),
        flags=strand_flags(strand, doubts),
        doubts=doubts,
        loop=_loop(strand, row, lost[0]) if strand.loop else None,
    )


def _known(string: _String) -> Known:
    followed = zip(string.row, string.row[1:], strict=False)
    return Known(
        named=string.named,
        filled={number for part, after in followed if after.bead.was == () for number in part.bead.was or ()},
        ends=string.ends,
        more=sum(part.bead.kind == "bead" for part in string.row) - string.strand.count,
    )


def _change(string: _String) -> tuple[float, float]:
    """Return how much longer the string is than it was measured, and with its gaps closed."""
    before, after = span(row_of(string.strand.beads)), span(string.row)
    return after[0] - before[0], after[1] - before[1]


def _lengths(string: _String, change: tuple[float, float]) -> tuple[Size, Size]:
    """Return the strung length, and with its gaps closed; apart from doubts.

    What was uncertain stays so, but for the scale, which goes with the length. A new end adds its own, and to
    the length with gaps closed every missed bead does.
    """
    strand, rel_u = string.strand, string.strand.conditions.scale_rel_u
    lengths = zip((strand.length_mm, strand.closed_up_mm), strand.measuring_u95_mm, strict=True)
    measured = [Size(mm=mm, u95_mm=u95_mm) for mm, u95_mm in lengths]
    missed = [part.bead.along_u95_mm for part in string.row if part.bead.was == ()]
    added = (string.new_ends_u95_mm, missed)
    out = []
    for size, more, u95_mm in zip(measured, change, added, strict=True):
        moved = rescaled(size, size.mm + more, scale_rel_u=rel_u) if more else size
        out.append(replace(moved, u95_mm=math.hypot(moved.u95_mm, *u95_mm) if u95_mm else moved.u95_mm))
    return out[0], out[1]


def _loop(strand: Strand, row: Sequence[Part], longer_mm: float) -> Loop | None:
    """Return what a closed strand measures, of whose round the clasp has now less or more."""
    loop = strand.loop
    if loop is None:
        return None
    clasp_mm = loop.clasp_mm - longer_mm
    if clasp_mm < 0:
        raise CorrectionError("there is no room for so many beads where the loop's clasp is")
    thicker_mm = _thickness([part.bead for part in row]) - _thickness(strand.beads)
    # a closed curve at a distance d inside another is 2 pi d shorter (Steiner's formula)
    inner_mm = loop.inner_girth_mm - math.pi * thicker_mm
    return replace(loop, clasp_mm=clasp_mm, inner_girth_mm=inner_mm)


def _thickness(beads: Sequence[StrandBead]) -> float:
    """Return the mean size across, weighted by the lengths along the string."""
    sizes = np.array([(bead.across_mm, bead.along_mm) for bead in beads])
    known = sizes[np.isfinite(sizes).all(axis=1)]
    return float(np.average(known[:, 0], weights=known[:, 1])) if len(known) else 0.0


def _bead(part: Part, *, number: int) -> StrandBead:
    return replace(part.bead, number=number, gap_after_mm=part.gap_mm)


def _placed(correction: Correction, strands: Sequence[Strand]) -> Correction:
    """Return a correction with the place of the first bead that it is about, and with its size there."""
    beads = {bead.number: bead for strand in strands for bead in strand.beads}
    bead = beads.get(min(correction.numbers, default=0))
    if bead is None:
        return correction
    placed = replace(correction, px=bead.centre_px)
    if correction.action != "size":
        return placed
    return replace(placed, shown_mm=bead.across_mm, shown_u95_mm=bead.across_u95_mm)
