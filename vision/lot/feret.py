"""Caliper sizes of a resting bead from its outline: tangent planes through the projection centre.

A caliper that closes along the direction e touches the bead with two vertical planes. The camera sees two
other tangent planes: they hold the projection centre C and the horizontal direction square to e. Projected
along that direction the bead is a flat figure of half width w on the bed, its middle at half its height b.
With H the height of C above the bed and t the slope of a tangent ray (0 straight below the camera), support
functions give for each side

    (distance of C from the middle, along e) + (H - b) t = g(w, t),

and the sum of both sides leaves one equation for w, whatever the middle. g depends on the figure:
sqrt(w^2 + b^2 t^2) for an ellipse, w + b |t| for a box, and for anything between, the sum of a segment
w - q and an ellipse of half width q. A sphere gives Dandelin's ellipse back.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray

DIRECTIONS = 360
"""Over half a turn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Where the tangent planes through the camera cut the bed, in all directions, for one bead or several.

    Attributes
    ----------
    low, high : ndarray, shape (..., DIRECTIONS)
        Where the two tangent planes cut the bed, mm along each direction, from the point below the camera.
    above_mm : float
        Height of the camera above the bed.

    Examples
    --------
    A ball of 10 mm lies 100 mm aside of a camera 300 mm above the bed. Its outline on the bed is an ellipse
    (Dandelin 1822), in closed form 10.740 mm long and 10.171 mm wide; its caliper size is 10 mm all round.

    >>> aside = 100 * directions()[:, 0]
    >>> middle, half_angle = np.arctan2(aside, 295), np.arcsin(5 / np.hypot(aside, 295))
    >>> low, high = 300 * np.tan(middle - half_angle), 300 * np.tan(middle + half_angle)
    >>> ball = Section(low=low, high=high, above_mm=300)
    >>> (ball.high - ball.low)[[0, DIRECTIONS // 2]].round(3).tolist()
    [10.74, 10.171]
    >>> np.allclose(ball.widths(5.0), 10.0)
    True
    """

    low: FloatArray
    high: FloatArray
    above_mm: float

    @classmethod
    def of(cls, polygon_mm: FloatArray, camera_mm: FloatArray, *, bed_height_mm: float) -> Self:
        """Take an outline, (N, 2) on the bed's plane, seen from a camera (x, y, h)."""
        along = (polygon_mm - camera_mm[:2]) @ directions().T
        above = float(camera_mm[2] - bed_height_mm)
        return cls(low=along.min(axis=0), high=along.max(axis=0), above_mm=above)

    @classmethod
    def of_all(cls, sections: Sequence[Self]) -> Self:
        """Return the sections of several beads that one camera sees on one bed, as one."""
        low, high = (np.array([getattr(section, side) for section in sections]) for side in ("low", "high"))
        return cls(low=low, high=high, above_mm=sections[0].above_mm)

    def widths(
        self, half_height_mm: FloatArray | float, *, round_share: FloatArray | float = 1.0, bevel: float = 0.0
    ) -> FloatArray:
        """Return the caliper size in every direction, mm, shape (..., DIRECTIONS).

        Parameters
        ----------
        half_height_mm : float or ndarray, shape (...)
            b.
        round_share : float or ndarray
            q / w: 1 for an ellipsoid, 0 for an upright prism.
        bevel : float
            Share of b that a prism's sides lose to its bevelled or rounded edges.
        """
        left, right = self.low / self.above_mm, self.high / self.above_mm
        half = np.asarray(half_height_mm)[..., None]
        total = (self.above_mm - half) * (right - left)
        upright = (1 - bevel) * half
        height2 = (upright * left) ** 2, (upright * right) ** 2
        if (
            np.isscalar(round_share) and round_share == 1.0
        ):  # the roots' sum and difference of squares are known
            root = (total + (height2[0] - height2[1]) / total) / 2
            return 2 * np.sqrt(np.maximum(root**2 - height2[0], (1e-3 * total) ** 2))
        w = total / 2
        q = np.asarray(round_share, dtype=float)
        for _ in range(6):  # Newton; the sum is nearly linear in w
            roots = [np.sqrt((q * w) ** 2 + s) for s in height2]
            value = 2 * (1 - q) * w + roots[0] + roots[1] - total
            slope = 2 * (1 - q) + sum(q * q * w / np.maximum(r, 1e-12) for r in roots)
            w = np.maximum(w - value / np.maximum(slope, 1e-6), 1e-3 * total)
        return np.asarray(2 * w)

    def middle(self, half_height_mm: FloatArray | float) -> FloatArray:
        """Return the bead's middle along every direction, mm from the point below the camera."""
        # to first order both tangents slope equally: the middle of the two, lifted by b
        return (self.low + self.high) / 2 * (1 - np.asarray(half_height_mm)[..., None] / self.above_mm)

    @property
    def view_slope(self) -> float:
        """Distance of the bead from the point below the camera, over the camera's height."""
        middle = self.middle(0.0)
        return float(np.hypot(middle[0], middle[DIRECTIONS // 2])) / self.above_mm

    @property
    def radial(self) -> NDArray[np.intp]:
        """Index of the direction away from the point below the camera, shape (...)."""
        middle = self.middle(0.0)
        angle = np.arctan2(middle[..., DIRECTIONS // 2], middle[..., 0]) % np.pi
        return np.rint(angle / np.pi * DIRECTIONS).astype(np.intp) % DIRECTIONS


def smallest(widths: FloatArray) -> FloatArray:
    """Return the smallest caliper sizes, of (..., DIRECTIONS).

    Between two flat sides it lies in a notch between directions.

    Examples
    --------
    A square of 10 mm whose sides lie between two of the directions:

    >>> turn = np.radians(0.2)
    >>> axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    >>> widths = 10 * np.abs(directions() @ axes.T).sum(axis=1)
    >>> f"{widths.min():.2f} {smallest(widths):.2f}"
    '10.03 10.00'
    """
    k = np.argmin(widths, axis=-1)[..., None]
    far, near, least, other, away = (
        np.take_along_axis(widths, (k + d) % widths.shape[-1], axis=-1)[..., 0] for d in (-2, -1, 0, 1, 2)
    )
    # lines through two values on each side cross at this offset from k, in steps
    left, right = near - far, away - other
    cross = (near - other + left + right) / np.maximum(right - left, 1e-12)
    value = np.maximum(near + left * (1 + cross), least - np.minimum(np.abs(left), np.abs(right)))
    return np.where(right - left < 1e-12, least, np.minimum(least, value))


def directions() -> FloatArray:
    """Return unit vectors over half a turn, shape (DIRECTIONS, 2)."""
    angle = np.arange(DIRECTIONS) * np.pi / DIRECTIONS
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)
