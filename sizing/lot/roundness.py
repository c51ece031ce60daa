"""How round a bead is, by the published classes of the pearl trade.

Diameters that differ by under 2 % make a round, by 2 to 5 % a semi-round: the official Tahitian
pearl classification, as reported. The source does not say per cent of what; the mean of the two is
taken here, which matters by a twentieth of the difference at most.
"""

import math
from dataclasses import dataclass

from sizing.lot.sizes import COVERAGE, is_measured
from vision.common.records import LooseBead

ROUND, SEMI_ROUND, NOT_ROUND = "round", "semi-round", "not round"
UNKNOWN = "not measured"
_CLASSES = (ROUND, SEMI_ROUND, NOT_ROUND)
ROUND_LIMIT, SEMI_ROUND_LIMIT = 0.02, 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Roundness:
    """How much a bead's two caliper sizes differ.

    Attributes
    ----------
    difference, difference_u95 : float
        (largest - smallest) / mean, as a fraction, and its expanded uncertainty; NaN where the bead
        has no size.
    name : str
        `round`, `semi-round`, `not round`; two of them joined by `or` where the doubt leaves both
        open; `undecided` where it leaves all three; `not measured`.
    """

    difference: float
    difference_u95: float
    name: str


def roundness(bead: LooseBead, *, scale_rel_u: float = 0.0) -> Roundness:
    """Class one bead as round, semi-round or not round, as far as its doubt allows.

    Parameters
    ----------
    scale_rel_u : float, keyword-only
        Relative standard uncertainty of scale: it cancels in the ratio of two sizes of one bead.
    """
    if not is_measured(bead):
        return Roundness(difference=math.nan, difference_u95=math.nan, name=UNKNOWN)
    mean_mm = (bead.max_feret_mm + bead.min_feret_mm) / 2
    variance = (bead.max_feret_u95_mm / COVERAGE) ** 2 + (bead.min_feret_u95_mm / COVERAGE) ** 2
    shared = (bead.max_feret_mm**2 + bead.min_feret_mm**2) * scale_rel_u**2
    u95 = COVERAGE * math.sqrt(max(variance - shared, 0.0)) / mean_mm
    difference = (bead.max_feret_mm - bead.min_feret_mm) / mean_mm
    return Roundness(difference=difference, difference_u95=u95, name=_name(difference, u95))


def _name(difference: float, u95: float) -> str:
    """Name the classes that the interval difference +- u95 touches."""
    lowest, highest = (
        sum(value >= limit for limit in (ROUND_LIMIT, SEMI_ROUND_LIMIT))
        for value in (difference - u95, difference + u95)
    )
    if lowest == highest:
        return _CLASSES[lowest]
    return " or ".join(_CLASSES[lowest : highest + 1]) if highest - lowest == 1 else "undecided"
