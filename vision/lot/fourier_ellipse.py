"""Closed smooth curves through scattered edge points: an ellipse, or an ellipse whose radius has harmonics.

Both fits are iteratively reweighted least squares: points far off the last fit count less in the next.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Self, TypeVar

import cv2
import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray, Mask

_ORDERS = (2, 6, 10, 16, 24)
_FULL_TURN = 2 * np.pi
_SPUR = 0.06
_FEWEST = 15
_ALIKE = 3

Fit = TypeVar("Fit")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """An ellipse in the plane, and the polar coordinates in which it is the unit circle.

    Attributes
    ----------
    centre : ndarray, shape (2,)
        (x, y).
    axes : ndarray, shape (2, 2)
        Columns are the semi-axes as vectors.
    """

    centre: FloatArray
    axes: FloatArray

    @classmethod
    def of_conic(cls, coefficients: FloatArray) -> Self:
        """Return the ellipse a x^2 + b x y + c y^2 + d x + e y + f = 0.

        Raises
        ------
        ValueError
            The conic is no ellipse.
        """
        a, b, c, *linear, constant = coefficients
        quadratic = np.array([[a, b / 2], [b / 2, c]])
        centre = -np.linalg.solve(2 * quadratic, np.array(linear))
        level = float(centre @ quadratic @ centre) - float(constant)
        values, vectors = np.linalg.eigh(quadratic / level)
        if not (values > 0).all():
            raise ValueError("points lie on no ellipse")
        return cls(centre=centre, axes=vectors / np.sqrt(values))

    @property
    def radius(self) -> float:
        """Radius of the circle of the same area."""
        return float(np.sqrt(abs(np.linalg.det(self.axes))))

    def polar(self, points: FloatArray) -> "Polar":
        """Return the polar coordinates of points (N, 2)."""
        normal = np.linalg.solve(self.axes, (points - self.centre).T).T
        return Polar(angle=np.arctan2(normal[:, 1], normal[:, 0]), distance=np.linalg.norm(normal, axis=1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Polar:
    """Points in the polar coordinates of an ellipse.

    Attributes
    ----------
    angle : ndarray, shape (N,)
        Radians.
    distance : ndarray, shape (N,)
        From the centre; 1 on the ellipse.
    """

    angle: FloatArray
    distance: FloatArray

    @property
    def widest_gap(self) -> float:
        """Largest angle between neighbouring points, radians."""
        ordered = np.sort(self.angle)
        return float(np.max(np.diff(np.concatenate([ordered, ordered[:1] + _FULL_TURN]))))


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Loss:
    """Weights of points by their residuals: 1 / (1 + (r / w s)^2)^p, s their robust standard deviation."""

    inward: float
    outward: float
    power: int
    least_spread: float

    def spread(self, residuals: FloatArray) -> float:
        return robust_sd(residuals, about=0.0) + self.least_spread

    def weights(self, residuals: FloatArray) -> FloatArray:
        width = np.where(residuals < 0, self.inward, self.outward) * self.spread(residuals)
        return np.asarray(1 / (1 + (residuals / width) ** 2) ** self.power)


_GENTLE = (_Loss(inward=3.0, outward=3.0, power=1, least_spread=1e-4),) * 8
_STEEP = (_Loss(inward=3.0, outward=3.0, power=2, least_spread=1e-4),) * 3 + (
    _Loss(inward=2.0, outward=4.0, power=2, least_spread=1e-4),
) * 17
"""Weights fall off steeply, and twice as steeply inwards: where a rim fades, highlights inside are taken for
it, while nothing but the rim is seen outside."""
_HARMONIC = (_Loss(inward=2.5, outward=2.5, power=2, least_spread=1e-5),) * 6


def _reweighted(
    fit: Callable[[FloatArray], Fit],
    residuals: Callable[[Fit], FloatArray],
    losses: Sequence[_Loss],
    count: int,
) -> Fit:
    """Fit `count` points once a loss, each time with the weights of the residuals of the fit before."""
    weights: FloatArray = np.ones(count)
    for loss in losses:
        fitted = fit(weights)
        weights = loss.weights(residuals(fitted))
    return fitted


def fit_ellipse(points: FloatArray, weights: FloatArray) -> Ellipse:
    """Return the weighted least-squares ellipse through points (N, 2).

    The direct fit constrained to ellipses (Fitzgibbon, Pilu & Fisher 1999, in the stable form of Halir
    & Flusser 1998), on centred and scaled points.

    Raises
    ------
    ValueError
        The points lie on no ellipse.
    """
    middle = np.average(points, axis=0, weights=weights)
    size = float(np.sqrt(np.average(np.sum((points - middle) ** 2, axis=1), weights=weights)))
    if not size > 0:
        raise ValueError("points coincide")
    unit = Ellipse.of_conic(_direct_conic((points - middle) / size, weights))
    return Ellipse(centre=middle + size * unit.centre, axes=unit.axes * size)


def _direct_conic(points: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the coefficients of the elliptic conic nearest to points in algebraic distance, shape (6,)."""
    x, y = points.T
    square = np.stack([x * x, x * y, y * y], axis=1) * weights[:, None]
    line = np.stack([x, y, np.ones_like(x)], axis=1) * weights[:, None]
    s1, s2, s3 = square.T @ square, square.T @ line, line.T @ line
    try:
        reduce = -np.linalg.solve(s3, s2.T)
        matrix = (s1 + s2 @ reduce)[[2, 1, 0]] * np.array([[0.5], [-1.0], [0.5]])
        vectors = np.linalg.eig(matrix).eigenvectors.real
    except np.linalg.LinAlgError as error:
        raise ValueError("points lie on no ellipse") from error
    elliptic = 4 * vectors[0] * vectors[2] - vectors[1] ** 2 > 0
    if not elliptic.any():
        raise ValueError("points lie on no ellipse")
    first = vectors[:, int(np.argmax(elliptic))]
    return np.concatenate([first, reduce @ first])


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
        return _harmonic_curve(points, _robust_ellipse(points, _GENTLE))
    fitted = _robust_ellipse(points, _STEEP)
    spread = robust_sd(fitted.polar(points).distance, about=1.0) * fitted.radius
    return Curve(ellipse=fitted, series=np.ones(1), spread=spread, points=len(points))


def _robust_ellipse(points: FloatArray, losses: Sequence[_Loss]) -> Ellipse:
    return _reweighted(
        lambda weights: fit_ellipse(points, weights),
        lambda e: e.polar(points).distance - 1,
        losses,
        len(points),
    )


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
    damping = np.concatenate([[0.0], 1e-3 + (k * polar.widest_gap / 3) ** 4 * 1e-2])
    ridge = np.diag(damping) * len(target) * 0.05

    def fit(weights: FloatArray) -> FloatArray:
        scaled = basis * weights[:, None]
        return np.asarray(np.linalg.solve(scaled.T @ basis + ridge, scaled.T @ target))

    series = _reweighted(fit, lambda s: target - basis @ s, _HARMONIC, len(target))
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
    outside = _robust_ellipse(points[seen], _GENTLE).polar(points).distance - 1
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
