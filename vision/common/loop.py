"""A strand that is closed to a loop, measured all round."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from vision.common.numerics import COVERAGE_FACTOR, travel, unit
from vision.common.records import FloatArray, Loop, Mask

_SHAPE_U = 1 / np.sqrt(6)
"""Of the curve less its chord: the string bulges from not at all to twice as much, most probably as it does
beside (triangular, JCGM 100:2008, 4.3.9)."""
_REACH, _FEWEST, _BENT = 0.5, 3, 2
"""Which way the string leaves the strung part is read off a parabola through the middles of the outermost
parts: over half as much as is to be closed, at least three. At double the shape far away sways it."""
_STEPS, _POINTS = 5, 200
"""Of an iteration that comes nearer by a tenth of what is left, and points of the curve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The parts of a closed strand, in order.

    Attributes
    ----------
    places_mm : ndarray, shape (B, 2)
        World (x, y) of their middles. Holes lie level, so the string is as long as it is seen from above:
        parts of several sizes on the bed do not lengthen it.
    along_mm, across_mm : ndarray, shape (B,)
        Their sizes.
    gaps_mm : ndarray, shape (B,)
        Free string after each; that after the last counts to the clasp.
    across_u95_mm : float
        Mean expanded uncertainty of the sizes across. They err together: as one edge seems to lie, so do all.
    """

    places_mm: FloatArray
    along_mm: FloatArray
    across_mm: FloatArray
    gaps_mm: FloatArray
    across_u95_mm: float = 0.0

    @property
    def strung_mm(self) -> float:
        """From the outer end of the first part to that of the last."""
        return float(self.along_mm.sum() + self.gaps_mm[:-1].sum())


def all_round(parts: Parts, *, strung_u95_mm: float, doubtful: Mask | None = None) -> Loop:
    """Return the length of the string all round, and the girth that the loop passes over.

    The string runs straight from the middle of each part to that of the next. Between the last and the first,
    through clasp and rings, it goes on as it bends beside: along a cubic curve that leaves both in the
    direction which their neighbours show (Hermite's interpolation).

    A limb touches the inside of the parts; the string runs half a part farther out. A closed curve at a
    distance d outside another is 2 pi d longer (Steiner's formula for parallel curves), whatever its shape.

    Parameters
    ----------
    parts : Parts
    strung_u95_mm : float
        Expanded uncertainty of the strung length.
    doubtful : ndarray of bool, shape (B,), optional
        Which parts may be none. They need not lie on the string, so the round is uncertain by what it changes
        without them.
    """
    curve, chord = _closing(parts.places_mm)
    around = travel(parts.places_mm)[-1] + curve
    spread = 0.0
    if doubtful is not None and np.count_nonzero(~doubtful) >= _FEWEST:
        sure = parts.places_mm[~doubtful]
        spread = abs(around - travel(sure)[-1] - _closing(sure)[0])
    u95 = spread + float(np.hypot(strung_u95_mm, COVERAGE_FACTOR * _SHAPE_U * (curve - chord)))
    half = float(np.average(parts.across_mm, weights=parts.along_mm)) / 2
    return Loop(
        around_mm=around,
        around_u95_mm=u95,
        inner_girth_mm=around - 2 * np.pi * half,
        inner_girth_u95_mm=float(np.hypot(u95, np.pi * parts.across_u95_mm)),
        clasp_mm=around - parts.strung_mm,
    )


def _closing(places: FloatArray) -> tuple[float, float]:
    """Return how long the string is from the last of some places (B, 2) to the first, and their distance."""
    chord = float(np.linalg.norm(places[0] - places[-1]))
    if len(places) < _FEWEST:
        return chord, chord
    reach = _REACH * chord
    ways = -_way_out(places[::-1], reach), _way_out(places, reach)
    length = chord
    for _ in range(_STEPS):
        # the farther a curve goes, the more it keeps the directions of its ends
        curve = CubicHermiteSpline([0, length], places[[-1, 0]], ways)(np.linspace(0, length, _POINTS))
        length = float(travel(curve)[-1])
    return length, chord


def _way_out(places: FloatArray, reach: float) -> FloatArray:
    """Return the unit vector (2,) in which the string comes from beyond the first of some places."""
    along = travel(places)
    near = slice(max(int(np.searchsorted(along, reach, side="right")), _FEWEST))
    return unit(np.polynomial.polynomial.polyfit(along[near], places[near], _BENT)[1])
