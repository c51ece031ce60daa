"""Size of a bead across its string, as the jaws of a caliper closing from both sides read it.

The jaws run along the string and stop at the widest point of either side. A camera does not see that size but
the rays that touch the bead on either side. Every plane through the projection centre C that touches a convex
solid centred at c with support function h satisfies n . (C - c) = h(n), n its unit normal towards the solid's
outside. The planes along a bead's sides hold the string's direction, so their normals are square to it and h
is the bead's radius whatever its profile: the size across follows in closed form from two tangent rays and
the height of the bead.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.strand.edges import Rims
from vision.strand.strip import StringPlane

_RIM_FLOOR_MM = 0.02
"""No rim is better known against a line than this, and no width by its rims. Half or double: last digits."""
_FEWEST, _UNKNOWN = 6, 0.02
"""Of fewer beads the scatter is unknown; their uncertainty is this share of their size."""
_NEIGHBOURS, _HIDDEN = 5, 1.25
"""The median of five holds the point itself: it hides a fifth of the scatter."""
_TURNED = 0.5
"""Beads of a kind that read unlike lie turned (facets, cubes): what the camera sees from its height is then
not quite what the jaws would close on. This share of the scatter is taken for that."""
_HOLES = (0.125, 0.24)
"""Hole over diameter of rounds: 1 mm in 8 mm, and in 4 mm (common practice, no source)."""
_ROUND_U, _WITHIN = 0.013, 2.5
"""Relative standard uncertainty of a round's proportion (half or double: last digits), and how many of them
99 in 100 lie within."""
_FACETED, _UNEVEN = 1.1, 0.04
"""What is cut with facets is wider than a round by the first; what is nearer to it than to a round is none
(at half of it the median error of sizes goes from 0.032 to 0.034 mm). Proportions of rounds scatter no more
than the second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """One size of each bead and its standard uncertainty, mm, each of shape (B,)."""

    mm: FloatArray
    u_mm: FloatArray


def tangent_angles(plane: StringPlane, rims: Rims, *, middles_mm: FloatArray) -> FloatArray:
    """Return the angles from the vertical of each bead's outermost rays, shape (B, 2), radians.

    `middles_mm`, shape (B,), is where along the string the beads lie.
    """
    rays = plane.at(rims.along_mm, rims.aside_mm) - plane.camera.centre_mm
    directions = np.array([plane.axis.direction_at(middle) for middle in middles_mm])
    return section_angles(rays, directions[:, None])


def section_angles(rays: FloatArray, direction: FloatArray) -> FloatArray:
    """Return the angles from the vertical of rays seen along a horizontal direction, radians.

    The plane that holds the direction and a ray is cut by the section square to the direction
    in a line at this angle; positive to the right of the direction (y runs down).

    Parameters
    ----------
    rays : ndarray, shape (..., 3)
        World (x, y, h), pointing down.
    direction : ndarray, shape (..., 2)
        Unit (x, y).

    Examples
    --------
    >>> ray, string = np.array([7.0, 1.0, -1.0]), np.array([1.0, 0.0])  # how far along does not matter
    >>> float(np.degrees(section_angles(ray, string)))
    45.0
    """
    aside = rays[..., 1] * direction[..., 0] - rays[..., 0] * direction[..., 1]
    return np.asarray(np.arctan2(aside, -rays[..., 2]))


def radii(angles: FloatArray, *, camera_above_mm: float, centre_above_mm: float | None = None) -> FloatArray:
    """Return the radius of round sections from the two rays that touch each, mm, shape (...).

    In the section square to the string: the camera at height H over the surface that the bead rests on, rays
    at these angles from the vertical. Half the angle between them is a, its middle m; the centre lies on the
    middle ray at distance r / sin a, hence H - z = r cos m / sin a. Resting, z = r, so r = H / (1 + cos m /
    sin a); held at z on a rod, r = (H - z) sin a / cos m. For a sphere straight below they give Dandelin's
    short axis d sqrt(H / (H - d)) back.

    Parameters
    ----------
    angles : ndarray, shape (..., 2)
        Radians from the vertical, left then right.
    camera_above_mm : float
        Height H of the projection centre above the surface.
    centre_above_mm : float, optional
        Height z of the centres above the surface where a rod holds the beads; without it each rests.

    Examples
    --------
    An 8 mm round on the bed, 300 mm below the camera, reads 8.109 mm wide on the plane of the bed:

    >>> edge = np.arctan(8.1089 / 2 / 300)
    >>> round(2 * float(radii(np.array([-edge, edge]), camera_above_mm=300.0)), 3)
    8.0
    """
    left, right = angles[..., 0], angles[..., 1]
    stretch = np.cos((right + left) / 2) / np.sin((right - left) / 2)
    if centre_above_mm is None:
        return np.asarray(camera_above_mm / (1 + stretch))
    return np.asarray((camera_above_mm - centre_above_mm) / stretch)


