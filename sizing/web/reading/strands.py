"""Measured strands as a page shows them."""

from collections.abc import Sequence

import numpy as np

from sizing.base.units import format_length, format_mm
from sizing.report.front.strand import strand_front
from sizing.report.records.photo import css_colour
from sizing.report.sentences.count import count_notes, cut_notes
from sizing.report.sentences.flagged import strand_flagged
from sizing.report.sentences.loop import found_said, planned_said, verdict_said
from sizing.report.sentences.phrases import opening
from sizing.report.sentences.strand import strand_outcomes
from sizing.strand.planned import Compared
from sizing.strand.sized import SizedStrand, size_strands
from sizing.web.reading.marks import Mark, MarkedPhoto, inner_radius, outline_points, window_of
from sizing.web.reading.others import OTHER, other_card, other_mark
from sizing.web.reading.reading import Card, ComparedRow, Reading
from sizing.web.reading.wishes import Asked
from vision.common.corrections import Correction
from vision.common.flags import DESCRIPTIONS
from vision.common.records import FloatArray, Strand, StrandBead
from vision.marks import colours

MEASURED, DOUBTFUL = css_colour(colours.MEASURED), css_colour(colours.FLAGGED)
TAKE_OFF = css_colour((196, 13, 13))
"""As in page.css: a red that differs from all others in lightness too (chosen by eye)."""


def read_strands(strands: Sequence[Strand], asked: Asked, *, size_px: tuple[int, int]) -> Reading:
    """Return the strands of one photo with what follows for a target.

    Raises
    ------
    TargetError
        The target takes too many beads.
    """
    sized = size_strands(strands, asked.target, planned=asked.planned)
    off = {number for each in sized for number in _to_take_off(each)}
    beads = [bead for strand in strands for bead in strand.beads]
    others = strands[0].others
    said = strands[0].corrections
    marks = [_mark(bead, off=bead.number in off, said=said) for bead in beads]
    marks += [other_mark(other, k) for k, other in enumerate(others, 1)]
    points = np.vstack([_outline(bead) for bead in beads])
    photo = strands[0].conditions.photo
    flagged = strand_flagged(strands)
    return Reading(
        front=strand_front(sized),
        outcomes=_outcomes(sized),
        doubts=[line for strand in strands for line in (*cut_notes(strand.cut_by), *count_notes(strand))],
        photos=[
            MarkedPhoto(name=photo, index=0, size_px=size_px, window=window_of(points, size_px), marks=marks)
        ],
        cards=[
            *(_card(bead, photo) for bead in beads),
            *(other_card(o, k, photo) for k, o in enumerate(others, 1)),
        ],
        legend=_legend(beads, off=len(off), others=bool(others)),
        compared=[_compared_row(line) for each in sized for line in each.compared],
        flagged=[(opening(who), opening(DESCRIPTIONS[word])) for word, who in flagged.items()],
    )


def _outcomes(sized: Sequence[SizedStrand]) -> list[str]:
    several = len(sized) > 1
    return [
        f"Strand {each.strand.number}: {line}" if several else line
        for each in sized
        if each.advice
        for line in strand_outcomes(each.advice)
    ]


def _compared_row(line: Compared) -> ComparedRow:
    return ComparedRow(
        name=opening(line.name),
        planned=planned_said(line),
        found=found_said(line),
        verdict=verdict_said(line),
        as_planned=line.as_planned,
    )


def _to_take_off(sized: SizedStrand) -> list[int]:
    """Return the beads to take off by the advice; of a uniform strand those at its last end."""
    if sized.advice is None or sized.advice.cut_by or sized.advice.change_beads >= 0:
        return []
    named = list(sized.advice.best.remove)
    usual = [bead.number for bead in sized.strand.beads if bead.number not in sized.advice.pattern.odd]
    return named or usual[sized.advice.change_beads :]


def _mark(bead: StrandBead, *, off: bool, said: Sequence[Correction]) -> Mark:
    by_hand = any(each.is_about(bead.was) for each in said)
    states = {"doubtful": bool(bead.flags), "off": off, "corrected": by_hand}
    take_off = ", to take off" if off else ""
    return Mark(
        key=str(bead.number),
        number=str(bead.number),
        title=f"{opening(bead.kind)} {bead.number}: {_size(bead)}{take_off}",
        points=outline_points(_outline(bead)),
        x=round(bead.centre_px[0], 1),
        y=round(bead.centre_px[1], 1),
        radius=round(inner_radius(bead.outline_px, bead.centre_px), 1),
        colour=DOUBTFUL if bead.flags else MEASURED,
        states=" ".join(word for word, so in states.items() if so),
    )


def _size(bead: StrandBead) -> str:
    return f"{format_mm(bead.across_mm)} across, {format_mm(bead.along_mm)} along the string"


def _card(bead: StrandBead, photo: str) -> Card:
    rows = [
        ("Across the string", format_length(bead.across_mm, bead.across_u95_mm)),
        ("Along the string", format_length(bead.along_mm, bead.along_u95_mm)),
    ]
    if bead.gap_after_mm:
        rows.append(("Gap after it", format_length(bead.gap_after_mm)))
    return Card(
        key=str(bead.number),
        title=f"{opening(bead.kind)} {bead.number}",
        rows=rows,
        doubts=[f"{opening(DESCRIPTIONS[word])}." for word in bead.flags],
        photo=photo,
        numbers=(bead.number,) if bead.was is None else bead.was,
        px=bead.centre_px,
    )


def _legend(beads: Sequence[StrandBead], *, off: int, others: bool) -> list[tuple[str, str]]:
    doubtful = sum(bool(bead.flags) for bead in beads)
    entries = [("measured", MEASURED)]
    entries += [(f"to check: {doubtful}", DOUBTFUL)] if doubtful else []
    entries += [("not counted", OTHER)] if others else []
    return [*entries, (f"to take off: {off}", TAKE_OFF)] if off else entries


def _outline(bead: StrandBead) -> FloatArray:
    """Return a bead's outline; for a bead without one, its centre alone."""
    return bead.outline_px if len(bead.outline_px) else np.array([bead.centre_px])
