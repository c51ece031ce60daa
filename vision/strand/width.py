"""Size of a bead across its string, as the jaws of a caliper closing from both sides read it.

The jaws run along the string and stop at the widest point of either side. In the photo these are
the outermost rays of the bead on either side; two tangent rays and the bead's height give its size
in closed form (`vision.strand.tangents`).
"""

from dataclasses import replace

import numpy as np
from scipy import ndimage

from vision.camera.camera import Camera
from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.strand.axis import STEP_MM, Axis
from vision.strand.edges import Rim
from vision.strand.segment import Segment
from vision.strand.sides import Flanks
from vision.strand.tangents import radius_from_tangents, section_angles


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


_FEWEST, _UNKNOWN = 6, 0.02
"""Of fewer beads the scatter tells nothing; their doubt is this share of their size."""
_LEAST_MM = 0.01
_TURNED = 0.5
"""Beads of a kind that read unlike lie turned (facets, cubes): what the camera sees from its height is
then not quite what the jaws would close on; this share of the scatter is taken for that."""


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


def rim_noise(width_mm: FloatArray, middle_mm: FloatArray, *, alike: bool) -> FloatArray:
    """Return the standard uncertainty of widths that misplaced rims leave, shape (B,), mm.

    The string runs through the middle of every bead, so a middle that jumps aside of its neighbours'
    tells of a rim misplaced on one side, and the width is off by twice as much. Where beads of one kind
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
    jumps = middle_mm - ndimage.median_filter(middle_mm, size=5, mode="nearest")
    # the median of five holds the point itself: it hides about a fifth of the scatter
    noise = float(np.hypot(2 * 1.25 * robust_sd(jumps), _LEAST_MM))
    return np.full(len(width_mm), np.hypot(noise, _TURNED * robust_sd(width_mm) if alike else 0.0))


def agreed(
    one_mm: FloatArray, one_u_mm: FloatArray, other_mm: FloatArray, other_u_mm: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return sizes found in two ways, weighed by their doubts, and the standard uncertainty of each.

    The two look at the same light, so their errors are not independent, and one may be plainly wrong: what
    is claimed is the spread of the mixture of both, weighed likewise (law of total variance).
    """
    weight = one_u_mm**2 / (one_u_mm**2 + other_u_mm**2)
    mean = one_mm + weight * (other_mm - one_mm)
    off_one, off_other = one_mm - mean, other_mm - mean
    variance = (1 - weight) * (one_u_mm**2 + off_one**2) + weight * (other_u_mm**2 + off_other**2)
    return mean, np.sqrt(variance)
