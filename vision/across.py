"""Size of a bead across its string, as the jaws of a caliper closing from both sides read it.

The jaws run along the string and stop at the widest point of either side. In the photo these are
the outermost rays of the bead on either side; two tangent rays and the bead's height give its size
in closed form (`vision.solid`).
"""

from dataclasses import replace

import numpy as np
from scipy import ndimage

from vision.axis import STEP_MM, Axis
from vision.camera import Camera
from vision.flanks import Flanks
from vision.records import FloatArray
from vision.rims import Rim
from vision.segment import Segment
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


_OWN_REL = 0.004
"""No lot is more even than this: standard deviation of a bead's size, as a share of it."""
_FEWEST = 6
_ONE_SIDED = 0.25
_TURNED = 0.5
"""Beads of a lot that read unlike lie turned (facets, cubes): what the camera sees from its height is
then not quite what the jaws would close on; this share of the scatter is taken for that."""
_CUT_SIDES = 8
"""Sides of what is cut in the round (common practice, no source)."""
_CUT_SD = 0.03
"""Relative standard deviation of the width of a regular prism over all turns: 0.023 of eight sides, 0.040 of
six, 0.088 of a cube (closed form: about 0.3 (1 - cos(pi / n)))."""
_ODD = 4.0


def bare_rod(flanks: Flanks, segments: list[Segment], *, thickest_mm: float) -> list[tuple[float, float]]:
    """Return where the bare rod is seen beyond either end: (along, aside) of its middle, mm.

    Parameters
    ----------
    flanks : Flanks
    segments : list of Segment
        Beads and stoppers.
    thickest_mm : float
        Width of the thickest of them.
    """
    places = np.arange(len(flanks.width_mm)) * STEP_MM
    thin = (flanks.width_mm > _THINNEST_ROD_MM) & (flanks.width_mm < _ROD_SHARE * thickest_mm)
    found = []
    for beyond in (places < segments[0].start_mm - 1.0, places > segments[-1].end_mm + 1.0):
        seen = thin & beyond
        if seen.sum() * STEP_MM < _ROD_SEEN_MM:
            continue
        middle = (flanks.left_mm[seen] + flanks.right_mm[seen]) / 2
        if np.median(np.abs(middle - np.median(middle))) < _ROD_SCATTER_MM:
            found.append((float(np.median(places[seen])), float(np.median(middle))))
    return found


_THINNEST_ROD_MM, _ROD_SHARE, _ROD_SEEN_MM, _ROD_SCATTER_MM, _ROD_U_MM = 0.3, 0.4, 2.0, 0.12, 0.06


def on_one_rod(rims: list[tuple[Rim, Rim]], rod: list[tuple[float, float]]) -> list[tuple[Rim, Rim]]:
    """Return the rims of beads on a rod, each pair corrected by all threading one straight line.

    The rod runs through the middle of every bead and stopper. Where one side of a bead is hardly seen,
    or its shadow is taken for it, the other side and the line that the clearer ones and the bare rod
    define tell where it must be: weighted least squares of the two sides and the line.

    Parameters
    ----------
    rims : list of pairs of Rim
    rod : list of pairs of float
        (along, aside) of the bare rod's middle where it is seen, mm.
    """
    along = np.array([(left.along_mm + right.along_mm) / 2 for left, right in rims])
    sides = np.array([(left.aside_mm, right.aside_mm) for left, right in rims])
    u = np.array([(left.u_mm, right.u_mm) for left, right in rims]) + _RIM_FLOOR_MM
    line = _robust_line(
        np.concatenate([along, [a for a, _ in rod]]),
        np.concatenate([sides.mean(axis=1), [b for _, b in rod]]),
        np.concatenate([np.hypot(u[:, 0], u[:, 1]) / 2, np.full(len(rod), _ROD_U_MM / np.sqrt(len(rims)))]),
    )[: len(along)]
    corrected = []
    for (left, right), (a, b), (ua, ub), middle in zip(rims, sides, u, line, strict=True):
        # radius from either side of the line; the clearer side counts for more
        radius = ((middle - a) / ua**2 + (b - middle) / ub**2) / (1 / ua**2 + 1 / ub**2)
        shared = 1 / np.sqrt(1 / ua**2 + 1 / ub**2)
        # sides that disagree about the rod by more than their doubt are more doubtful than they seem
        shared = np.hypot(shared, ((a + b) / 2 - middle) / 2)
        corrected.append(
            (
                replace(left, aside_mm=float(middle - radius), u_mm=float(shared)),
                replace(right, aside_mm=float(middle + radius), u_mm=float(shared)),
            )
        )
    return corrected


