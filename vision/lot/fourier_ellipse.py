"""Closed smooth curves through scattered edge points: an ellipse, and how a bead differs from one."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray

_ORDERS = (2, 6, 10, 16, 24)
_FULL_TURN = 2 * np.pi
_SPUR = 0.06
_FEWEST = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """An ellipse times a Fourier series of its radius.

    Attributes
    ----------
    centre : ndarray, shape (2,)
    axes : ndarray, shape (2, 2)
        Columns are the semi-axes as vectors.
    series : ndarray, shape (2 m + 1,)
        Mean radius (about 1), then cosine and sine coefficients of order 1 to m.
    spread : float
        Robust standard deviation of the points about the curve, in their unit.
    points : int
        Points used.
    """

    centre: FloatArray
    axes: FloatArray
    series: FloatArray
    spread: float
    points: int

    @property
    def order(self) -> int:
        """How many harmonics the points prove."""
        return len(self.series) // 2

    def polygon(self, count: int = 360) -> FloatArray:
        """Return points on the curve, shape (count, 2)."""
        angle = np.linspace(0, _FULL_TURN, count, endpoint=False)
        radius = _harmonics(angle, self.order) @ self.series
        circle = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        line: FloatArray = self.centre + circle @ self.axes.T
        return line


def fit_ellipse(points: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return centre (2,) and semi-axes (2, 2), columns, of the weighted least-squares ellipse.

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
    x, y = ((points - middle) / size).T
    square = np.stack([x * x, x * y, y * y], axis=1) * weights[:, None]
    line = np.stack([x, y, np.ones_like(x)], axis=1) * weights[:, None]
    s1, s2, s3 = square.T @ square, square.T @ line, line.T @ line
    try:
        reduce = -np.linalg.solve(s3, s2.T)
        matrix = (s1 + s2 @ reduce)[[2, 1, 0]] * np.array([[0.5], [-1.0], [0.5]])
        _, vectors = np.linalg.eig(matrix)
    except np.linalg.LinAlgError as error:
        raise ValueError("points lie on no ellipse") from error
    vectors = vectors.real
    good = 4 * vectors[0] * vectors[2] - vectors[1] ** 2 > 0
    if not good.any():
        raise ValueError("points lie on no ellipse")
    first = vectors[:, int(np.argmax(good))]
    a, b, c, d, e, f = np.concatenate([first, reduce @ first])
    return _centre_and_axes(np.array([[a, b / 2], [b / 2, c]]), np.array([d, e]), float(f), (middle, size))


def _centre_and_axes(
    quadratic: FloatArray, linear: FloatArray, constant: float, frame: tuple[FloatArray, float]
) -> tuple[FloatArray, FloatArray]:
    centre = -np.linalg.solve(2 * quadratic, linear)
    level = float(centre @ quadratic @ centre) - constant
    values, vectors = np.linalg.eigh(quadratic / level)
    if not (values > 0).all():
        raise ValueError("points lie on no ellipse")
    middle, size = frame
    axes: FloatArray = vectors / np.sqrt(values) * size
    return middle + size * centre, axes


def fit_curve(points: FloatArray, seen: NDArray[np.bool_], *, ellipse: bool = False) -> Curve:
    """Fit an ellipse robustly, then as many harmonics of its radius as the points prove.

    The number is the one of least Bayesian information criterion (Schwarz 1978), neighbouring points
    counting as one observation in three.

    Raises
    ------
    ValueError
        Too few points, or they lie on no ellipse.
    """
    points = points[seen]
    if len(points) < _FEWEST:
        raise ValueError("too few points")
    centre, axes, angle, radius = robust_ellipse(points, steep=ellipse)
    size = float(np.sqrt(abs(np.linalg.det(axes))))
    if ellipse:
        spread = robust_sd(radius, about=1.0) * size
        return Curve(centre=centre, axes=axes, series=np.ones(1), spread=spread, points=len(points))
    fits = []
    for order in _ORDERS:
        if len(points) < 3 * (2 * order + 1):
            break
        series, miss = _robust_series(angle, radius, order, _coverage(angle))
        observations = len(points) / 3
        criterion = 2 * observations * np.log(miss) + (2 * order + 1) * np.log(observations)
        fits.append((criterion, order, series, miss))
    _, _, series, miss = min(fits, key=lambda fit: fit[:2])
    return Curve(centre=centre, axes=axes, series=series, spread=miss * size, points=len(points))


def robust_ellipse(
    points: FloatArray, *, steep: bool = False
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return centre, semi-axes, and of each point its angle and its distance in units of the ellipse.

    Weights fall off steeply, and twice as steeply inwards: a rim that fades lets highlights inside
    pass for it, while nothing but the rim is seen outside.
    """
    weights = np.ones(len(points))
    for k in range(20 if steep else 8):
        centre, axes = fit_ellipse(points, weights)
        normal = np.linalg.solve(axes, (points - centre).T).T
        angle, radius = np.arctan2(normal[:, 1], normal[:, 0]), np.linalg.norm(normal, axis=1)
        miss = radius - 1
        spread = robust_sd(miss, about=0.0) + 1e-4
        inward, outward = (2.0, 4.0) if steep and k > 2 else (3.0, 3.0)
        width = np.where(miss < 0, inward, outward) * spread
        weights = 1 / (1 + (miss / width) ** 2) ** (2 if steep else 1)
    return centre, axes, angle, radius


