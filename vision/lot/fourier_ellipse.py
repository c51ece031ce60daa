"""Closed smooth curves through scattered edge points: ellipses, or ellipses whose radius has harmonics."""

from dataclasses import dataclass

import cv2
import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray, Mask
from vision.lot.ellipse import GENTLE, STEEP, Ellipse, Loss, Polar, reweighted, robust_ellipse

_FULL_TURN = 2 * np.pi
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
        angle = np.linspace(0, _FULL_TURN, count, endpoint=False)
        radius = _harmonics(angle, self.order) @ self.series
        circle = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        line: FloatArray = self.ellipse.centre + circle @ self.ellipse.axes.T
        return line

    def residuals(self, points: FloatArray) -> FloatArray:
        """Return how far outside the curve points (N, 2) lie, in their unit, shape (N,)."""
        polar = self.ellipse.polar(points)
        radius = _harmonics(polar.angle, self.order) @ self.series
        return np.asarray((polar.distance - radius) * self.ellipse.radius)


def fit_curve(points: FloatArray, *, ellipse: bool = False) -> Curve:
    """Fit an ellipse robustly, then as many harmonics of its radius as the points (N, 2) prove.

    Parameters
    ----------
    points : ndarray, shape (N, 2)
    ellipse : bool
        No harmonics; highlights inside the ellipse are kept out more strictly.

    Raises
    ------
    ValueError
        Too few points, or they lie on no ellipse.
    """
    if len(points) < _FEWEST:
        raise ValueError("too few points")
    if not ellipse:
        return _harmonic_curve(points, robust_ellipse(points, GENTLE))
    fitted = robust_ellipse(points, STEEP)
    spread = robust_sd(fitted.polar(points).distance, about=1.0) * fitted.radius
    return Curve(ellipse=fitted, series=np.ones(1), spread=spread, points=len(points))


def _harmonic_curve(points: FloatArray, ellipse: Ellipse) -> Curve:
    """Return the harmonics of least Bayesian information criterion (Schwarz 1978).

    Neighbouring points err alike: they count as one observation in three.
    """
    polar = ellipse.polar(points)
    orders = [m for m in _ORDERS if len(points) >= _ALIKE * (2 * m + 1)]
    observations = len(points) / _ALIKE
    fits = []
    for order in orders:
        series, spread = _robust_series(polar, order)
        criterion = 2 * observations * np.log(spread) + (2 * order + 1) * np.log(observations)
        fits.append((criterion, order, series, spread))
    _, _, series, spread = min(fits, key=lambda fit: fit[:2])
    return Curve(ellipse=ellipse, series=series, spread=spread * ellipse.radius, points=len(points))


def _robust_series(polar: Polar, order: int) -> tuple[FloatArray, float]:
    """Fit a Fourier series of the radius robustly; return it and the robust spread about it.

    Harmonics finer than the widest gap between points are held down, or they would swing in it.
    """
    basis, target = _harmonics(polar.angle, order), polar.distance - 1
    k = np.repeat(np.arange(1, order + 1), 2)
    damping = _DAMPING + _GAP_DAMPING * (k * polar.widest_gap / _HALF_WAVE) ** 4
    ridge = len(target) * np.diag(np.concatenate([[0.0], damping]))

    def fit(weights: FloatArray) -> FloatArray:
        scaled = basis * weights[:, None]
        return np.asarray(np.linalg.solve(scaled.T @ basis + ridge, scaled.T @ target))

    series = reweighted(fit, lambda s: target - basis @ s, losses=_HARMONIC, count=len(target))
    spread = _HARMONIC[-1].spread(target - basis @ series)
    return series + np.eye(1, len(series))[0], spread


def _harmonics(angle: FloatArray, order: int) -> FloatArray:
    """Return 1, cos, sin, cos 2, sin 2 ... of angles, one row each, shape (N, 2 order + 1)."""
    k = np.arange(1, order + 1)
    waves = np.stack([np.cos(angle[:, None] * k), np.sin(angle[:, None] * k)], axis=2)
    return np.column_stack([np.ones(len(angle)), waves.reshape(len(angle), -1)])


def rim_points(points: FloatArray, seen: Mask, *, within: float) -> Mask:
    """Return which points lie on the rim of a convex body: seen, no spur, and no deeper than `within` in.

    Highlights that pass for the rim where it fades lie inside the hull of the rest; a shadow's edge
    juts out of an ellipse by more than any facet does.
    """
    if seen.sum() < _FEWEST:
        return seen
    outside = robust_ellipse(points[seen], GENTLE).polar(points).distance - 1
    sound = seen & (outside < max(_SPUR, 3 * robust_sd(outside[seen], about=0.0)))
    return sound & (_hull_distance(points, points[sound]) < within)


def _hull_distance(points: FloatArray, others: FloatArray) -> FloatArray:
    """Return the distance of points (N, 2) from the nearest side line of the convex hull of others."""
    hull = cv2.convexHull(others.astype(np.float32))[:, 0].astype(float)
    side = np.roll(hull, -1, axis=0) - hull
    normal = np.stack([-side[:, 1], side[:, 0]], axis=1)
    normal = normal / np.maximum(np.linalg.norm(side, axis=1), 1e-9)[:, None]
    offset = np.sum(hull * normal, axis=1)
    return np.asarray(np.abs(np.einsum("nk,mk->nm", points, normal) - offset).min(axis=1))