def rod_height(beads_mm: float, stoppers_mm: Sequence[float]) -> tuple[float, float]:
    """Return the height of a rod over the bed, and its standard uncertainty, from the thickest radii.

    The thickest bead or stopper lies on the bed and holds up the rest. But a clip is flatter than it is wide,
    and a cone may lie on its thin end: a rod lies anywhere between (rectangular, JCGM 100:2008, 4.3.7).

    Examples
    --------
    >>> rod_height(4.0, [3.0, 7.0])[0]
    5.5
    """
    highest = max(beads_mm, *stoppers_mm, 0.0)
    return (beads_mm + highest) / 2, (highest - beads_mm) / math.sqrt(12)


def on_one_rod(rims: Rims) -> Rims:
    """Return the rims of beads on a rod, each pair corrected by all threading one straight line.

    The rod runs through the middle of every bead and stopper. Where one side of a bead is poorly seen,
    or its shadow is taken for it, the other side and the line that the clearer ones define show where it
    must be: weighted least squares of the two sides and the line.
    """
    along = (rims.along_mm[:, 0] + rims.along_mm[:, 1]) / 2
    left, right = rims.aside_mm.T
    u_left, u_right = rims.u_mm.T + _RIM_FLOOR_MM
    middle = _robust_line(along, rims.middle_mm, np.hypot(u_left, u_right) / 2)
    # radius from either side of the line; the clearer side counts for more
    weight = 1 / u_left**2 + 1 / u_right**2
    radius = ((middle - left) / u_left**2 + (right - middle) / u_right**2) / weight
    # sides that disagree about the rod by more than their uncertainty are less certain than they seem
    shared = np.hypot(1 / np.sqrt(weight), (rims.middle_mm - middle) / 2)
    aside = np.column_stack([middle - radius, middle + radius])
    return replace(rims, aside_mm=aside, u_mm=np.column_stack([shared, shared]))


def _robust_line(x: FloatArray, y: FloatArray, u: FloatArray) -> FloatArray:
    """Return the straight line through points of given uncertainty, at x, shape (N,)."""
    weight: FloatArray = 1 / u
    for _ in range(6):
        fit = np.linalg.lstsq(np.vander(x, 2) * weight[:, None], y * weight, rcond=None)[0]
        pull = (y - np.vander(x, 2) @ fit) / (2 * u)
        weight = 1 / u / (1 + pull**2)
    return np.vander(x, 2) @ fit


def rim_noise(width_mm: FloatArray, middle_mm: FloatArray, *, alike: bool) -> FloatArray:
    """Return the standard uncertainty of widths that misplaced rims leave, shape (B,), mm.

    The string runs through the middle of every bead, so a middle that jumps aside of its neighbours'
    shows a rim misplaced on one side, and the width is off by twice as much. Where beads of one kind
    read unlike, they differ, or lie turned.

    Parameters
    ----------
    width_mm, middle_mm : ndarray, shape (B,)
        Size across, and how far aside of the axis the middle between the rims lies.
    alike : bool
        Whether the beads are of one kind.
    """
    if len(width_mm) < _FEWEST:
        return np.full(len(width_mm), _UNKNOWN * float(np.median(width_mm)))
    jumps = middle_mm - ndimage.median_filter(middle_mm, size=_NEIGHBOURS, mode="nearest")
    noise = float(np.hypot(2 * _HIDDEN * robust_sd(jumps), _RIM_FLOOR_MM))
    return np.full(len(width_mm), np.hypot(noise, _TURNED * robust_sd(width_mm) if alike else 0.0))


def as_rounds(across: Sizes, along_mm: FloatArray) -> Sizes:
    """Return the sizes across of a strand (B,), drawn towards the proportion of rounds if they may be rounds.

    A sphere of diameter d with a hole h measures sqrt(d^2 - h^2) along it (closed form). The period of many
    beads gives that well, even where coatings and polished metal hide the sides: drawn rounds of metal are
    0.3 mm off without it. The uncertainty stays what the sides leave: they may be no rounds after all.

    Examples
    --------
    An 8 mm round with a hole of 1 mm, measured 7.8 mm across, give or take 0.4:

    >>> seen = Sizes(mm=np.full(10, 7.8), u_mm=np.full(10, 0.2))
    >>> round(float(as_rounds(seen, np.full(10, 7.937)).mm[0]), 2)
    7.96
    """
    proportions = across.mm / along_mm
    middle, u = float(np.median(proportions)), float(np.median(across.u_mm / across.mm))
    least, most = 1 / np.sqrt(1 - np.square(_HOLES))
    off = np.log(middle / np.clip(middle, least, most))
    uneven = len(along_mm) < _FEWEST or robust_sd(proportions / middle, about=1.0) > _UNEVEN
    if uneven or abs(off) > _WITHIN * np.hypot(u, _ROUND_U) or middle > np.sqrt(_FACETED * most):
        return across
    return replace(across, mm=across.mm * np.exp(-off * u**2 / (u**2 + _ROUND_U**2)))
