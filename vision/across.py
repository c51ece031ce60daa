"""Size of a bead across its string, as the jaws of a caliper closing from both sides read it.

The jaws run along the string and stop at the widest point of either side. In the photo these are
the outermost rays of the bead on either side; two tangent rays and the bead's height give its size
in closed form (`vision.solid`).
"""

import numpy as np

from vision.axis import Axis
from vision.camera import Camera
from vision.partition import Segment
from vision.records import FloatArray
from vision.rims import Rim
from vision.solid import radius_from_tangents, section_angles


def tangent_angles(
    camera: Camera, axis: Axis, segments: list[Segment], rims: list[tuple[Rim, Rim]], *, height_mm: float
) -> FloatArray:
    """Return the angles from the vertical of each segment's outermost rays, shape (B, 2), radians."""
    angles = np.empty((len(segments), 2))
    for k, (segment, pair) in enumerate(zip(segments, rims, strict=True)):
        points = axis.at(np.array([r.along_mm for r in pair]), np.array([r.aside_mm for r in pair]))
        ground = np.column_stack([points, np.full(2, height_mm)])
        rays = ground - camera.centre_mm
        angles[k] = section_angles(rays, axis.direction_at(segment.middle_mm))
    return angles


def radii(angles: FloatArray, *, camera_above_mm: float, centre_above_mm: float | None) -> FloatArray:
    """Return the radius across the string of each segment, mm, shape (B,)."""
    return radius_from_tangents(
        angles[:, 0], angles[:, 1], camera_above_mm=camera_above_mm, centre_above_mm=centre_above_mm
    )
