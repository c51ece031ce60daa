"""The strands of one photo, each with what its target says about it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sizing.base.target import Target
from sizing.strand.advice import Advice, advise, strung_u95_mm
from sizing.strand.loop_fit import LoopFit, compare_loop
from sizing.strand.nested import Nested, nest
from sizing.strand.planned import Compared, Planned, compare_with_plan
from sizing.strand.totals import added_up
from vision.common.records import Strand


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedStrand:
    """A measured strand, and what follows for its target.

    Attributes
    ----------
    strand : Strand
    advice : Advice or None
        What to add or remove; None without a target, where the strand is closed, or where it may lie around
        one whose size is not known.
    fit : LoopFit or None
        How a closed strand compares with the target; None without one, or where the strand is open.
    compared : tuple of Compared
        How a closed strand compares with its plan; empty without one.
    nested : Nested or None
        Its place, where the strands lie one around the other.
    step_mm : float or None
        By how much each of the strands was asked to be longer than the one inside it (`Target.step_mm`).
    """

    strand: Strand
    advice: Advice | None = None
    fit: LoopFit | None = None
    compared: tuple[Compared, ...] = ()
    nested: Nested | None = None
    step_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Nest:
    """The strands of one piece that lie one around the other, as they come out.

    Attributes
    ----------
    step_mm : float
        The step that was asked for; 0 for strands that touch.
    inside_out, others : tuple of SizedStrand
        Those that have a place, from the innermost strand on; those that have none.
    beads : int
        Beads on all of them.
    strung_mm, strung_u95_mm : float
        Strung length of all of them.
    """

    step_mm: float
    inside_out: tuple[SizedStrand, ...]
    others: tuple[SizedStrand, ...]
    beads: int
    strung_mm: float
    strung_u95_mm: float


def size_strands(
    strands: Sequence[Strand], target: Target | None = None, *, planned: Planned | None = None
) -> tuple[SizedStrand, ...]:
    """Compare each strand of a photo with the target, and closed ones with the plan, if there are any.

    With a step the target is that of the innermost strand, and each one around it has its own.

    Raises
    ------
    TargetError
        The target takes over 2000 beads.
    """
    if target is None or target.step_mm is None:
        return tuple(_sized(strand, target, planned) for strand in strands)
    several = sum(strand.loop is None for strand in strands) > 1
    places = nest(strands, target) if several else {}
    sized = (
        _in_place(strand, places.get(k))
        if several and strand.loop is None and not strand.cut_by
        else _sized(strand, target, planned)
        for k, strand in enumerate(strands)
    )
    return tuple(replace(each, step_mm=target.step_mm) for each in sized)


def _in_place(strand: Strand, nested: Nested | None) -> SizedStrand:
    if nested is None:
        return SizedStrand(strand=strand)
    advice = advise(strand, nested.target)
    sure = advice.count_sure and nested.order_sure
    return SizedStrand(strand=strand, advice=replace(advice, count_sure=sure), nested=nested)


def _sized(strand: Strand, target: Target | None, planned: Planned | None) -> SizedStrand:
    if target is None:
        return SizedStrand(strand=strand)
    if strand.loop is not None:
        fit = compare_loop(strand, strand.loop, target)
        compared = compare_with_plan(strand, strand.loop, planned) if planned else ()
        return SizedStrand(strand=strand, fit=fit, compared=compared)
    return SizedStrand(strand=strand, advice=advise(strand, target))


def nest_of(sized: Sequence[SizedStrand]) -> Nest | None:
    """Return the strands that lie one around the other, as they come out; None without a step."""
    step_mm = sized[0].step_mm
    if step_mm is None:
        return None
    inside_out = sorted((each for each in sized if each.nested), key=_place)
    lengths = [
        (each.advice.best.strung_mm, strung_u95_mm(each.strand, each.advice.best))
        for each in inside_out
        if each.advice
    ]
    strung_mm, u95_mm = added_up(lengths, scale_rel_u=sized[0].strand.conditions.scale_rel_u)
    return Nest(
        step_mm=step_mm,
        inside_out=tuple(inside_out),
        others=tuple(each for each in sized if not each.nested),
        beads=sum(each.advice.best.count for each in inside_out if each.advice),
        strung_mm=strung_mm,
        strung_u95_mm=u95_mm,
    )


def _place(sized: SizedStrand) -> int:
    return sized.nested.place if sized.nested else 0
