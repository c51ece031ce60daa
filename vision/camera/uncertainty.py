"""The uncertainty budget: what every size owes to the camera, and how contributions add up (JCGM 100:2008).

Contributions are standard uncertainties in mm, independent of each other, so they add as squares (5.1.2).
"""

import numpy as np

from vision.camera.camera import CROSS, Camera
from vision.common.numerics import COVERAGE_FACTOR
from vision.common.records import FloatArray

_ANGLES = np.arange(8) * np.pi / 8
_DIRECTIONS = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])
"""All round by steps in which a length's change, a sine of twice the angle, is met to 8 %."""


def expanded(*parts_mm: FloatArray | float) -> FloatArray:
    """Combine standard uncertainties and expand the result, mm.

    Examples
    --------
    >>> float(expanded(0.03, 0.04))
    0.1
    """
    total = sum(np.asarray(part, dtype=float) ** 2 for part in parts_mm)
    return COVERAGE_FACTOR * np.sqrt(total)


def camera_rel_u(camera: Camera, points_mm: FloatArray) -> FloatArray:
    """Return the relative standard uncertainty of small lengths at world points, due to the camera's fit.

    The image of a cross about each point is held fixed. Cameras displaced along the principal axes of the
    covariance project it back to the same height; the changes of a length add as squares. A camera that may
    be tilted, or its picture stretched, changes lengths differently in different directions, and the beads of
    a strand share one: the direction that changes most counts.

    Parameters
    ----------
    camera : Camera
    points_mm : ndarray, shape (..., 3)
        World (x, y, h).

    Returns
    -------
    ndarray, shape (...)
    """
    pixels, heights = camera.project(points_mm[..., None, :] + CROSS), points_mm[..., 2:]
    ends = np.stack([variant.to_plane(pixels, heights) for variant in camera.variants()])
    # Rows east - west and south - north; the camera's own are those of `CROSS`.
    strain = (ends[..., 0::2, :] - ends[..., 1::2, :]) / 2 - np.eye(2)
    changes = np.einsum("ki,v...ij,kj->kv...", _DIRECTIONS, strain, _DIRECTIONS)
    return np.asarray(np.linalg.norm(changes, axis=1).max(axis=0))
