"""Girths of adult wrists, ankles and necks, and what share of people a range of girths covers.

From ANSUR II, the US Army's anthropometric survey of 2010 to 2012 (Natick TR-15/007): adults only,
fitter than most. The five published points are joined on the normal scale, so that shares between
them are exact at the points and smooth between; beyond the outer points the last slope runs on.
"""

from bisect import bisect_right
from statistics import NormalDist

BODIES = ("wrist", "ankle", "neck")
SEXES = ("women", "men")
PERCENTS = (5, 25, 50, 75, 95)

_GIRTHS_MM: dict[tuple[str, str], tuple[float, ...]] = {
    ("wrist", "women"): (142.2, 150.0, 154.0, 160.0, 168.0),
    ("wrist", "men"): (162.0, 170.0, 176.0, 182.0, 191.0),
    ("ankle", "women"): (193.0, 205.0, 215.0, 225.0, 242.0),
    ("ankle", "men"): (206.0, 219.2, 228.0, 239.0, 254.0),
    ("neck", "women"): (302.0, 316.0, 328.0, 342.0, 363.0),
    ("neck", "men"): (360.0, 379.2, 395.0, 413.8, 443.0),
}
_NORMAL = NormalDist()
_SCORES = tuple(_NORMAL.inv_cdf(percent / 100) for percent in PERCENTS)


def girth_at(body: str, sex: str, percent: float) -> float:
    """Return the girth, in mm, that `percent` of adults do not exceed; 0 < percent < 100."""
    return _joined(_SCORES, _GIRTHS_MM[body, sex], _NORMAL.inv_cdf(percent / 100))


def share_between(body: str, sex: str, low_mm: float, high_mm: float) -> float:
    """Return the share of adults, 0 to 1, whose girth lies between two."""
    points = _GIRTHS_MM[body, sex]
    below_high, below_low = (_NORMAL.cdf(_joined(points, _SCORES, girth)) for girth in (high_mm, low_mm))
    return max(below_high - below_low, 0.0)


def _joined(xs: tuple[float, ...], ys: tuple[float, ...], x: float) -> float:
    """Interpolate on a polyline, its first and last piece extended."""
    at = min(max(bisect_right(xs, x), 1), len(xs) - 1)
    slope = (ys[at] - ys[at - 1]) / (xs[at] - xs[at - 1])
    return ys[at - 1] + slope * (x - xs[at - 1])
