"""A pinhole camera with one radial term, for drawing test photographs.

World frame: millimetres, x to the right of the sheet, y *up* the sheet (minus the sheet's own y), z towards
the camera; so a bead at sheet (x, y) and height z stands at world (x, -y, z). Pixels: an integer coordinate
is the centre of that pixel, x right, y down.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Diagonal of the 36 x 24 mm frame: the 35 mm equivalent focal length compares diagonals (CIPA DCG-001).
FRAME_DIAGONAL_MM = 43.2666


@dataclass(frozen=True, kw_only=True)
class Camera:
    """A camera that looks from `origin` at `target` (world frame, mm).

    Attributes
    ----------
    size_px : tuple of int
        (width, height).
    focal_px : float
    k1 : float
        Image radius times (1 + k1 r^2), r the undistorted radius in focal lengths.
    origin, target, up : tuple of float
    """

    size_px: tuple[int, int]
    focal_px: float
    origin: tuple[float, float, float]
    target: tuple[float, float, float]
    up: tuple[float, float, float] = (0.0, 1.0, 0.0)
    k1: float = 0.0

    @staticmethod
    def focal_from_35mm(focal_35mm: float, size_px: tuple[int, int]) -> float:
        """Focal length in pixels of a 35 mm equivalent one."""
        return focal_35mm * math.hypot(*size_px) / FRAME_DIAGONAL_MM

    @cached_property
    def axes(self) -> Array:
        """Rows: the camera's right, down and forward directions in the world, shape (3, 3)."""
        forward = np.subtract(self.target, self.origin, dtype=float)
        forward /= np.linalg.norm(forward)
        right = np.cross(forward, self.up)
        right /= np.linalg.norm(right)
        return np.array([right, np.cross(forward, right), forward])

    @property
    def centre_px(self) -> Array:
        """Principal point, shape (2,)."""
        return (np.array(self.size_px, dtype=float) - 1.0) / 2.0

    @property
    def distance_mm(self) -> float:
        """Distance from the lens to the point of the sheet that the camera is aimed at."""
        return float(np.linalg.norm(np.subtract(self.target, self.origin)))

    def project(self, points: Array) -> Array:
        """Pixels, shape (N, 2), of world points, shape (N, 3)."""
        seen = (np.atleast_2d(points) - self.origin) @ self.axes.T
        plane = seen[:, :2] / seen[:, 2:]
        radius2 = np.sum(plane**2, axis=1, keepdims=True)
        return self.focal_px * plane * (1.0 + self.k1 * radius2) + self.centre_px

    def rays(self, x_px: Array, y_px: Array) -> Array:
        """Return unit directions, shape (..., 3), of the rays that arrive at the given pixels."""
        x = (x_px - self.centre_px[0]) / self.focal_px
        y = (y_px - self.centre_px[1]) / self.focal_px
        if self.k1:
            shrink = self._undistortion(np.hypot(x, y))
            x, y = x * shrink, y * shrink
        right, down, forward = self.axes
        rays = x[..., None] * right + y[..., None] * down + forward
        return rays / np.linalg.norm(rays, axis=-1, keepdims=True)

    def _undistortion(self, distorted: Array) -> Array:
        """Solve r (1 + k1 r^2) = distorted by Newton's method; return r / distorted."""
        radius = distorted.copy()
        for _ in range(5):
            excess = radius * (1.0 + self.k1 * radius**2) - distorted
            radius -= excess / (1.0 + 3.0 * self.k1 * radius**2)
        return np.where(distorted > 0, radius / np.maximum(distorted, 1e-12), 1.0)