def rim_points(points: FloatArray, seen: NDArray[np.bool_], *, within: float) -> NDArray[np.bool_]:
    """Return which points lie on the rim of a convex body: seen, no spur, and no deeper than `within` in.

    Highlights that pass for the rim where it fades lie inside the hull of the rest; a shadow's edge
    juts out of an ellipse by more than any facet does.
    """
    if seen.sum() < _FEWEST:
        return seen
    centre, axes, _, _ = robust_ellipse(points[seen], steep=False)
    far = np.linalg.norm(np.linalg.solve(axes, (points - centre).T), axis=0) - 1
    spread = robust_sd(far[seen], about=0.0)
    sound = seen & (far < max(_SPUR, 3 * spread))
    hull = cv2.convexHull(points[sound].astype(np.float32))[:, 0].astype(float)
    side = np.roll(hull, -1, axis=0) - hull
    normal = (
        np.stack([-side[:, 1], side[:, 0]], axis=1) / np.maximum(np.linalg.norm(side, axis=1), 1e-9)[:, None]
    )
    depth = np.abs(np.einsum("nk,mk->nm", points, normal) - np.sum(hull * normal, axis=1)).min(axis=1)
    return sound & (depth < within)


def agreement(points: FloatArray, curve: Curve, *, within: float) -> float:
    """Return the share of points that lie within a distance of a curve."""
    normal = np.linalg.solve(curve.axes, (points - curve.centre).T).T
    size = float(np.sqrt(abs(np.linalg.det(curve.axes))))
    angle = np.arctan2(normal[:, 1], normal[:, 0])
    radius = _harmonics(angle, curve.order) @ curve.series
    return float(np.mean(np.abs(np.linalg.norm(normal, axis=1) - radius) * size < within))


def _coverage(angle: FloatArray) -> float:
    """Return the largest gap between points, radians."""
    ordered = np.sort(angle)
    return float(np.max(np.diff(np.concatenate([ordered, ordered[:1] + _FULL_TURN]))))


def _harmonics(angle: FloatArray, order: int) -> FloatArray:
    k = np.arange(1, order + 1)
    waves = np.stack([np.cos(angle[:, None] * k), np.sin(angle[:, None] * k)], axis=2)
    return np.column_stack([np.ones(len(angle)), waves.reshape(len(angle), -1)])


def _robust_series(angle: FloatArray, radius: FloatArray, order: int, gap: float) -> tuple[FloatArray, float]:
    """Fit a Fourier series robustly; return it and the robust spread about it.

    Harmonics finer than the largest gap between points are held down, or they would swing in it.
    """
    basis = _harmonics(angle, order)
    k = np.repeat(np.arange(1, order + 1), 2)
    ridge = np.diag(np.concatenate([[0.0], 1e-3 + (k * gap / 3) ** 4 * 1e-2])) * len(angle) * 0.05
    weight: FloatArray = np.ones(len(angle))
    series: FloatArray = np.zeros(2 * order + 1)
    spread = 1.0
    for _ in range(6):
        scaled = basis * weight[:, None]
        target = radius - 1
        series = np.linalg.solve(scaled.T @ basis + ridge, scaled.T @ target)
        miss = target - basis @ series
        spread = robust_sd(miss, about=0.0) + 1e-5
        weight = 1 / (1 + (miss / (2.5 * spread)) ** 2) ** 2
    series[0] += 1
    return series, spread
