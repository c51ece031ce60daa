"""Roundness of a bead, by the published classes of the pearl trade.

Diameters that differ by under 2 % make a round, by 2 to 5 % a semi-round (official Tahitian pearl
classification, as reported). The source does not say per cent of what. Here it is of the mean of the two
diameters; another choice would change the difference by a twentieth of itself at most.
"""

import math
from dataclasses import dataclass

from sizing.lot.sizes import is_measured
from vision.common.numerics import COVERAGE_FACTOR
from vision.common.records import LooseBead

ROUND_LIMIT, SEMI_ROUND_LIMIT = 0.02, 0.05  # official Tahitian pearl classification, as reported
_CLASSES = ("round", "semi-round", "not round")


@dataclass(frozen=True, slots=True, kw_only=True)
class Roundness:
    """The difference between a bead's two caliper sizes.

    Attributes
    ----------
    difference, difference_u95 : float
        (largest - smallest) / mean, as a fraction, and its expanded uncertainty; NaN for a bead without
        a size.
    name : str
        `round`, `semi-round` or `not round`; two of them joined by `or` if the uncertainty allows both;
        `undecided` if it allows all three; `not measured`.
    """

    difference: float
    difference_u95: float
    name: str


def roundness(bead: LooseBead, *, scale_rel_u: float = 0.0) -> Roundness:
    """Classify one bead as round, semi-round or not round, as far as its uncertainty allows.

    Parameters
    ----------
    scale_rel_u : float, keyword-only
        Relative standard uncertainty of scale; it cancels in the ratio of two sizes of one bead.

    Examples
    --------
    >>> from tests.helpers.lots import bead
    >>> [roundness(bead(1, 8.0, longest, u95_mm=0.02)).name for longest in (8.0, 8.3, 8.8)]
    ['round', 'semi-round', 'not round']
    """
    if not is_measured(bead):
        return Roundness(difference=math.nan, difference_u95=math.nan, name="not measured")
    mean_mm = (bead.max_feret_mm + bead.min_feret_mm) / 2
    variance = (bead.max_feret_u95_mm / COVERAGE_FACTOR) ** 2 + (bead.min_feret_u95_mm / COVERAGE_FACTOR) ** 2
    shared = (bead.max_feret_mm**2 + bead.min_feret_mm**2) * scale_rel_u**2
    u95 = COVERAGE_FACTOR * math.sqrt(max(variance - shared, 0.0)) / mean_mm
    difference = (bead.max_feret_mm - bead.min_feret_mm) / mean_mm
    return Roundness(difference=difference, difference_u95=u95, name=_name(difference, u95))


def _name(difference: float, u95: float) -> str:
    """Name the classes that the interval difference ± u95 reaches into."""
    lowest, highest = (
        sum(value >= limit for limit in (ROUND_LIMIT, SEMI_ROUND_LIMIT))
        for value in (difference - u95, difference + u95)
    )
    if lowest == highest:
        return _CLASSES[lowest]
    return " or ".join(_CLASSES[lowest : highest + 1]) if highest - lowest == 1 else "undecided"
