"""Measured strands as text, in millimetres and fractions of an inch."""

import math
from collections.abc import Sequence

from sizing.base.units import format_length, format_mm
from sizing.report.sentences.corrections import CORRECTED_BY_HAND, corrections_said
from sizing.report.sentences.count import COUNT_UNSURE, count_notes, count_said, cut_notes, length_said
from sizing.report.sentences.flagged import strand_flagged
from sizing.report.sentences.loop import (
    COMPARED,
    around_said,
    extender_said,
    fit_headline,
    found_said,
    inside_said,
    planned_said,
    verdict_said,
)
from sizing.report.sentences.phrases import bare_mm, opening
from sizing.report.sentences.several import (
    assumptions_said,
    changes_said,
    nest_said,
    notes_of,
    others_said,
    place_said,
    refused_said,
    strand_name,
    strands_said,
)
from sizing.report.sentences.strand import (
    GAPS_WORTH_A_WORD_MM,
    strand_headline,
    strand_outcomes,
)
from sizing.report.text.layout import aligned, joined, section
from sizing.report.text.photos import condition_lines, flag_lines, scale_lines
from sizing.strand.size_pattern import find_pattern
from sizing.strand.sized import SizedStrand
from sizing.strand.spread import Spread, spread_across, spread_along
from vision.common.records import Strand, StrandBead

# Rounder than this, one number says a bead's size: official classes call under 2 % round (facts of the pearl
# trade, second-hand).
_ROUND_SHARE = 0.02


def strand_text(sized: Sequence[SizedStrand]) -> str:
    """Return what was measured, what to do, which beads to check and how it was measured."""
    strands = [each.strand for each in sized]
    conditions = (strands[0].conditions,)
    several, changes = len(strands) > 1, [said for said in [changes_said(sized)] if said]
    total = [[f"{conditions[0].photo}: {strands_said(strands)}"]] if several else []
    return joined(
        [
            scale_lines(conditions),
            *total,
            *(lines for each in sized for lines in _one(each, of=len(strands))),
            section(
                "For all strands",
                [*changes, *nest_said(sized), *assumptions_said(sized)] if several else [],
            ),
            section(CORRECTED_BY_HAND, corrections_said(strands[0].corrections)),
            section("Not measured", refused_said(strands)),
            [others_said(strands[0].others)] if others_said(strands[0].others) else [],
            flag_lines(strand_flagged(strands)),
            condition_lines(conditions, {}),
        ]
    )


def _one(sized: SizedStrand, *, of: int) -> list[list[str]]:
    """Return the sections about one strand: what it is, its lengths and sizes, what to do."""
    strand = sized.strand
    closed = "closed loop, " if strand.loop else ""
    what = f"{closed}{count_said(strand)}, {_size(strand)}"
    lengths = _lengths(sized)
    doubts = section(COUNT_UNSURE, [*cut_notes(strand.cut_by), *count_notes(strand)])
    rest = [doubts, _target_lines(sized, of=of), _compared_lines(sized)]
    if of == 1:
        return [[f"{strand.conditions.photo}: {what}"], lengths, *rest]
    return [[f"{strand_name(strand, of)}: {what}", *lengths], *rest]


def _compared_lines(sized: SizedStrand) -> list[str]:
    """Compare a finished piece with its plan, line by line."""
    rows = [
        (opening(line.name), f"{planned_said(line)} planned", f"{found_said(line)} found", verdict_said(line))
        for line in sized.compared
    ]
    return [COMPARED, *aligned(rows)] if rows else []


def _target_lines(sized: SizedStrand, *, of: int) -> list[str]:
    """Say what to add or remove, or how a finished piece compares with its target."""
    advice, fit, notes = sized.advice, sized.fit, notes_of(sized, of=of)
    if fit:
        return section(fit_headline(fit), notes)
    return section(strand_headline(advice), [*strand_outcomes(advice), *notes]) if advice else []


def _size(strand: Strand) -> str:
    """Return the beads' size in a few words: `6.3 mm`, or `6.5 mm across, 5.9 mm along the string`."""
    across, along = spread_across(strand), spread_along(strand)
    even = find_pattern(strand.of_kind("bead"), scale_rel_u=strand.conditions.scale_rel_u).uniform
    round_on_the_whole = abs(across.mean_mm - along.mean_mm) <= _ROUND_SHARE * across.mean_mm
    if not across.count or (round_on_the_whole and (even or not any(map(_is_long, strand.of_kind("bead"))))):
        return _one_size(along if not across.count else across, even=even)
    return f"{_one_size(across, even=even)} across, {_one_size(along, even=even)} along the string"


def _is_long(bead: StrandBead) -> bool:
    """Return whether a bead is certainly longer or shorter along the string than it is wide."""
    certain_mm = math.hypot(bead.across_u95_mm, bead.along_u95_mm)
    return abs(bead.across_mm - bead.along_mm) > max(certain_mm, _ROUND_SHARE * bead.across_mm)


def _one_size(spread: Spread, *, even: bool) -> str:
    if even or not spread.count:
        return format_mm(spread.mean_mm)
    least, most = bare_mm(spread.least_mm), bare_mm(spread.most_mm)
    return format_mm(spread.most_mm) if least == most else f"{least} to {format_mm(spread.most_mm)}"


def _lengths(sized: SizedStrand) -> list[str]:
    """Return the strand's lengths and its beads' sizes, one a line."""
    strand, advice = sized.strand, sized.advice
    rows = [("Strung length", length_said(strand))]
    gaps_mm = strand.length_mm - strand.closed_up_mm
    if gaps_mm >= GAPS_WORTH_A_WORD_MM:
        closed_up = format_length(strand.closed_up_mm, strand.closed_up_u95_mm)
        rows.append(("Pushed together", f"{closed_up}; the gaps add up to {format_mm(gaps_mm)}"))
    if strand.loop:
        clasp = f"clasp and rings take {format_mm(strand.loop.clasp_mm)} of it"
        rows.append(("All round", f"{around_said(strand.loop)}; {clasp}"))
        rows.append(("Inside", inside_said(strand.loop)))
        if extender := extender_said(strand.loop):
            rows.append(("Extender", extender))
    if placed := place_said(sized):
        rows.append(("Should be strung", placed))
    least_mm, most_mm = strand.lengths_mm
    if advice and math.isclose(least_mm, most_mm):
        finished = format_length(advice.as_is.finished_mm)
        findings = format_mm(advice.target.findings_mm)
        rows.append(("Finished as it is", f"{finished} with {findings} of clasp and findings"))
    rows.append(("Across the string", _spread(spread_across(strand))))
    rows.append(("Along the string", _spread(spread_along(strand))))
    return [f"{name:<18} {text}" for name, text in rows]


def _spread(spread: Spread) -> str:
    if not spread.count:
        return "not measured"
    mean = format_mm(spread.mean_mm, spread.mean_u95_mm)
    if spread.count == 1:
        return mean
    least, most, sd = (bare_mm(mm, decimals=2) for mm in (spread.least_mm, spread.most_mm, spread.sd_mm))
    return f"mean {mean}, from {least} to {most} mm, standard deviation {sd} mm"
