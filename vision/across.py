"""Size of a bead across its string, as the jaws of a caliper closing from both sides read it.

The jaws run along the string and stop at the widest point of either side. In the photo these are
the outermost rays of the bead on either side; two tangent rays and the bead's height give its size
in closed form (`vision.solid`).
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from vision.axis import STEP_MM, Axis
from vision.camera import Camera
from vision.partition import Segment
from vision.records import FloatArray
from vision.rims import Rims
from vision.solid import radius_from_tangents, section_angles

_TRIM = 0.1
"""Share of the length at each end where a neighbour may hide the side."""
_CREST = 0.17
"""Half width of the crest that is fitted, as a share of the length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tangents:
    """The outermost rays of one segment.

    Attributes
    ----------
    left, right : float
        Angles from the vertical in the section square to the string, radians.
    scatter : float
        Standard deviation of the edge points about their crests, radians; of both sides together.
    points : int
        Independent edge points behind each of them.
    strength : float
        Typical steepness of the two edges over the bed's noise.
    """

    left: float
    right: float
    scatter: float
    points: float
    strength: float


def tangents(camera: Camera, axis: Axis, rims: Rims, segment: Segment) -> Tangents:
    """Find the outermost rays of a segment on either side."""
    trim = _TRIM * segment.length_mm
    first = max(0, round((segment.start_mm + trim) / STEP_MM))
    last = min(len(axis.points_mm), round((segment.end_mm - trim) / STEP_MM) + 1)
    if last - first < 3:
        first, last = max(0, first - 2), min(len(axis.points_mm), last + 2)
    direction = axis.direction_at(segment.middle_mm)
    columns = np.arange(first, last)
    window = max(2, round(_CREST * segment.length_mm / STEP_MM))
    ends, scatters, weak = [], [], []
    for sign, pixels, strength in (
        (-1.0, rims.left_px[columns], rims.strength[0, columns]),
        (1.0, rims.right_px[columns], rims.strength[1, columns]),
    ):
        outward = sign * section_angles(camera.rays(pixels), direction)
        top, scatter, near = _crest(outward, window)
        ends.append(sign * top)
        scatters.append(scatter)
        weak.append(float(np.median(strength[near])))
    # edge points of neighbouring steps share their pixels: about one in four is independent
    return Tangents(
        left=ends[0],
        right=ends[1],
        scatter=float(np.hypot(*scatters)),
        points=max(1.0, (2 * window + 1) / 4),
        strength=float(min(weak)),
    )


def _crest(outward: FloatArray, window: int) -> tuple[float, float, FloatArray]:
    """Return the height of a side's crest, the scatter about it, and the indices it rests on.

    A parabola through the points near the top, reweighted so that a stray edge point does not pull.
    """
    smooth = ndimage.median_filter(outward, size=min(5, len(outward)), mode="nearest")
    smooth = ndimage.gaussian_filter1d(smooth, 1.5, mode="nearest")
    top = int(np.clip(np.argmax(smooth), window, max(window, len(outward) - 1 - window)))
    near = np.arange(max(0, top - window), min(len(outward), top + window + 1))
    x, y = (near - top) / window, outward[near]
    weight, fit, spread = np.ones(len(near)), np.zeros(3), 0.0
    for _ in range(4):
        design = np.vander(x, 3) * weight[:, None]
        fit = np.linalg.lstsq(design, y * weight, rcond=None)[0]
        residual = y - np.vander(x, 3) @ fit
        spread = 1.4826 * float(np.median(np.abs(residual))) + 1e-6
        weight = 1 / (1 + (residual / (2.5 * spread)) ** 2)
    at = float(np.clip(-fit[1] / (2 * fit[0]), -1, 1)) if fit[0] < 0 else 0.0
    return float(np.polyval(fit, at)), spread, near


def radii(
    sides: list[Tangents], *, camera_above_mm: float, centre_above_mm: float | None
) -> FloatArray:
    """Return the radius across the string of each segment, mm."""
    left, right = np.array([s.left for s in sides]), np.array([s.right for s in sides])
    return radius_from_tangents(
        left, right, camera_above_mm=camera_above_mm, centre_above_mm=centre_above_mm
    )
