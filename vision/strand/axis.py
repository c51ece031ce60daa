"""The course of the string: from points along it to a smooth curve in equal steps.

All lengths are in the plane parallel to the sheet at the height of the string.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import make_smoothing_spline

from vision.common.numerics import evenly, quarter_turn, read_backwards, robust_sd, travel, unit
from vision.common.records import FloatArray

STEP_MM = 0.1
"""Spacing of points along the curve. At half nothing is gained in twice the time; double: 45 more flags."""
WAVE = 6.0
"""Waves shorter than so many half widths of the beads, three beads, are not the string's."""
_END_SAGS = 4.0
"""Length of an end, in sags allowed: a guard against wires that are straight but for a bent end."""
_LEAST_SPREAD_MM = 0.02
"""Points that lie straighter than this are weighted alike."""
_FEWEST = 5
"""Points that a smoothing spline takes; fewer are joined by straight lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A smooth curve in equal steps.

    Attributes
    ----------
    points_mm : ndarray, shape (N, 2)
        World (x, y), `STEP_MM` apart.
    directions : ndarray, shape (N, 2)
        Unit tangents.
    straight : bool
        True for a rod: the curve is one straight line.
    """

    points_mm: FloatArray
    directions: FloatArray
    straight: bool

    @property
    def normals(self) -> FloatArray:
        """Unit normals (N, 2), to the right of the tangent as seen on the photo (y runs down)."""
        return quarter_turn(self.directions)

    def at(self, along_mm: FloatArray, aside_mm: FloatArray) -> FloatArray:
        """World (x, y) of strip coordinates: `along_mm` from the first point, `aside_mm` to the right.

        Examples
        --------
        >>> points = np.column_stack([np.arange(21.0), np.full(21, 5.0)])
        >>> rightwards = smooth_axis(points, wavelength_mm=25.0, straight_within_mm=1.0)
        >>> rightwards.at(np.array([4.0]), np.array([2.0])).round(9).tolist()  # y runs down
        [[4.0, 7.0]]
        """
        steps = np.arange(len(self.points_mm)) * STEP_MM
        x, y, nx, ny = (np.interp(along_mm, steps, column) for column in (*self.points_mm.T, *self.normals.T))
        return np.stack([x + aside_mm * nx, y + aside_mm * ny], axis=-1)

    @property
    def length_mm(self) -> float:
        """Length from end to end."""
        return (len(self.points_mm) - 1) * STEP_MM

    def extended(self, by_mm: float) -> "Axis":
        """Return the axis with straight continuations at both ends."""
        return _axis(_extended(self.points_mm, by_mm), straight=self.straight)

    def direction_at(self, along_mm: float) -> FloatArray:
        """Return the unit tangent (2,) at `along_mm`."""
        index = int(np.clip(round(along_mm / STEP_MM), 0, len(self.directions) - 1))
        return self.directions[index]


def smooth_axis(
    points_mm: FloatArray, *, wavelength_mm: float, straight_within_mm: float, extend_mm: float = 0.0
) -> Axis:
    """Smooth a sequence of points and step along it, left to right (downwards where upright).

    Parameters
    ----------
    points_mm : ndarray, shape (N, 2)
    wavelength_mm : float
        Waves shorter than this are smoothed away.
    straight_within_mm : float
        A course that sags by less than this is a rod's: the strand is then a straight line.
    extend_mm : float
        Straight continuation at both ends.
    """
    points = points_mm[::-1] if read_backwards(points_mm[-1] - points_mm[0]) else points_mm
    line = _straight_line(points, straight_within_mm)
    curve = line if line is not None else _spline(points, wavelength_mm)
    return _axis(_extended(curve, extend_mm), straight=line is not None)


def _extended(curve: FloatArray, by_mm: float) -> FloatArray:
    """Return a curve in equal steps with straight continuations at both ends."""
    first, last = curve[1] - curve[0], curve[-1] - curve[-2]
    steps = np.arange(1, round(by_mm / STEP_MM) + 1)[:, None] * STEP_MM
    before = curve[0] - steps[::-1] * first / np.linalg.norm(first)
    after = curve[-1] + steps * last / np.linalg.norm(last)
    return np.concatenate([before, curve, after])


def _axis(curve: FloatArray, *, straight: bool) -> Axis:
    return Axis(points_mm=curve, directions=unit(np.gradient(curve, axis=0)), straight=straight)


def _straight_line(points: FloatArray, within_mm: float) -> FloatArray | None:
    """Return the points of the straight line through `points`, or None where they are curved."""
    weight = np.ones(len(points))
    for _ in range(5):
        middle = np.average(points, axis=0, weights=weight)
        direction = np.linalg.svd((points - middle) * weight[:, None], full_matrices=False)[2][0]
        aside = (points - middle) @ quarter_turn(direction)
        spread = max(robust_sd(aside, about=0.0), _LEAST_SPREAD_MM)
        weight = 1 / (1 + (aside / (2 * spread)) ** 2)
    reach = (points - middle) @ direction
    # `full`: no warning where a few points lie too near to each other to show a bow
    bow, _ = np.polynomial.polynomial.polyfit(reach, aside, 2, w=weight, full=True)
    sag = abs(float(bow[2])) * (np.ptp(reach) / 2) ** 2
    # a wire may be straight but for an end that leaves the line
    off_ends = [reach - reach.min(), reach.max() - reach]
    ends = (np.abs(np.median(aside[off <= _END_SAGS * within_mm])) for off in off_ends)
    if robust_sd(aside, about=0.0) > within_mm / 2 or sag > within_mm or max(ends) > 2 * within_mm:
        return None
    if (points[-1] - points[0]) @ direction < 0:
        direction, reach = -direction, -reach
    steps = np.arange(reach.min(), reach.max() + STEP_MM, STEP_MM)
    return middle + steps[:, None] * direction


def _spline(points: FloatArray, wavelength_mm: float) -> FloatArray:
    """Return the smoothing spline through `points` in equal steps, shape (N, 2)."""
    along = travel(points)
    keep = np.concatenate([[True], np.diff(along) > 1e-6])
    along, points = along[keep], points[keep]
    if len(along) < _FEWEST:
        return evenly(points, max(round(along[-1] / STEP_MM), 1) + 1)
    # the spline halves waves for which lambda k^4 equals the density of points
    stiffness = (wavelength_mm / (2 * np.pi)) ** 4 * len(along) / along[-1]
    spline = make_smoothing_spline(along, points, lam=stiffness)
    fine = np.arange(0, along[-1], STEP_MM / 2)
    length = travel(spline(fine))
    even = np.interp(np.arange(0, length[-1], STEP_MM), length, fine)
    return np.asarray(spline(even))
