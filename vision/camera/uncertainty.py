"""The uncertainty budget: what every size owes to the camera, and how contributions add up (JCGM 100:2008).

Contributions are standard uncertainties in mm, independent of each other, so they add as squares (5.1.2).
"""

import math

import numpy as np

from vision.camera.camera import CROSS, Camera, root_area
from vision.common.records import FloatArray

COVERAGE_FACTOR = 2.0
"""An expanded uncertainty is k = 2 standard ones: about 95 % (JCGM 100:2008, 6.3.3)."""


def expanded(*parts_mm: FloatArray | float) -> FloatArray:
    """Combine standard uncertainties and expand the result, mm.

    Examples
    --------
    >>> float(expanded(0.03, 0.04))
    0.1
    """
    total = sum(np.asarray(part, dtype=float) ** 2 for part in parts_mm)
    return COVERAGE_FACTOR * np.sqrt(total)


def camera_rel_u(camera: Camera, point_mm: FloatArray) -> float:
    """Return the relative standard uncertainty of a small length at a world point, due to the camera's fit.

    The image of a square millimetre or two about the point is held fixed. Cameras displaced along the
    principal axes of the covariance project it back to the same height; the changes of its side add as
    squares.

    Parameters
    ----------
    camera : Camera
    point_mm : ndarray, shape (3,)
        World (x, y, h).
    """
    pixels = camera.project(point_mm + CROSS)

    def size(seen: Camera) -> float:
        return root_area(seen.to_plane(pixels, float(point_mm[2])))

    own = size(camera)
    return math.sqrt(sum((size(variant) / own - 1) ** 2 for variant in camera.variants()))
