"""The size of a bead that was not measured, from beads that are like it."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from vision.common.numerics import COVERAGE_FACTOR, without_scale

_SCATTER = 0.02
"""Beads of one kind scatter at least so much, relative (common practice, no source: 1 to 3 %)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A size with its expanded uncertainty; both NaN where it is not known."""

    mm: float
    u95_mm: float

    @property
    def known(self) -> bool:
        """Whether there is a size at all."""
        return math.isfinite(self.mm)


def like(sizes: Iterable[Size]) -> Size:
    """Return the size of one more bead of a kind of which these were measured.

    It may lie anywhere where the others do: the variance of one further value about the mean of n is
    s^2 (1 + 1 / n). The mean is known no better than one of them, as the beads of one photo err alike.

    Examples
    --------
    >>> eight = like([Size(mm=8.0, u95_mm=0.1)] * 4)
    >>> round(eight.mm, 2), round(eight.u95_mm, 2)  # 2 hypot(0.02 * 8 * sqrt(1 + 1/4), 0.1 / 2)
    (8.0, 0.37)
    """
    known = [size for size in sizes if size.known]
    if not known:
        return Size(mm=math.nan, u95_mm=math.nan)
    mean = float(np.mean([size.mm for size in known]))
    further = COVERAGE_FACTOR * scatter(known) * math.sqrt(1 + 1 / len(known))
    return Size(mm=mean, u95_mm=math.hypot(further, float(np.mean([size.u95_mm for size in known]))))


def scatter(sizes: Iterable[Size]) -> float:
    """Return the standard deviation of the sizes of beads, which is no less than that of one kind."""
    mm = np.array([size.mm for size in sizes if size.known])
    if not len(mm):
        return 0.0
    return max(float(mm.std(ddof=1)) if len(mm) > 1 else 0.0, _SCATTER * float(mm.mean()))


def half(size: Size, alike: Iterable[Size]) -> Size:
    """Return the size of each of two beads that were measured as one.

    Their sum is measured. Half of their difference, which is that of two beads of one kind, is the error of
    each.
    """
    own = scatter(alike) or _SCATTER * size.mm / 2
    u95_mm = math.hypot(size.u95_mm / 2, COVERAGE_FACTOR * own / math.sqrt(2))
    return Size(mm=size.mm / 2, u95_mm=u95_mm)


def together(sizes: Iterable[Size], *, scale_rel_u: float) -> Size:
    """Return the sum of sizes: the scale's error is common to all, the rest is each one's own.

    Examples
    --------
    >>> together([Size(mm=4.0, u95_mm=0.3), Size(mm=4.0, u95_mm=0.4)], scale_rel_u=0.0)
    Size(mm=8.0, u95_mm=0.5)
    """
    listed = list(sizes)
    total = sum(size.mm for size in listed)
    own = math.hypot(*(own_u95_mm(size, scale_rel_u) for size in listed))
    return Size(mm=total, u95_mm=math.hypot(own, COVERAGE_FACTOR * scale_rel_u * total))


def own_u95_mm(size: Size, scale_rel_u: float) -> float:
    """Return the part of an expanded uncertainty that is not the scale's."""
    return float(without_scale(size.u95_mm, size.mm, scale_rel_u=COVERAGE_FACTOR * scale_rel_u))


def rescaled(size: Size, mm: float, *, scale_rel_u: float) -> Size:
    """Return a length that became another one: the scale's part of its uncertainty goes with it."""
    u95_mm = math.hypot(own_u95_mm(size, scale_rel_u), COVERAGE_FACTOR * scale_rel_u * mm)
    return Size(mm=mm, u95_mm=u95_mm)
