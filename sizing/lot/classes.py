"""Size classes, and the beads of a lot sorted into them.

A class holds the sizes from its lower limit up to, but not including, its upper limit. A bead whose
uncertainty reaches beyond its class goes into a heap between the classes that it may belong to.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sizing.lot.groups import natural_limits
from sizing.lot.sizes import Sizes
from vision.common.numerics import COVERAGE_FACTOR
from vision.common.records import FloatArray

USUAL_ROUNDS_MM = (2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0)
"""The usual sizes of round beads (International Gem Society, "Bead and necklace size charts")."""

PEARL_STEP_MM = 0.5  # classes that uniform pearl strands are sold in (CIBJO Pearl Book, as reported)
_LIMIT_MATCH = 1e-9  # relative: above the rounding of a multiple of 0.1 (1e-16), far below any measurement


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeClass:
    """One class of sizes.

    Attributes
    ----------
    name : str
        As a maker calls it: `8 mm`, `7.00-7.25 mm`.
    low_mm, high_mm : float
        Limits, the upper one not included; 0 and infinity for a class that is open below or above.
    """

    name: str
    low_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Heap:
    """Beads for one heap on the table: those of a class, or those between classes.

    Attributes
    ----------
    name : str
        The name of the class, or `between 7 mm and 8 mm`.
    classes : tuple of SizeClass
        One class; for beads between classes the lowest and the highest that they may belong to.
    index : tuple of int
        Positions of its beads among the sizes that were sorted, by rising size.
    """

    name: str
    classes: tuple[SizeClass, ...]
    index: tuple[int, ...]

    @property
    def is_between(self) -> bool:
        """Whether its beads may belong to several classes."""
        return len(self.classes) > 1


def usual_classes() -> tuple[SizeClass, ...]:
    """Return a class around each usual round size, the limits midway; the first and last are open.

    Examples
    --------
    >>> [(each.name, each.low_mm, each.high_mm) for each in usual_classes()[6:9]]
    [('7 mm', 6.5, 7.5), ('8 mm', 7.5, 9.0), ('10 mm', 9.0, 11.0)]
    """
    middles = [(a + b) / 2 for a, b in pairwise(USUAL_ROUNDS_MM)]
    first, last = USUAL_ROUNDS_MM[0], USUAL_ROUNDS_MM[-1]
    limits = [first - (middles[0] - first), *middles, last + (last - middles[-1])]
    named = [
        SizeClass(name=f"{usual:g} mm", low_mm=low, high_mm=high)
        for usual, (low, high) in zip(USUAL_ROUNDS_MM, pairwise(limits), strict=True)
    ]
    return (
        SizeClass(name=f"under {limits[0]:g} mm", low_mm=0.0, high_mm=limits[0]),
        *named,
        SizeClass(name=f"over {limits[-1]:g} mm", low_mm=limits[-1], high_mm=math.inf),
    )


def step_classes(step_mm: float, sizes: Sizes) -> tuple[SizeClass, ...]:
    """Return a class around each multiple of a step within the range of a lot, the limits midway."""
    decimals = _decimals(step_mm)
    return tuple(
        SizeClass(
            name=f"{k * step_mm:.{decimals}f} mm" if k else f"under {step_mm / 2:g} mm",
            low_mm=max(k - 0.5, 0.0) * step_mm,
            high_mm=(k + 0.5) * step_mm,
        )
        for k in _multiples(step_mm, sizes, offset=0.5)
    )


def pearl_classes(sizes: Sizes, step_mm: float = PEARL_STEP_MM) -> tuple[SizeClass, ...]:
    """Return classes that start at each multiple of a step and are named by both ends, as `7.0-7.5 mm`.

    This is how the pearl trade names its half-millimetre classes (CIBJO Pearl Book, as reported).
    """
    decimals = _decimals(step_mm)
    return tuple(
        SizeClass(
            name=f"{k * step_mm:.{decimals}f}-{(k + 1) * step_mm:.{decimals}f} mm",
            low_mm=k * step_mm,
            high_mm=(k + 1) * step_mm,
        )
        for k in _multiples(step_mm, sizes, offset=0.0)
    )


def natural_classes(sizes: Sizes) -> tuple[SizeClass, ...]:
    """Return the natural groups of a lot as classes, each named by the mean of its beads."""
    inner = natural_limits(sizes.mm, sizes.own_u_mm)
    limits = (0.0, *inner, math.inf)
    classes = []
    for low, high in pairwise(limits):
        inside = sizes.mm[(sizes.mm >= low) & (sizes.mm < high)]
        if len(inside):
            classes.append(SizeClass(name=f"{np.mean(inside):.2f} mm", low_mm=low, high_mm=high))
    return tuple(classes)


def sort_into(classes: Sequence[SizeClass], sizes: Sizes, *, relative: bool = False) -> tuple[Heap, ...]:
    """Sort the beads of a lot into heaps, by rising size; empty heaps are left out.

    Beads that lie apart from the others, and in one class as far as their own uncertainty goes, stay
    together: an error of scale may move them into another class, but all of them.

    Parameters
    ----------
    classes : sequence of SizeClass
        By rising size; each starts where the one before ends, and together they cover the lot.
    relative : bool, keyword-only
        True for limits that were derived from the lot itself: an error of scale moves them along with
        the beads, so that only each bead's own uncertainty counts.
    """
    u_mm = sizes.own_u_mm if relative else sizes.u_mm
    reach_mm = COVERAGE_FACTOR * u_mm
    lows = np.array([each.low_mm for each in classes]) * (1 - _LIMIT_MATCH)
    lowest, highest = _span(lows, sizes.mm, reach_mm)
    for alike in _groups_apart(sizes):
        own_lowest, own_highest = _span(lows, sizes.mm[alike], COVERAGE_FACTOR * sizes.own_u_mm[alike])
        if own_lowest.min() == own_highest.max():  # an error of scale moves them all together
            lowest[alike], highest[alike] = lowest[alike].min(), highest[alike].max()
    heaps: dict[tuple[int, int], list[int]] = {}
    for i in np.argsort(sizes.mm, kind="stable"):
        heaps.setdefault((int(lowest[i]), int(highest[i])), []).append(int(i))
    return tuple(_heap(classes[a], classes[b], heaps[a, b]) for a, b in sorted(heaps))


def _span(
    lows: FloatArray, mm: FloatArray, reach_mm: FloatArray
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the lowest and the highest class, of lower limits (C,), that sizes (N,) reach."""
    lowest, highest = (np.searchsorted(lows, mm + reach, side="right") - 1 for reach in (-reach_mm, reach_mm))
    return np.maximum(lowest, 0), np.maximum(highest, 0)


