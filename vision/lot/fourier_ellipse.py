"""Closed smooth curves through scattered edge points: ellipses, or ellipses whose radius has harmonics."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.common.numerics import quarter_turn, robust_sds, unit
from vision.common.records import FloatArray, Mask
from vision.common.robust import Loss, reweighted
from vision.lot.ellipse import GENTLE, STEEP, Ellipse, robust_ellipse

_ORDERS = (2, 6, 10, 16, 24)
"""Harmonics of the radius that are tried: a polygon of n sides has those of n and 2 n."""
_ALIKE = 3
"""Neighbouring points err together: this many count as one observation, and each unknown needs one."""
_FEWEST = 5 * _ALIKE
"""An ellipse has five unknowns."""
_SPUR = 0.06
"""Points this far outside the ellipse, over its radius, may still be corners: those of an octagon lie 0.054
outside the circle of equal area. At half or double 2 sizes more or fewer are refused."""
_DAMPING, _GAP_DAMPING, _HALF_WAVE = 5e-5, 5e-4, 3.0
"""Damping of a harmonic over the weight of the points: of every one; and, growing with the fourth power of
its order, of one that fits half a wave (the third, about pi) into the widest gap between points."""

_HARMONIC = (Loss(inward=2.5, outward=2.5, power=2, least_spread=1e-5),) * 6
"""Six fits of a Fourier series, points beyond 2.5 standard deviations counting little."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """An ellipse times a Fourier series of its radius.

    Attributes
    ----------
    ellipse : Ellipse
    series : ndarray, shape (2 m + 1,)
        Mean radius (about 1), then cosine and sine coefficients of order 1 to m.
    spread : float
        Robust standard deviation of the points about the curve, in their unit.
    points : int
        Points used.

    Examples
    --------
    A circle of radius 4 that bulges three times by a tenth:

    >>> circle = Ellipse(centre=np.zeros(2), axes=4 * np.eye(2))
    >>> series = np.array([1, 0, 0, 0, 0, 0.1, 0])
    >>> clover = Curve(ellipse=circle, series=series, spread=0.0, points=100)
    >>> clover.order, clover.residuals(np.array([[4.4, 0.0], [-3.5, 0.0]])).round(6).tolist()
    (3, [0.0, -0.1])
    """

    ellipse: Ellipse
    series: FloatArray
    spread: float
    points: int

    @property
    def order(self) -> int:
        """Harmonics of the radius."""
        return len(self.series) // 2

    def polygon(self, count: int = 360) -> FloatArray:
        """Return points on the curve, shape (count, 2)."""
        angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
        radius = _harmonics(angle, self.order) @ self.series
        circle = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        line: FloatArray = self.ellipse.centre + circle @ self.ellipse.axes.T
        return line

    def residuals(self, points: FloatArray) -> FloatArray:
        """Return how far outside the curve points (N, 2) lie, in their unit, shape (N,)."""
        angle, distance = self.ellipse.polar(points)
        radius = _harmonics(angle, self.order) @ self.series
        return np.asarray((distance - radius) * self.ellipse.radius)


def fit_curves(points: FloatArray, used: Mask, *, ellipse: bool = False) -> list[Curve | None]:
    """Fit ellipses robustly, then as many harmonics of each radius as the points prove.

    Parameters
    ----------
    points : ndarray, shape (B, N, 2)
    used : ndarray of bool, shape (B, N)
        Points to be fitted.
    ellipse : bool
        No harmonics; highlights inside the ellipse are kept out more strictly.

    Returns
    -------
    list of Curve or None
        None: too few points, or they lie on no ellipse.
    """
    fitted = robust_ellipse(points, STEEP if ellipse else GENTLE, used=used)
    count, (angle, distance) = used.sum(axis=1), fitted.polar(points)
    away = np.where(used, distance - 1, np.nan)
    series, spreads = [np.eye(1)[0]] * len(points), robust_sds(away)  # over the radius
    if not ellipse:
        series, spreads = _harmonic_series(angle, away, count)
    return [
        Curve(
            ellipse=Ellipse(centre=fitted.centre[k], axes=fitted.axes[k]),
            series=series[k],
            spread=float(spreads[k] * fitted.radius[k]),
            points=int(count[k]),
        )
        if count[k] >= _FEWEST and np.isfinite(fitted.axes[k]).all()
        else None
        for k in range(len(points))
    ]


def _harmonic_series(
    angle: FloatArray, away: FloatArray, count: NDArray[np.intp]
) -> tuple[list[FloatArray], FloatArray]:
    """Return the harmonics of least Bayesian information criterion (Schwarz 1978), and their spreads.

    Neighbouring points err alike: they count as one observation in three.
    """
    observations = np.maximum(count / _ALIKE, 1.0)
    every = [_robust_series(angle, away, order) for order in _ORDERS]
    spreads, unknowns = np.array([spread for _, spread in every]), 2 * np.array(_ORDERS)[:, None] + 1
    criteria = 2 * observations * np.log(spreads) + unknowns * np.log(observations)
    best = np.where((observations >= unknowns) | (unknowns == unknowns[0]), criteria, np.inf).argmin(axis=0)
    return [every[k][0][i] for i, k in enumerate(best)], np.take_along_axis(spreads, best[None], 0)[0]


def _robust_series(angle: FloatArray, away: FloatArray, order: int) -> tuple[FloatArray, FloatArray]:
    """Fit Fourier series of the radius robustly; return them and the robust spread about each.

    `away` are distances from the ellipse over the radius, NaN where a point is not used. Harmonics finer than
    the widest gap between points are held down, or they would swing in it.
    """
    used = np.isfinite(away)
    basis, target = _harmonics(angle, order), np.where(used, away, 0.0)
    k = np.repeat(np.arange(1, order + 1), 2)
    damping = _DAMPING + _GAP_DAMPING * (k * _widest_gap(angle, used)[:, None] / _HALF_WAVE) ** 4
    ridge = used.sum(axis=1)[:, None] * np.pad(damping, ((0, 0), (1, 0)))

    def fit(weights: FloatArray) -> FloatArray:
        scaled = np.swapaxes(basis * weights[..., None], 1, 2)
        squares = scaled @ basis + ridge[:, None] * np.eye(len(k) + 1)
        return np.linalg.solve(squares, scaled @ target[..., None])

    def residuals(series: FloatArray) -> FloatArray:
        return target - (basis @ series)[..., 0]

    series = reweighted(fit, residuals, losses=_HARMONIC, used=used)
    spread = _HARMONIC[-1].spread(np.where(used, residuals(series), np.nan))
    return series[..., 0] + np.eye(1, len(k) + 1), spread


def _widest_gap(angle: FloatArray, used: Mask) -> FloatArray:
    """Return the largest angle between neighbours among the points used, (..., N), radians."""
    ordered = np.sort(np.where(used, angle, np.nan), axis=-1)
    round_again = ordered[..., :1] + 2 * np.pi
    ahead = np.fmin(np.concatenate([ordered[..., 1:], round_again], axis=-1), round_again)
    return np.asarray(np.fmax.reduce(ahead - ordered, axis=-1))


def _harmonics(angle: FloatArray, order: int) -> FloatArray:
    """Return 1, cos, sin, cos 2, sin 2 ... of angles (..., N), shape (..., N, 2 order + 1)."""
    turns = angle[..., None] * np.arange(1, order + 1)
    waves = np.stack([np.cos(turns), np.sin(turns)], axis=-1).reshape(*angle.shape, -1)
    return np.concatenate([np.ones_like(angle)[..., None], waves], axis=-1)


def rim_points(points: FloatArray, seen: Mask, *, within: FloatArray) -> Mask:
    """Return which points lie on the rims of convex bodies: seen, no spur, and no deeper than `within` in.

    Highlights that pass for the rim where it fades lie inside the hull of the rest; a shadow's edge
    juts out of an ellipse by more than any facet does.

    Parameters
    ----------
    points : ndarray, shape (B, N, 2)
    seen : ndarray of bool, shape (B, N)
    within : ndarray, shape (B,)

    Returns
    -------
    ndarray of bool, shape (B, N)
        Of a body of which too few are seen, all that are.
    """
    few = seen.sum(axis=1, keepdims=True) < _FEWEST
    outside = robust_ellipse(points, GENTLE, used=seen).polar(points)[1] - 1
    spread = robust_sds(np.where(seen, outside, np.nan))
    on = seen & ((outside < np.maximum(_SPUR, 3 * spread)[:, None]) | few)
    for k, near in enumerate(within):
        if on[k].sum() >= _FEWEST:
            on[k] &= _hull_distance(points[k], points[k, on[k]]) < near
    return on


def _hull_distance(points: FloatArray, others: FloatArray) -> FloatArray:
    """Return the distance of points (N, 2) from the nearest side line of the convex hull of others."""
    hull = cv2.convexHull(others.astype(np.float32))[:, 0].astype(float)
    side = np.roll(hull, -1, axis=0) - hull
    normal = unit(quarter_turn(side))
    offset = np.sum(hull * normal, axis=1)
    return np.asarray(np.abs(np.einsum("nk,mk->nm", points, normal) - offset).min(axis=1))
