"""The uncertainty budget: what each size owes to edges, scale, camera and height (JCGM 100:2008).

Contributions are standard uncertainties in mm, independent of each other, so they add as squares; the
expanded uncertainty is twice the result (k = 2, about 95 %).
"""

import math

import numpy as np

from vision.camera.camera import CROSS, Camera, root_area
from vision.common.records import FloatArray

COVERAGE_FACTOR = 2.0
CHECK_LENGTH_UNKNOWN_REL = 0.01 / math.sqrt(3)
"""Printers are off by 1 % now and then: rectangular, of that half width (dated trade notes)."""
EDGE_BIAS_PX = 0.35
"""How far a real edge's light may fool the edge model, one side, a standard deviation in pixels."""


def expanded(*parts_mm: FloatArray | float) -> FloatArray:
    """Combine standard uncertainties and expand them, mm."""
    total = sum(np.asarray(part, dtype=float) ** 2 for part in parts_mm)
    return COVERAGE_FACTOR * np.sqrt(total)


def scale_rel_u(check_length_mm: float | None, check_length_u_mm: float) -> float:
    """Return the relative standard uncertainty of the sheet's scale."""
    if check_length_mm is None:
        return CHECK_LENGTH_UNKNOWN_REL
    return check_length_u_mm / check_length_mm


def camera_rel_u(camera: Camera, point_mm: FloatArray) -> float:
    """Return the relative standard uncertainty of a small length at a world point, from the camera's fit.

    The point's image is held fixed and laid back on the same height by cameras displaced along the axes
    of the covariance; what changes is the length that a pixel stands for.

    Parameters
    ----------
    point_mm : ndarray, shape (3,)
        World (x, y, h).
    """
    pixels = camera.project(point_mm + CROSS)

    def size(seen: Camera) -> float:
        return root_area(seen.to_plane(pixels, float(point_mm[2])))

    own = size(camera)
    return math.sqrt(sum((size(variant) / own - 1) ** 2 for variant in camera.variants()))
