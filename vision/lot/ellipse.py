"""Ellipses through scattered edge points, fitted robustly."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np

from vision.common.records import FloatArray, Mask
from vision.common.robust import Loss, reweighted


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """An ellipse in the plane, or several, and the polar coordinates in which it is the unit circle.

    Attributes
    ----------
    centre : ndarray, shape (..., 2)
        (x, y).
    axes : ndarray, shape (..., 2, 2)
        Columns are the semi-axes as vectors; NaN where there is no ellipse.
    """

    centre: FloatArray
    axes: FloatArray

    @classmethod
    def of_conic(cls, coefficients: FloatArray) -> Self:
        """Return the ellipses a x^2 + b x y + c y^2 + d x + e y + f = 0, by their (..., 6) coefficients."""
        # eigenvectors come with either sign: with one, the longer axis is the first on every computer
        a, b, c, d, e, f = np.moveaxis(coefficients * np.sign(coefficients[..., :1]), -1, 0)
        centre = np.stack([b * e - 2 * c * d, b * d - 2 * a * e]) / (4 * a * c - b**2)
        level = -f - (d * centre[0] + e * centre[1]) / 2
        turn, apart = np.arctan2(-b, c - a) / 2, np.hypot(a - c, b)
        values = np.stack([a + c - apart, a + c + apart]) / (2 * level)
        values = np.where((values > 0).all(axis=0), values, np.nan)
        vectors = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        return cls(
            centre=np.moveaxis(centre, 0, -1), axes=np.moveaxis(vectors / np.sqrt(values), (0, 1), (-2, -1))
        )

    @property
    def radius(self) -> FloatArray:
        """Radius of the circle of the same area, shape (...)."""
        return np.asarray(np.sqrt(np.linalg.norm(self.axes, axis=-2).prod(axis=-1)))

    def polar(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return angles of points (..., N, 2), radians, and distances: 1 on the ellipse; shapes (..., N)."""
        square = (self.axes**2).sum(axis=-2)[..., None, :]
        x, y = np.moveaxis((points - self.centre[..., None, :]) @ self.axes / square, -1, 0)
        return np.arctan2(y, x), np.hypot(x, y)


GENTLE = (Loss(inward=3.0, outward=3.0, power=1, least_spread=1e-4),) * 8
STEEP = (Loss(inward=3.0, outward=3.0, power=2, least_spread=1e-4),) * 3 + (
    Loss(inward=2.0, outward=4.0, power=2, least_spread=1e-4),
) * 17
"""Weights fall off steeply, and twice as steeply inwards: where a rim fades, highlights inside are taken for
it, while nothing but the rim is seen outside. With half of these widths no bead is found in one of 9 lots."""


def fit_ellipse(points: FloatArray, weights: FloatArray) -> Ellipse:
    """Return the weighted least-squares ellipses through points (..., N, 2); NaN where they lie on none.

    The direct fit constrained to ellipses (Fitzgibbon, Pilu & Fisher 1999, in the stable form of Halir
    & Flusser 1998), on centred and scaled points.

    Examples
    --------
    >>> turn = np.arange(0, 6, 0.5)
    >>> points = np.stack([3 + 5 * np.cos(turn), 1 + 2 * np.sin(turn)], axis=1)
    >>> ellipse = fit_ellipse(points, np.ones(len(points)))
    >>> ellipse.centre.round(6).tolist(), np.linalg.norm(ellipse.axes, axis=0).round(6).tolist()
    ([3.0, 1.0], [5.0, 2.0])
    """
    share = (weights / weights.sum(axis=-1, keepdims=True))[..., None]
    middle = (share * points).sum(axis=-2)
    apart = points - middle[..., None, :]
    size = np.sqrt((share * apart**2).sum(axis=(-2, -1)))[..., None]
    unit = Ellipse.of_conic(_direct_conic(apart / size[..., None], weights))
    return Ellipse(centre=middle + size * unit.centre, axes=unit.axes * size[..., None])


def _direct_conic(points: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the coefficients of the elliptic conics nearest to points in algebraic distance, (..., 6)."""
    x, y = np.moveaxis(points, -1, 0)
    terms = np.stack([x * x, x * y, y * y, x, y, np.ones_like(x)], axis=-2) * weights[..., None, :]
    scatter = terms @ np.swapaxes(terms, -1, -2)
    s1, s2, s3 = scatter[..., :3, :3], scatter[..., :3, 3:], scatter[..., 3:, 3:]
    # points on a line leave s3 singular; what is added lies far below the scatter of any others
    reduce = -np.linalg.solve(s3 + 1e-12 * np.eye(3), np.swapaxes(s2, -1, -2))
    matrix = (s1 + s2 @ reduce)[..., [2, 1, 0], :] * np.array([[0.5], [-1.0], [0.5]])
    sound = np.isfinite(matrix).all(axis=(-2, -1), keepdims=True)
    vectors = np.linalg.eig(np.where(sound, matrix, 0.0)).eigenvectors.real
    elliptic = 4 * vectors[..., 0, :] * vectors[..., 2, :] - vectors[..., 1, :] ** 2 > 1e-9  # less is a line
    which = np.argmax(elliptic, axis=-1)[..., None, None]
    first = np.where(elliptic.any(axis=-1)[..., None, None], np.take_along_axis(vectors, which, -1), np.nan)
    return np.concatenate([first, reduce @ first], axis=-2)[..., 0]


def robust_ellipse(points: FloatArray, losses: Sequence[Loss], *, used: Mask) -> Ellipse:
    """Return the ellipses through those of points (..., N, 2) that are used, that `losses` settle on."""
    return reweighted(
        lambda weights: fit_ellipse(points, weights),
        lambda e: e.polar(points)[1] - 1,
        losses=losses,
        used=used,
    )
