"""What the camera sees of an ellipsoid, in closed form: what outlines and sizes are tested against."""

import math

import numpy as np

from vision.common.records import FloatArray


def ellipsoid_outline(
    centre_mm: FloatArray, axes_mm: FloatArray, camera_mm: FloatArray, *, points: int = 64
) -> FloatArray:
    """Return world points on the outline (contour generator) of an ellipsoid seen from a camera.

    In the frame where the ellipsoid is the unit sphere the outline is the circle on which the
    tangent cone from the camera touches: centre k / |k|^2, radius sqrt(1 - 1 / |k|^2), k the camera's
    place in that frame. Its projection is the conic that the quadric projects to
    (Hartley & Zisserman, 8.3), without squaring pixel coordinates.

    Parameters
    ----------
    centre_mm : ndarray, shape (3,)
        World (x, y, h).
    axes_mm : ndarray, shape (3, 3)
        Rows are the semi-axes as vectors.
    camera_mm : ndarray, shape (3,)
    points : int

    Returns
    -------
    ndarray, shape (points, 3)
    """
    frame = np.linalg.inv(axes_mm.T)
    view = frame @ (camera_mm - centre_mm)
    reach2 = float(view @ view)
    middle = view / reach2
    radius = math.sqrt(max(0.0, 1 - 1 / reach2))
    first = np.cross(view, [0.0, 0.0, 1.0] if abs(view[2]) < 0.9 * math.sqrt(reach2) else [1.0, 0.0, 0.0])
    first /= np.linalg.norm(first)
    second = np.cross(view, first) / math.sqrt(reach2)
    angle = np.linspace(0, 2 * math.pi, points, endpoint=False)[:, None]
    circle = middle + radius * (np.cos(angle) * first + np.sin(angle) * second)
    outline: FloatArray = centre_mm + circle @ axes_mm
    return outline
