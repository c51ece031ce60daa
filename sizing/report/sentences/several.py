"""Several strands of one photo, taken together, and what lies beside them."""

import math
from collections.abc import Sequence

from sizing.base.units import format_length
from sizing.report.sentences.closed_piece import assumption_notes
from sizing.report.sentences.count import least_mm
from sizing.report.sentences.loop import fit_notes
from sizing.report.sentences.phrases import counted, number_runs
from sizing.report.sentences.strand import strand_notes
from sizing.strand.nested import is_known
from sizing.strand.sized import Nest, SizedStrand, nest_of
from sizing.strand.totals import added_up, total_length
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
        return f"at least {format_length(sum(map(least_mm, strands)))}"
    if math.isclose(least, most):
        return format_length(*total_length(strands))
    own = [(strand.length_mm, strand.measuring_u95_mm[0]) for strand in strands]
    _, u95_mm = added_up(own, scale_rel_u=strands[0].conditions.scale_rel_u)
    return f"{format_length(least, u95_mm)} to {format_length(most, u95_mm)}"


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
    placed = nest_said([sized]) if of == 1 else []
    if sized.fit:
        return [*fit_notes(sized.fit), *placed]
    told = assumptions_said([sized]) if of > 1 else []
    notes = strand_notes(sized.advice) if sized.advice else []
    return [*(note for note in notes if note not in told), *placed]


def nest_said(sized: Sequence[SizedStrand]) -> list[str]:
    """Say how strands lie one around the other, and what that takes; nothing where no step was asked for."""
    nest = nest_of(sized)
    return nest_notes(nest) if nest else []


def nest_notes(nest: Nest) -> list[str]:
    """Say which strand lies inside which, what to look out for, and what they come to; a sentence each."""
    strands = [each.strand for each in (*nest.inside_out, *nest.others)]
    loops = [strand for strand in strands if strand.loop]
    unknown = [strand for strand in strands if not strand.loop and not is_known(strand)]
    aside = [f"{_strands(loops)} closed: a step is for open strands."] if loops else []
    if len(strands) - len(loops) == 1:
        return [*aside, "Only one strand lies open on the photo: it is measured by itself, without a step."]
    if unknown:
        lost = f"{_strands(unknown)} not seen whole, so which strand lies inside which cannot be told."
        return [*aside, f"{lost} Photograph all of them whole."]
    placed = [_order(nest), *_in_doubt(nest), *_rides_up(nest), *_in_all(nest)] if nest.inside_out else []
    return [*aside, *placed]


def place_said(sized: SizedStrand) -> str:
    """Say how long a strand should be that lies among others; empty where it does not.

    As `204.0 mm (8 1/16 in), 44.0 mm (1 3/4 in) longer than strand 1 inside it`.
    """
    nested, advice = sized.nested, sized.advice
    if nested is None or advice is None:
        return ""
    wanted = format_length(advice.wanted_mm, advice.wanted_u95_mm or None)
    if not nested.target.around:
        return f"{wanted}, the innermost"
    return f"{wanted}, {format_length(nested.step_mm)} longer than strand {nested.target.around} inside it"


def _strands(strands: Sequence[Strand]) -> str:
    """Name strands with their verb: `Strand 2 is`, `Strands 1, 2 are`."""
    numbers = number_runs([strand.number for strand in strands])
    return f"Strand {numbers} is" if len(strands) == 1 else f"Strands {numbers} are"


def _order(nest: Nest) -> str:
    first, *then = (each.strand.number for each in nest.inside_out)
    numbers = ", then ".join(map(str, [first, *then]))
    each = f"{format_length(nest.step_mm)} longer than" if nest.step_mm else "touching"
    return f"One lies around the other, the shortest inside: strand {numbers}, each {each} the one inside it."


def _in_doubt(nest: Nest) -> list[str]:
    unsure = [e.strand.number for e in nest.inside_out if e.nested and not e.nested.order_sure]
    if not unsure:
        return []
    numbers = number_runs(sorted(unsure))
    return [f"Count the beads of strands {numbers} by eye: with another number they may change places."]


def _rides_up(nest: Nest) -> list[str]:
    return [
        f"The step of {format_length(nested.step_mm)} is less than the {format_length(nested.needed_mm)} "
        f"that the beads of strands {nested.target.around} and {each.strand.number} need to lie beside each "
        "other: they will ride up on each other."
        for each in nest.inside_out
        if (nested := each.nested) and nested.rides_up
    ]


def _in_all(nest: Nest) -> list[str]:
    """Say what all strands come to, and how the findings are counted."""
    strung = format_length(nest.strung_mm, nest.strung_u95_mm)
    findings_mm = next(each.advice.target.findings_mm for each in nest.inside_out if each.advice)
    along = f", and with the other findings takes {format_length(findings_mm)} of each" if findings_mm else ""
    ends = 2 * len(nest.inside_out)
    return [
        f"Changed so, they have {counted(nest.beads, 'bead')}, strung {strung} in all.",
        f"One clasp closes all of them{along}.",
        f"Crimps and their covers belong to each strand, one at each of its ends: there are {ends} ends.",
    ]


def others_said(others: Sequence[Other], *, things: bool = False) -> str:
    """Say what lies there besides and counts as nothing: `Not counted: 2 stray beads, 1 stopper.`.

    `things`: whether what is none of these is said too.
    """
    names: dict[OtherKind, str] = {"stray": "stray bead", "stopper": "stopper", "finding": "finding"}
    names |= {"other": "other thing"} if things else {}
    counts = {name: sum(other.kind == kind for other in others) for kind, name in names.items()}
    said = [counted(count, name) for name, count in counts.items() if count]
    return f"Not counted: {', '.join(said)}." if said else ""


def refused_said(strands: Sequence[Strand]) -> list[str]:
    """Say which further strands on their photo are not measured, and why; nothing where all are."""
    return [f"A further strand cannot be measured: {reason}." for reason in strands[0].refused]


def strand_name(strand: Strand, strands: int) -> str:
    """Name one of several strands by the beads on it: `Strand 2 of 3, beads 21 to 33`."""
    first, last = strand.beads[0].number, strand.beads[-1].number
    beads = f"bead {first}" if first == last else f"beads {first} to {last}"
    return f"Strand {strand.number} of {strands}, {beads}"
