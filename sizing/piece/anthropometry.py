"""Girths of adult wrists, ankles and necks, and the share of people whose girth lies in a range.

A girth is the length around. The values are of ANSUR II, the US Army's anthropometric survey of 2010
to 2012 (Natick TR-15/007): adults only, and fitter than most.

Between the five published percentiles a girth is interpolated linearly over the quantile of the normal
distribution; beyond them the last slope continues. At the percentiles themselves shares are exact.
"""

from bisect import bisect_right
from collections.abc import Sequence
from statistics import NormalDist

BODIES = ("wrist", "ankle", "neck")
SEXES = ("women", "men")
PERCENTS = (5, 25, 50, 75, 95)

# At PERCENTS; ANSUR II, computed from the public raw rows.
_GIRTHS_MM: dict[tuple[str, str], tuple[float, ...]] = {
    ("wrist", "women"): (142.2, 150.0, 154.0, 160.0, 168.0),
    ("wrist", "men"): (162.0, 170.0, 176.0, 182.0, 191.0),
    ("ankle", "women"): (193.0, 205.0, 215.0, 225.0, 242.0),
    ("ankle", "men"): (206.0, 219.2, 228.0, 239.0, 254.0),
    ("neck", "women"): (302.0, 316.0, 328.0, 342.0, 363.0),
    ("neck", "men"): (360.0, 379.2, 395.0, 413.8, 443.0),
}
_NORMAL = NormalDist()
_QUANTILES = tuple(_NORMAL.inv_cdf(percent / 100) for percent in PERCENTS)


def girth_at(body: str, sex: str, *, percent: float) -> float:
    """Return the girth, in mm, that `percent` of adults do not exceed; 0 < percent < 100.

    Examples
    --------
    >>> girth_at("wrist", "women", percent=75)
    160.0
    """
    return _interpolated(_NORMAL.inv_cdf(percent / 100), xs=_QUANTILES, ys=_GIRTHS_MM[body, sex])


def share_between(body: str, sex: str, *, low_mm: float, high_mm: float) -> float:
    """Return the share of adults, 0 to 1, whose girth lies between two.

    Examples
    --------
    >>> round(share_between("wrist", "women", low_mm=150, high_mm=168), 6)
    0.7
    """
    girths = _GIRTHS_MM[body, sex]
    below_low, below_high = (
        _NORMAL.cdf(_interpolated(girth, xs=girths, ys=_QUANTILES)) for girth in (low_mm, high_mm)
    )
    return max(below_high - below_low, 0.0)


def _interpolated(x: float, *, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Interpolate linearly; beyond the ends the first or the last slope continues."""
    at = min(max(bisect_right(xs, x), 1), len(xs) - 1)
    slope = (ys[at] - ys[at - 1]) / (xs[at] - xs[at - 1])
    return ys[at - 1] + slope * (x - xs[at - 1])
