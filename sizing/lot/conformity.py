"""Decides whether beads, and the whole lot, conform to their label.

By ISO 14253-1:2017 a bead is proven to conform inside the limits narrowed by a guard band, and proven not
to conform outside the limits widened by it. In between it is undecided. The guard band is 1.645 standard
uncertainties, which is 95 % for one limit.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sizing.lot.groups import natural_limits
from sizing.lot.label import Label, StatedSize
from sizing.lot.sizes import Dimension, Mean, Sizes, mean_of, sizes_of
from vision.common import flags
from vision.common.records import FloatArray, LooseBead, Lot

Decision = Literal["conforming", "not conforming", "undecided"]
CONFORMING: Decision = "conforming"
NOT_CONFORMING: Decision = "not conforming"
UNDECIDED: Decision = "undecided"
OUTCOMES: dict[Decision, str] = {
    NOT_CONFORMING: "outside the limits",
    UNDECIDED: "too close to a limit to decide",
    CONFORMING: "within the limits",
}
"""Decisions in a maker's words, the worst first."""

GUARD_FACTOR = 1.645  # one-sided 95 % quantile of the normal distribution, as in ISO 14253-1:2017
_DOUBTED = {flags.CUT_OFF, flags.UNSURE_SPLIT, flags.UNSURE_BEAD}
"""What is perhaps not one whole bead is neither proven to conform nor proven not to."""
CONFIDENCE = 0.95  # of the share outside: the level of all other uncertainties here


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One size on the label and the dimension of the beads that it is compared with.

    Attributes
    ----------
    dimension : str
        `width` or `length`: smallest or largest caliper size.
    stated : StatedSize
    sizes : Sizes
    mean : Mean
        Mean of the sizes.
    groups : tuple of Sizes
        The sizes by the groups that they form; several where beads are mixed, and the mean is that of none.
    """

    dimension: Dimension
    stated: StatedSize
    sizes: Sizes
    mean: Mean
    groups: tuple[Sizes, ...]

    @property
    def relative_difference(self) -> float:
        """Mean of the beads divided by the size on the label, minus 1: -0.06 if they are 6 % smaller."""
        return self.mean.mm / self.stated.nominal_mm - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Conformity:
    """A lot compared with its label.

    Attributes
    ----------
    decision : str
        Decision on the lot: `conforming` if every bead is, `not conforming` if any bead is not, else
        `undecided`.
    reading : str
        Which dimensions of the beads the sizes on the label were compared with, as a phrase.
    axes : tuple of Axis
    beads : tuple of LooseBead, length N
        The measured beads.
    decisions : tuple of str, length N
        Decision on each bead; undecided where it is perhaps not one whole bead.
    share_outside : tuple of float
        Lower and upper limit of the share not conforming in the stock, if the beads are a random sample
        of it: exact binomial limits (Clopper-Pearson, 95 %). Undecided beads count as conforming for
        the lower limit and as not conforming for the upper one.
    """

    decision: Decision
    reading: str
    axes: tuple[Axis, ...]
    beads: tuple[LooseBead, ...]
    decisions: tuple[Decision, ...]
    share_outside: tuple[float, float]

    def count(self, decision: Decision) -> int:
        """Return how many beads have a decision."""
        return self.decisions.count(decision)


def decide(size_mm: float, stated: StatedSize, *, u_mm: float) -> Decision:
    """Decide on one size with standard uncertainty `u_mm` by ISO 14253-1:2017.

    Examples
    --------
    >>> eight = StatedSize(nominal_mm=8.0, low_mm=7.5, high_mm=8.5)
    >>> [decide(size_mm, eight, u_mm=0.1) for size_mm in (8.3, 8.5, 8.7)]
    ['conforming', 'undecided', 'not conforming']
    """
    guard_mm = GUARD_FACTOR * u_mm
    if stated.low_mm + guard_mm <= size_mm <= stated.high_mm - guard_mm:
        return CONFORMING
    if size_mm < stated.low_mm - guard_mm or size_mm > stated.high_mm + guard_mm:
        return NOT_CONFORMING
    return UNDECIDED


def decide_together(decisions: Sequence[Decision]) -> Decision:
    """Decide on a whole: it conforms if every part does, and does not conform if any part does not."""
    if NOT_CONFORMING in decisions:
        return NOT_CONFORMING
    return CONFORMING if decisions and all(each == CONFORMING for each in decisions) else UNDECIDED


def share_interval(events: int, n: int) -> tuple[float, float]:
    """Return the exact 95 % binomial confidence interval of a share; 0 to 1 for n = 0.

    Its ends are quantiles of beta distributions (Clopper & Pearson 1934).
    """
    from scipy.special import betaincinv  # noqa: PLC0415 - takes its time to import

    tail = (1 - CONFIDENCE) / 2
    low = betaincinv(events, n - events + 1, tail) if events > 0 else 0.0
    high = betaincinv(events + 1, n - events, 1 - tail) if events < n else 1.0
    return (float(low), float(high))


def check_label(lot: Lot, label: Label) -> Conformity:
    """Decide whether the beads of a lot conform to a label; a lot without measured beads is undecided.

    Examples
    --------
    >>> from sizing.lot.label import parse_label
    >>> from tests.helpers.lots import lot_of
    >>> conformity = check_label(lot_of([7.9, 8.0, 8.1, 8.7]), parse_label("8mm"))
    >>> conformity.decision, conformity.count("conforming"), conformity.count("not conforming")
    ('not conforming', 3, 1)
    """
    axes, reading = _read(lot, label)
    by_size = (decide_together(bead) for bead in zip(*map(_decisions, axes), strict=True))
    beads = axes[0].sizes.beads
    decisions = tuple(
        UNDECIDED if _DOUBTED & set(bead.flags) else decision
        for bead, decision in zip(beads, by_size, strict=True)
    )
    outside, n = decisions.count(NOT_CONFORMING), len(decisions)
    share = (
        share_interval(outside, n)[0],
        share_interval(outside + decisions.count(UNDECIDED), n)[1],
    )
    return Conformity(
        decision=decide_together(decisions),
        reading=reading,
        axes=axes,
        beads=beads,
        decisions=decisions,
        share_outside=share,
    )


def _decisions(axis: Axis) -> list[Decision]:
    """Decide on every bead along one axis."""
    sizes = zip(axis.sizes.mm, axis.sizes.u_mm, strict=True)
    return [decide(mm, axis.stated, u_mm=u_mm) for mm, u_mm in sizes]


def _read(lot: Lot, label: Label) -> tuple[tuple[Axis, ...], str]:
    """Choose the dimension of the beads for each size on the label; return a phrase about it too."""
    if len(label.stated) == 1:
        return (_axis(lot, "width", label.stated[0]),), "the width, the smallest caliper size"
    larger, smaller = label.stated
    lying = (_axis(lot, "width", smaller), _axis(lot, "length", larger))
    # A rondelle lies on its flat side with its hole upright: the photo shows its diameter twice.
    upright = (_axis(lot, "width", larger), _axis(lot, "length", larger))
    if _misfit(upright) < _misfit(lying):
        hidden = f"the {smaller.nominal_mm:g} mm is the height, which a photo from above does not show"
        return upright, f"{larger.nominal_mm:g} mm across; {hidden}"
    return lying, f"{larger.nominal_mm:g} mm long and {smaller.nominal_mm:g} mm wide"


def _axis(lot: Lot, dimension: Dimension, stated: StatedSize) -> Axis:
    """Measure a lot along one dimension."""
    sizes = sizes_of(lot, dimension)
    group_of = np.digitize(sizes.mm, natural_limits(sizes.mm, sizes.own_u_mm))
    groups = tuple(sizes.at(np.flatnonzero(group_of == k).tolist()) for k in np.unique(group_of))
    return Axis(dimension=dimension, stated=stated, sizes=sizes, mean=mean_of(sizes), groups=groups)


def _misfit(axes: Sequence[Axis]) -> float:
    """Return the sum of squared differences between median beads and the label, in mm squared."""
    medians: FloatArray = np.array([np.median(axis.sizes.mm) if len(axis.sizes) else 0.0 for axis in axes])
    return float(np.sum((medians - [axis.stated.nominal_mm for axis in axes]) ** 2))
