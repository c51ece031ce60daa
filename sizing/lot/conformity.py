"""Does a lot conform to its label: each bead, and the lot.

A bead is proven to conform only inside the limits narrowed by the guard band, proven not to only
outside the limits widened by it; between, the measurement does not tell (ISO 14253-1:2017). The
guard band is 1.645 standard uncertainties: one limit at 95 %.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import betaincinv

from sizing.lot.label import Label, StatedSize
from sizing.lot.sizes import Dimension, Mean, Sizes, mean_of, sizes_of
from vision.common.records import FloatArray, LooseBead, Lot

Decision = Literal["conforming", "not conforming", "undecided"]
CONFORMING: Decision = "conforming"
NOT_CONFORMING: Decision = "not conforming"
UNDECIDED: Decision = "undecided"

GUARD_FACTOR = 1.645
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One size of the label beside the size of the beads that it was read as.

    Attributes
    ----------
    dimension : str
        `width` or `length`: smallest or largest caliper size.
    stated : StatedSize
    sizes : Sizes
    mean : Mean
        Of the sizes.
    """

    dimension: Dimension
    stated: StatedSize
    sizes: Sizes
    mean: Mean

    @property
    def relative_difference(self) -> float:
        """The beads' mean over the label's size, less one: -0.06 where they are 6 % smaller."""
        return self.mean.mm / self.stated.nominal_mm - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Conformity:
    """What a lot's beads say about its label.

    Attributes
    ----------
    decision : str
        Of the lot: `conforming` where every bead is, `not conforming` where any is not, else
        `undecided`.
    reading : str
        How the label's sizes were read on the beads, as a phrase.
    axes : tuple of Axis
    beads : tuple of LooseBead, length N
        The measured beads.
    decisions : tuple of str, length N
    share_outside : tuple of float
        The share not conforming in the stock these beads are a random handful of, from .. to: exact
        binomial limits (Clopper-Pearson, 95 %), the undecided beads counted as conforming for the
        lower and as not conforming for the upper one.
    """

    decision: Decision
    reading: str
    axes: tuple[Axis, ...]
    beads: tuple[LooseBead, ...]
    decisions: tuple[Decision, ...]
    share_outside: tuple[float, float]

    def count(self, decision: Decision) -> int:
        """Return how many beads were decided so."""
        return self.decisions.count(decision)


def decide(size_mm: float, u_mm: float, stated: StatedSize) -> Decision:
    """Decide on one size with standard uncertainty `u_mm` by ISO 14253-1."""
    guard_mm = GUARD_FACTOR * u_mm
    if stated.low_mm + guard_mm <= size_mm <= stated.high_mm - guard_mm:
        return CONFORMING
    if size_mm < stated.low_mm - guard_mm or size_mm > stated.high_mm + guard_mm:
        return NOT_CONFORMING
    return UNDECIDED


def decide_together(decisions: Sequence[Decision]) -> Decision:
    """Decide on a whole: it conforms where every part does, and does not where any part does not."""
    if NOT_CONFORMING in decisions:
        return NOT_CONFORMING
    return CONFORMING if decisions and all(each == CONFORMING for each in decisions) else UNDECIDED


def share_interval(events: int, n: int) -> tuple[float, float]:
    """Return the exact 95 % binomial interval of a share; all of it for n = 0.

    Its ends are quantiles of beta distributions (Clopper & Pearson 1934).
    """
    tail = (1 - CONFIDENCE) / 2
    low = betaincinv(events, n - events + 1, tail) if events > 0 else 0.0
    high = betaincinv(events + 1, n - events, 1 - tail) if events < n else 1.0
    return (float(low), float(high))


def check_label(lot: Lot, label: Label) -> Conformity:
    """Decide whether a lot's beads conform to a label; a lot without measured beads is undecided."""
    axes, reading = _read(lot, label)
    decisions = tuple(decide_together(bead) for bead in zip(*map(_decisions, axes), strict=True))
    outside, n = decisions.count(NOT_CONFORMING), len(decisions)
    share = (
        share_interval(outside, n)[0],
        share_interval(outside + decisions.count(UNDECIDED), n)[1],
    )
    return Conformity(
        decision=decide_together(decisions),
        reading=reading,
        axes=axes,
        beads=axes[0].sizes.beads,
        decisions=decisions,
        share_outside=share,
    )


def _decisions(axis: Axis) -> list[Decision]:
    """Decide on every bead along one axis."""
    return [decide(mm, u, axis.stated) for mm, u in zip(axis.sizes.mm, axis.sizes.u_mm, strict=True)]


def _read(lot: Lot, label: Label) -> tuple[tuple[Axis, ...], str]:
    """Choose which caliper size each size on the label stands for."""
    if len(label.stated) == 1:
        return (_axis(lot, "width", label.stated[0]),), "the width, the smallest caliper size"
    larger, smaller = label.stated
    lying = (_axis(lot, "width", smaller), _axis(lot, "length", larger))
    # A rondelle lies on its flat side, its hole upright: both sizes seen are its diameter.
    upright = (_axis(lot, "width", larger), _axis(lot, "length", larger))
    if _misfit(upright) < _misfit(lying):
        hidden = f"the {smaller.nominal_mm:g} mm is the height, which a photo from above hides"
        return upright, f"{larger.nominal_mm:g} mm across; {hidden}"
    return (
        lying,
        f"{larger.nominal_mm:g} mm long and {smaller.nominal_mm:g} mm wide, in any order",
    )


def _axis(lot: Lot, dimension: Dimension, stated: StatedSize) -> Axis:
    """Measure a lot along one dimension."""
    sizes = sizes_of(lot, dimension)
    return Axis(dimension=dimension, stated=stated, sizes=sizes, mean=mean_of(sizes))


def _misfit(axes: Sequence[Axis]) -> float:
    """Return how far typical beads are from the label in this reading, as a sum of squares in mm."""
    medians: FloatArray = np.array([np.median(axis.sizes.mm) if len(axis.sizes) else 0.0 for axis in axes])
    return float(np.sum((medians - [axis.stated.nominal_mm for axis in axes]) ** 2))
