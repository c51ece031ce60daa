"""Several strands of one photo, taken together, and what lies beside them."""

import math
from collections.abc import Sequence

from sizing.base.units import format_length
from sizing.report.sentences.closed_piece import assumption_notes
from sizing.report.sentences.loop import fit_notes
from sizing.report.sentences.phrases import counted
from sizing.report.sentences.strand import strand_notes
from sizing.strand.sized import SizedStrand
from sizing.strand.totals import total_length
from vision.common.records import Other, OtherKind, Strand


def strands_said(strands: Sequence[Strand]) -> str:
    """Say what lies on the photo: `3 strands, 55 beads, strung 381.5 ± 0.9 mm (15 in) in all`."""
    beads, length = beads_in_all(strands), strung_in_all(strands)
    return f"{counted(len(strands), 'strand')}, {beads}, strung {length} in all"


def beads_in_all(strands: Sequence[Strand]) -> str:
    """Return how many beads all strands have together: `55 beads`, `54 to 56 beads`, `at least 54 beads`."""
    least, most = map(sum, zip(*(strand.counts for strand in strands), strict=True))
    if math.isinf(most):
        return f"at least {counted(int(least), 'bead')}"
    return counted(int(most), "bead") if least == most else f"{least:.0f} to {counted(int(most), 'bead')}"


def strung_in_all(strands: Sequence[Strand]) -> str:
    """Return how long all strands are together, or what their counts leave open."""
    least, most = map(sum, zip(*(strand.lengths_mm for strand in strands), strict=True))
    if math.isinf(most):
        return f"at least {format_length(least)}"
    if math.isclose(least, most):
        return format_length(*total_length(strands))
    return f"{format_length(least)} to {format_length(most)}"


def changes_said(sized: Sequence[SizedStrand]) -> str:
    """Say what to add to and remove from all strands together; empty where one of them has no advice."""
    advice = [each.advice for each in sized if each.advice and not each.advice.cut_by]
    added, removed = (sum(max(sign * each.change_beads, 0) for each in advice) for sign in (1, -1))
    if len(advice) < len(sized) or not added + removed:
        return ""
    ways = {"add": added, "remove": removed}
    said = " and ".join(f"{way} {counted(count, 'bead')}" for way, count in ways.items() if count)
    return f"In all: {said}."


def assumptions_said(sized: Sequence[SizedStrand]) -> list[str]:
    """Say once for all strands which usual values stand in for what was not given, a sentence each."""
    targets = [each.advice.target for each in sized if each.advice]
    notes = [note for target in targets for note in assumption_notes(target)]
    return list(dict.fromkeys(notes))


def notes_of(sized: SizedStrand, *, of: int) -> list[str]:
    """Return what to know about one of several strands; what is true of all is told once for all."""
    if sized.fit:
        return fit_notes(sized.fit)
    told = assumptions_said([sized]) if of > 1 else []
    return [note for note in strand_notes(sized.advice) if note not in told] if sized.advice else []


def others_said(others: Sequence[Other]) -> str:
    """Say what lies there besides and counts as nothing: `Not counted: 2 stray beads, 1 stopper.`."""
    names: dict[OtherKind, str] = {"stray": "stray bead", "stopper": "stopper", "finding": "finding"}
    counts = {name: sum(other.kind == kind for other in others) for kind, name in names.items()}
    said = [counted(count, name) for name, count in counts.items() if count]
    return f"Not counted: {', '.join(said)}." if said else ""


def strand_name(strand: Strand, strands: int) -> str:
    """Name one of several strands by the beads on it: `Strand 2 of 3, beads 21 to 33`."""
    first, last = strand.beads[0].number, strand.beads[-1].number
    beads = f"bead {first}" if first == last else f"beads {first} to {last}"
    return f"Strand {strand.number} of {strands}, {beads}"