def _groups_apart(sizes: Sizes) -> list[NDArray[np.intp]]:
    """Return the positions of the beads of each group that lies apart from the others, by rising size."""
    order = np.argsort(sizes.mm, kind="stable")
    reach = COVERAGE_FACTOR * sizes.own_u_mm[order]
    apart = np.diff(sizes.mm[order]) > reach[:-1] + reach[1:]
    return [group for group in np.split(order, np.flatnonzero(apart) + 1) if len(group)]


def finest_step_mm(sizes: Sizes) -> float:
    """Return the narrowest class width worth sorting by: four times a typical bead's expanded uncertainty.

    In a class this wide, of evenly spread beads half are farther from its limits than their uncertainty;
    in one half as wide, none is.
    """
    return float(4 * COVERAGE_FACTOR * np.median(sizes.u_mm)) if len(sizes) else 0.0


def nearest_usual_mm(size_mm: float) -> float:
    """Return the usual round size nearest to a size."""
    return min(USUAL_ROUNDS_MM, key=lambda usual: abs(usual - size_mm))


def _heap(low: SizeClass, high: SizeClass, index: Iterable[int]) -> Heap:
    """Name a heap by the classes that its beads may belong to."""
    if low == high:
        return Heap(name=low.name, classes=(low,), index=tuple(index))
    return Heap(name=f"between {low.name} and {high.name}", classes=(low, high), index=tuple(index))


def _multiples(step_mm: float, sizes: Sizes, *, offset: float) -> range:
    """Return the numbers, in steps, of the classes that any bead of a lot may belong to."""
    if not len(sizes):
        return range(0)
    reach_mm = COVERAGE_FACTOR * sizes.u_mm
    ends_mm = (float(np.min(sizes.mm - reach_mm)), float(np.max(sizes.mm + reach_mm)))
    first, last = (max(math.floor(end / step_mm + offset + _LIMIT_MATCH), 0) for end in ends_mm)
    return range(first, last + 1)


def _decimals(step_mm: float) -> int:
    """Return the decimals that print a step in full: 1 for 0.5, 2 for 0.25."""
    return next((d for d in range(4) if abs(round(step_mm, d) - step_mm) < _LIMIT_MATCH), 4)