_RIM_FLOOR_MM = 0.02


def _robust_line(x: FloatArray, y: FloatArray, u: FloatArray) -> FloatArray:
    """Return the straight line through points of given uncertainty, at x, shape (N,)."""
    fit: FloatArray = np.zeros(2)
    weight: FloatArray = 1 / u
    for _ in range(6):
        fit = np.linalg.lstsq(np.vander(x, 2) * weight[:, None], y * weight, rcond=None)[0]
        pull = (y - np.vander(x, 2) @ fit) / (2 * u)
        weight = 1 / u / (1 + pull**2)
    return np.vander(x, 2) @ fit


def settle_widths(
    width_mm: FloatArray, middle_mm: FloatArray, *, lean_rad: FloatArray, along_mm: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """Return widths with the noise of their rims estimated and taken out, and its standard uncertainty.

    The string runs through the middle of every bead, so a middle that jumps aside of its neighbours'
    tells of a rim misplaced on one side, and the width is off by twice as much. In a uniform strand
    what the widths scatter beyond that is the beads' own: they differ in size, as their lengths do, or
    have facets and lie turned. Each width is drawn towards the mean as far as its noise demands, and
    as little as its facets let the camera see of it (the best linear estimate); a bead that really
    differs is left alone.

    Parameters
    ----------
    width_mm, middle_mm : ndarray, shape (B,)
        Size across, and how far aside of the axis the middle between the rims lies.
    lean_rad : ndarray, shape (B,)
        Angle from the vertical, across the string, under which each bead is seen.
    along_mm : ndarray, shape (B,), or None
        Sizes along; None where the beads are of several kinds.

    Returns
    -------
    width_mm, u_mm : ndarray, shape (B,)
    """
    if len(width_mm) < _FEWEST:
        return width_mm, np.full(len(width_mm), 0.02 * float(np.median(width_mm)))
    smooth = ndimage.median_filter(middle_mm, size=5, mode="nearest")
    jumps = middle_mm - smooth
    # the median of five holds the point itself: it hides about a fifth of the scatter
    noise = float(np.hypot(2 * 1.25 * _spread(jumps), 0.01))
    if along_mm is None:
        return width_mm, np.full(len(width_mm), noise)
    middle, scatter = float(np.median(width_mm)), _spread(width_mm)
    sizes = max(_OWN_REL, _spread(along_mm) / float(np.median(along_mm))) * middle
    turned = np.sqrt(max(scatter**2 - noise**2 - sizes**2, 0.0))
    total = sizes**2 + turned**2 + noise**2
    shared = sizes**2 + turned**2 * _still_seen(lean_rad, turned / middle)
    settled = middle + shared / total * (width_mm - middle)
    off = np.abs(width_mm - middle)
    # a width that is off because one rim is: its middle is off by half as much
    one_sided = np.abs(jumps) > _ONE_SIDED * off
    odd = (off > max(_ODD * scatter, 0.12 * middle)) & ~one_sided
    settled[odd] = width_mm[odd]
    left = sizes**2 + turned**2 - shared**2 / total
    return settled, np.hypot(np.where(odd, noise, np.sqrt(left)), _TURNED * scatter)


def _still_seen(lean_rad: FloatArray, turned_rel: float) -> FloatArray:
    """Return how much of what turned facets do to a width shows aslant: the correlation, shape (B,).

    The width of a regular prism of n sides varies with its turn between its diameter and cos(pi / n) of
    it, n times round; seen aslant it is that of another turn. What scatters more is no cut round.
    """
    if turned_rel > _CUT_SD:
        return np.ones(len(lean_rad))
    return np.cos(np.minimum(_CUT_SIDES * np.abs(lean_rad), np.pi / 2))


def _spread(values: FloatArray) -> float:
    """Return the robust standard deviation."""
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))
