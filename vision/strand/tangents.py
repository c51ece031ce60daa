"""What a solid on the bed shows to the camera, and its inverse: from tangent rays to sizes.

A camera does not see a bead's size but the cone of rays that touch it. Every plane through the
projection centre C that touches a convex solid centred at c with support function h satisfies
n . (C - c) = h(n), n its unit normal towards the solid's outside. For a bead on a string the planes
along its sides hold the string's direction, so their normals are square to it and h is the
bead's radius whatever its profile: the size across follows in closed form from two tangent rays.
"""

import numpy as np

from vision.common.records import FloatArray


def radius_from_tangents(
    angle_left: FloatArray,
    angle_right: FloatArray,
    *,
    camera_above_mm: float,
    centre_above_mm: float | None,
) -> FloatArray:
    """Return the radius of a round section from the two rays that touch it.

    In the section square to the string: the camera at height H = `camera_above_mm` over the surface
    the bead rests on, rays at these angles from the vertical. Half the angle between them is a,
    its middle m; the centre lies on the middle ray at distance r / sin a, hence
    H - z = r cos m / sin a. Resting, z = r, so r = H / (1 + cos m / sin a); held at z on a
    rod, r = (H - z) sin a / cos m. Closed forms; for a sphere straight below they give Dandelin's
    short axis d sqrt(H / (H - d)) back.

    Parameters
    ----------
    angle_left, angle_right : ndarray
        Radians from the vertical, left < right.
    camera_above_mm : float
        Height of the projection centre above the surface.
    centre_above_mm : float or None
        Height of the centre above the surface where a rod holds it; None: the bead rests on the surface.

    Returns
    -------
    radius_mm : ndarray
    """
    half, middle = (angle_right - angle_left) / 2, (angle_right + angle_left) / 2
    stretch = np.cos(middle) / np.sin(half)
    if centre_above_mm is None:
        return np.asarray(camera_above_mm / (1 + stretch))
    return np.asarray((camera_above_mm - centre_above_mm) / stretch)


def section_angles(rays: FloatArray, direction: FloatArray) -> FloatArray:
    """Return the angles from the vertical of rays seen along a horizontal direction, radians.

    The plane that holds the direction and a ray is cut by the section square to the direction
    in a line at this angle; positive to the right of the direction (y runs down).

    Parameters
    ----------
    rays : ndarray, shape (..., 3)
        World (x, y, h), pointing down.
    direction : ndarray, shape (2,)
        Unit (x, y).
    """
    aside = rays[..., 1] * direction[0] - rays[..., 0] * direction[1]
    return np.asarray(np.arctan2(aside, -rays[..., 2]))
