"""Caliper sizes of a resting bead from its outline: tangent planes through the projection centre.

A caliper closing along the direction e touches the bead with two vertical planes; the camera sees two
others, that hold the projection centre C and the horizontal direction square to e. Projected along
that direction the bead is a flat figure of half width w on the bed, its middle at half its height b.
With t the slope of a tangent ray (0 straight below the camera), support functions give for each side

    (distance of C from the middle, along e) + (H - b) t = g(w, t),

and the sum of both sides leaves one equation for w, whatever the middle. g depends on the figure:
sqrt(w^2 + b^2 t^2) for an ellipse, w + b |t| for a box, and for anything between, the sum of a segment
w - q and an ellipse of half width q. A sphere gives Dandelin's ellipse back.
"""

from dataclasses import dataclass

import numpy as np

from vision.common.records import FloatArray

DIRECTIONS = 360


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """What the camera saw of one bead in all directions, on the plane of the bed.

    Attributes
    ----------
    low, high : ndarray, shape (DIRECTIONS,)
        Where the two tangent planes cut the bed, mm along each direction, from the camera's foot.
    above_mm : float
        Height of the camera above the bed.
    """

    low: FloatArray
    high: FloatArray
    above_mm: float

    @classmethod
    def of(cls, polygon_mm: FloatArray, camera_mm: FloatArray, bed_height_mm: float) -> "Section":
        """Take an outline, (N, 2) on the bed's plane, seen from a camera (x, y, h)."""
        along = (polygon_mm - camera_mm[:2]) @ directions().T
        return cls(
            low=along.min(axis=0), high=along.max(axis=0), above_mm=float(camera_mm[2] - bed_height_mm)
        )

    def widths(
        self, half_height: float, *, round_part: FloatArray | float = 1.0, bevel: float = 0.0
    ) -> FloatArray:
        """Return the caliper size in every direction, shape (DIRECTIONS,).

        Parameters
        ----------
        half_height : float
            b, mm.
        round_part : float or ndarray
            q / w: 1 for an ellipsoid, 0 for an upright prism.
        bevel : float
            Share of b that a prism's sides lose to its bevelled or rounded edges.
        """
        left, right = self.low / self.above_mm, self.high / self.above_mm
        total = (self.above_mm - half_height) * (right - left)
        upright = (1 - bevel) * half_height
        lean2 = (upright * left) ** 2, (upright * right) ** 2
        w = total / 2
        q = np.asarray(round_part, dtype=float)
        for _ in range(6):  # Newton; the sum is nearly linear in w
            roots = [np.sqrt((q * w) ** 2 + s) for s in lean2]
            value = 2 * (1 - q) * w + roots[0] + roots[1] - total
            slope = 2 * (1 - q) + sum(q * q * w / np.maximum(r, 1e-12) for r in roots)
            w = np.maximum(w - value / np.maximum(slope, 1e-6), 1e-3 * total)
        return np.asarray(2 * w)

    def middle(self, half_height: float) -> FloatArray:
        """Return the bead's middle along every direction, mm from the camera's foot."""
        # both tangents lean alike on both sides to first order: the middle of the two, lifted by b
        return (self.low + self.high) / 2 * (1 - half_height / self.above_mm)


def smallest(widths: FloatArray) -> float:
    """Return the smallest caliper size; between two flat sides it lies in a notch between directions."""
    k = int(np.argmin(widths))
    far, near, other, away = (float(widths[(k + d) % len(widths)]) for d in (-2, -1, 1, 2))
    # lines through two values on each side cross at this offset from k, in steps
    left, right = near - far, away - other
    if right - left < 1e-12:
        return float(widths[k])
    cross = (near - other + left + right) / (right - left)
    value = near + left * (1 + cross)
    return min(float(widths[k]), max(value, float(widths[k]) - abs(left), float(widths[k]) - abs(right)))


def directions() -> FloatArray:
    """Return unit vectors over half a turn, shape (DIRECTIONS, 2)."""
    angle = np.arange(DIRECTIONS) * np.pi / DIRECTIONS
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)
