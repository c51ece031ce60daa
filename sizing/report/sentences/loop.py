"""A finished piece, closed to a loop: what it measures, and how that compares with the target."""

import math
from dataclasses import replace

from sizing.base.target import Target, TargetKind
from sizing.base.units import format_length, format_mm
from sizing.report.sentences.closed_piece import assumption_notes, tight_note
from sizing.report.sentences.count import count_said, length_said
from sizing.report.sentences.phrases import aim, counted, miss
from sizing.strand.loop_fit import LoopFit
from sizing.strand.planned import Compared
from vision.common.records import Loop, Pendant, Strand


def loop_said(strand: Strand, loop: Loop) -> str:
    """Say what a closed loop measures: `Closed loop: 22 beads, strung ..., all round ..., inside ...`."""
    return (
        f"Closed loop: {count_said(strand)}, strung {length_said(strand)}, all round {around_said(loop)}, "
        f"inside {inside_said(loop)}"
    )


def length_marked(strand: Strand) -> str:
    """Return what stands beside a strand on its photo: how long it is, or what a closed one is inside."""
    return f"inside {inside_said(strand.loop)}" if strand.loop else length_said(strand)


def around_said(loop: Loop) -> str:
    """Return the length of the string all round."""
    return format_length(loop.around_mm, loop.around_u95_mm)


def inside_said(loop: Loop) -> str:
    """Return the inside length."""
    return format_length(loop.inner_girth_mm, loop.inner_girth_u95_mm)


def extender_said(loop: Loop) -> str:
    """Return what hangs from the clasp: `35.4 mm of chain, a bead of about 4 mm at its end`; or nothing."""
    if loop.pendant is None or loop.extender_mm is None:
        return ""
    return f"{format_mm(loop.extender_mm)} of chain, {pendant_said(loop.pendant)}"


def pendant_said(pendant: Pendant) -> str:
    """Return what ends an extender; its size was read from above, to a millimetre."""
    sizes = [f"{mm:.0f}" for mm in (pendant.along_mm, pendant.across_mm)]
    return f"a bead of about {' by '.join(dict.fromkeys(sizes))} mm at its end"


def fit_headline(fit: LoopFit) -> str:
    """Say how a finished piece compares with its target, and how many beads that is."""
    if not fit.change_beads:
        nearest = "comes as near as it can to" if fit.too_tight else "is right for"
        return f"The finished piece {nearest} {aim(fit.target)}: no other number of beads comes nearer."
    way = "short" if fit.change_beads > 0 else "long"
    beads = counted(abs(fit.change_beads), "bead")
    off = format_length(abs(fit.miss_mm))
    return f"The finished piece is {off} too {way} for {aim(fit.target)}: that is about {beads}."


def fit_notes(fit: LoopFit) -> list[str]:
    """Return what the maker should know about that, a sentence each."""
    reached = format_length(fit.reached_mm, fit.u95_mm)
    more = "more" if fit.change_beads > 0 else "fewer"
    restring = f"Restring it with {counted(abs(fit.change_beads), 'bead')} {more} to come nearest."
    remedy = "restring it" if fit.change_beads else "restring it with 1 bead more"
    return [
        f"It measures {reached} {_where(fit.target)}, {miss(fit.miss_mm)}.",
        *([restring] if fit.change_beads else []),
        *_uncertainty(fit),
        *([tight_note(fit.target, 0.0, remedy=remedy)] if fit.too_tight else []),
        *assumption_notes(replace(fit.target, findings_assumed=False)),  # they were measured with it
    ]


COMPARED = "Compared with the plan"


def planned_said(line: Compared) -> str:
    """Return what was planned: `22`, or `184.0 mm (7 1/4 in)`."""
    return f"{line.planned:.0f}" if line.counts else format_length(line.planned)


def found_said(line: Compared) -> str:
    """Return what was found: `22`, `21 to 22`, or `186.2 ± 0.9 mm (7 5/16 in)`."""
    if not line.counts:
        return format_length(line.found, line.most - line.found)
    if math.isinf(line.most):
        return f"at least {line.least:.0f}"
    return f"{line.found:.0f}" if line.least == line.most else f"{line.least:.0f} to {line.most:.0f}"


def verdict_said(line: Compared) -> str:
    """Say how that compares: `as planned`, `as far as the photo can tell`, `1 too few`, `2.2 mm too long`."""
    if line.as_planned:
        return "as planned" if line.planned == line.found else "as planned, as far as the photo can tell"
    more = line.least > line.planned
    if line.counts:
        least = "" if line.least == line.most else "at least "
        off = line.least - line.planned if more else line.planned - line.most
        return f"{least}{off:.0f} too {'many' if more else 'few'}"
    return f"{format_mm(abs(line.found - line.planned))} {'longer' if more else 'shorter'} than planned"


def _where(target: Target) -> str:
    if target.kind is TargetKind.GIRTH:
        return "inside"
    return "all round" if target.kind is TargetKind.FINISHED else "from the first bead to the last"


def _uncertainty(fit: LoopFit) -> list[str]:
    if not fit.count_sure:
        return ["Count the beads by eye: the photo leaves open where the beads end and the clasp begins."]
    if not fit.scale_checked:
        return ["That is not certain until the scale is checked."]
    if fit.certain:
        return []
    margin = format_mm(max(fit.margin_mm, 0.0))
    may_be_off = f"A close call: the measured length may be off by {format_mm(fit.u95_mm)}"
    return [f"{may_be_off}, and {margin} is enough to make another number of beads the nearest."]
