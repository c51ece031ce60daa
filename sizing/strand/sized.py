"""The strands of one photo, each with what its target says about it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sizing.base.target import Target
from sizing.lot.sizes import COVERAGE
from sizing.strand.advice import Advice, advise
from sizing.strand.loop_fit import LoopFit, compare_loop
from sizing.strand.planned import Compared, Planned, compare_with_plan
from vision.common.records import Strand


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedStrand:
    """A measured strand, and what follows for its target.

    Attributes
    ----------
    strand : Strand
    advice : Advice or None
        What to add or remove; None without a target, or where the strand is closed.
    fit : LoopFit or None
        How a closed strand compares with the target; None without one, or where the strand is open.
    compared : tuple of Compared
        How a closed strand compares with its plan; empty without one.
    """

    strand: Strand
    advice: Advice | None = None
    fit: LoopFit | None = None
    compared: tuple[Compared, ...] = ()


def size_strands(
    strands: Sequence[Strand], target: Target | None = None, *, planned: Planned | None = None
) -> tuple[SizedStrand, ...]:
    """Compare each strand of a photo with the same target, and closed ones with the plan, if there are any.

    Raises
    ------
    TargetError
        The target takes over 2000 beads.
    """
    return tuple(_sized(strand, target, planned) for strand in strands)


def _sized(strand: Strand, target: Target | None, planned: Planned | None) -> SizedStrand:
    if target is None:
        return SizedStrand(strand=strand)
    if strand.loop is not None:
        fit = compare_loop(strand, strand.loop, target)
        compared = compare_with_plan(strand, strand.loop, planned) if planned else ()
        return SizedStrand(strand=strand, fit=fit, compared=compared)
    return SizedStrand(strand=strand, advice=advise(strand, target))


def total_length(strands: Sequence[Strand]) -> tuple[float, float]:
    """Return the strung length of all strands together, and its expanded uncertainty.

    All share the scale of their photo, so its part adds up; the rest is independent and adds as squares
    (JCGM 100:2008, 5.2.2).

    Examples
    --------
    >>> from tests.helpers.strands import make_strand
    >>> mm, u95_mm = total_length([make_strand([8.0] * 20), make_strand([6.0] * 20)])
    >>> mm, round(u95_mm, 2)
    (280.0, 0.69)
    """
    total_mm = sum(strand.length_mm for strand in strands)
    shared = [COVERAGE * strand.conditions.scale_rel_u * strand.length_mm for strand in strands]
    own = [
        max(strand.length_u95_mm**2 - scale**2, 0.0) for strand, scale in zip(strands, shared, strict=True)
    ]
    return total_mm, math.hypot(sum(shared), math.sqrt(sum(own)))
