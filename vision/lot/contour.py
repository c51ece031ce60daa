"""The outline of each loose bead: where it leaves the bed, then to a fraction of a pixel.

First the sharpest line near the network's outline in the top view. Then, on the photo's own pixels and in
linear light, where lens blur is symmetric, the steepest place of each profile across that line; and from
there to the edge by a model of the rim.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.measure import find_contours

from vision.camera.scene import Scene
from vision.common.numerics import evenly_round, robust_sd
from vision.common.records import FloatArray, Mask, Photo
from vision.image.sampling import light_at
from vision.lot.contour_path import UnrolledBand, closed_paths, costs, mean_radius, normals
from vision.lot.edge_model import ARC, OFFSETS_PX, edge_shifts, smooth_shifts, unit_px
from vision.networks.inference import Map
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import Fragment, owners

_POINTS = 144
"""Points of an outline. At half 95 in 100 errors lie within 0.36 mm, at double within 0.20 mm."""
_GROWN_CELLS, _EVEN = 1, 0.5
"""A bead's cells are grown by this many; within them the first line runs where bead and bed are equally
probable."""
_REACH_PX, _REACH_CELLS = 1.5, 1.0
"""The steepest light is searched within this many pixels, and within this many cells of the top view. At
double of either 14 to 18 more sizes are refused."""
_BLUR_PX, _PROFILE_STEP_PX, _BESIDE_PX = 0.8, 0.25, 1.5
"""Slopes are taken on the scale of a sharp photo's blur; profiles have steps of a third of that and extend
beyond the search by twice that."""
_SMOOTH_POINTS, _NORMAL_POINTS = 1.0, 3.0
"""Standard deviations of the smoothing of a line and of its normals, in points."""
_NEIGHBOURS, _OUTLIER, _LEAST_SPREAD_PX = 13, 4.0, 0.1
"""A point is an outlier if it lies more than this many robust standard deviations from the median of its
neighbours, a tenth of the outline; the third keeps exact outlines from having none but outliers."""
_FAINTEST = 0.1
"""Least steepness of a point over the median of its outline: below it the edge is not seen."""
BORDER_PX = 1
"""Interpolation uses pixels up to this far from a point: nearer to the edge of the photo there is no light to
see."""
_USABLE = 0.7
"""Least share of the points of an arc that must be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """Edge points of one bead.

    Attributes
    ----------
    points_px : ndarray, shape (N, 2)
        In order round the bead, (x, y) in the photo.
    seen : ndarray of bool, shape (N,)
        False where a neighbour touches, the edge is too weak or lies off its neighbours.
    contact : ndarray of bool, shape (N,)
        Where another bead touches or covers.
    unsure_split : bool
        Whether it may be part of another bead, or two.
    under, over : bool
        Whether another bead lies on it; whether it lies on another.
    probability, one : float
        That it is a bead's; that it is exactly one bead, by its looks alone.
    common_u_px : float
        Standard uncertainty of the edge's place that is common to all edges of the photo.
    inward_px : float
        How far inside the network's outline it runs on average; negative outside.
    """

    points_px: FloatArray
    seen: Mask
    contact: Mask
    unsure_split: bool = False
    under: bool = False
    over: bool = False
    probability: float = 1.0
    one: float = 1.0
    common_u_px: float = 0.0
    inward_px: float = 0.0


def trace(scene: Scene, top: Orthophoto, *, beads: list[Fragment], inside: Map) -> list[Outline]:
    """Return the outlines of the beads of a top view; `inside` is the probability of a bead in each cell."""
    if not beads:
        return []
    owner = owners(beads, inside.shape)
    first = [_first_line(bead, k, owner=owner, inside=inside) for k, bead in enumerate(beads, start=1)]
    bands = [
        UnrolledBand.along(top.rgb, line, owner=owner, number=k, per_mm=top.cells_per_mm)
        for k, line in enumerate(first, start=1)
    ]
    steepest = []
    for band, path, bead in zip(bands, closed_paths(costs(bands)), beads, strict=True):
        line = ndimage.gaussian_filter1d(band.points(path), _SMOOTH_POINTS, axis=0, mode="wrap")
        steepest.append(_steepest(scene, top, cells=line, contact=band.touching(path), bead=bead))
    return [
        replace(o, inward_px=mean_radius(scene.bed_to_px(top.to_mm(line))) - mean_radius(o.points_px))
        for o, line in zip(_to_edges(scene, steepest), first, strict=True)
    ]


def _first_line(bead: Fragment, number: int, *, owner: NDArray[np.uint16], inside: Map) -> FloatArray:
    """Return the convex line on which bead and bed are equally probable, in cells, shape (N, 2)."""
    (x, y), (h, w) = bead.corner, bead.mask.shape
    left, up = max(x - _GROWN_CELLS, 0), max(y - _GROWN_CELLS, 0)
    box = slice(up, y + h + _GROWN_CELLS), slice(left, x + w + _GROWN_CELLS)
    near = cv2.dilate((owner[box] == number).astype(np.uint8), np.ones((2 * _GROWN_CELLS + 1,) * 2, np.uint8))
    own = np.where((near > 0) & np.isin(owner[box], (0, number)), inside[box], 0)
    lines = find_contours(np.pad(own, 1), _EVEN)
    longest = max(lines, key=len)[:, ::-1] + (left - 1, up - 1)
    hull = cv2.convexHull(longest.astype(np.float32))[:, 0]  # beads are convex; a rim that fades is bridged
    return evenly_round(hull.astype(float), _POINTS)


def _steepest(scene: Scene, top: Orthophoto, *, cells: FloatArray, contact: Mask, bead: Fragment) -> Outline:
    """Move a line of the top view round a bead to the steepest light beside it in the photo."""
    line = scene.bed_to_px(top.to_mm(cells))
    unit = unit_px(scene.blur_times)
    reach = max(_REACH_PX, _REACH_CELLS * mean_radius(line) / mean_radius(cells) / unit)
    offsets = np.arange(-reach - _BESIDE_PX, reach + _BESIDE_PX + 1e-9, _PROFILE_STEP_PX)
    light, normal = _light_across(scene.photo, line, unit * offsets)
    units, strength = _steepest_places(light, offsets, reach)
    shift = unit * units
    usual = ndimage.median_filter(shift, size=_NEIGHBOURS, mode="wrap")
    spread = robust_sd(shift - usual, about=0.0) + _LEAST_SPREAD_PX
    seen = (
        ~contact & (np.abs(shift - usual) < _OUTLIER * spread) & (strength > _FAINTEST * np.median(strength))
    )
    points = line + np.where(seen, shift, usual)[:, None] * normal
    seen &= ((points > BORDER_PX) & (points < np.array(scene.size_px) - 1 - BORDER_PX)).all(axis=1)
    return Outline(
        points_px=points,
        seen=seen,
        contact=contact,
        unsure_split=bead.divided,
        under=bead.under,
        over=bead.over,
        probability=bead.probability,
        one=bead.one,
    )


def _light_across(photo: Photo, line: FloatArray, offsets_px: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return linear light across a closed line (N, 2), (N, K, 3), and the line's outward normals, (N, 2)."""
    normal = normals(line, _NORMAL_POINTS)
    return light_at(photo, line[:, None] + offsets_px[None, :, None] * normal[:, None]), normal


def _steepest_places(light: FloatArray, offsets: FloatArray, reach: float) -> tuple[FloatArray, FloatArray]:
    """Return the offset of the steepest light of each profile, and how steep it is there, shape (N,)."""
    slope = ndimage.gaussian_filter1d(light, _BLUR_PX / _PROFILE_STEP_PX, axis=1, order=1, mode="nearest")
    red, green, blue = np.moveaxis(slope**2, 2, 0)
    energy = red + green + blue
    core = np.abs(offsets) <= reach
    peak = np.argmax(np.where(core, energy * np.exp(-0.5 * (offsets / reach) ** 2), 0), axis=1)
    return _vertex(energy, offsets, peak), np.sqrt(energy[np.arange(len(peak)), peak])


def _vertex(energy: FloatArray, offsets: FloatArray, peak: NDArray[np.int64]) -> FloatArray:
    """Return the vertex of the parabola through each row's peak, as an offset."""
    peak = np.clip(peak, 1, energy.shape[1] - 2)
    rows = np.arange(len(peak))
    left, middle, right = (np.sqrt(energy[rows, peak + d]) for d in (-1, 0, 1))
    bend = left - 2 * middle + right
    ahead = np.where(np.abs(bend) > 1e-12, 0.5 * (left - right) / np.where(bend == 0, 1, bend), 0)
    return np.asarray(offsets[peak] + np.clip(ahead, -1, 1) * _PROFILE_STEP_PX)


def _to_edges(scene: Scene, outlines: list[Outline]) -> list[Outline]:
    """Move all outlines from the steepest light to where the model of a rim puts the edge."""
    arcs, unit = _POINTS // ARC, unit_px(scene.blur_times)
    across = [_light_across(scene.photo, o.points_px, unit * OFFSETS_PX) for o in outlines]
    light = np.concatenate([a.reshape(arcs, ARC, len(OFFSETS_PX), 3).mean(axis=1) for a, _ in across])
    radii = np.repeat([mean_radius(o.points_px) for o in outlines], arcs)
    usable = np.array([o.seen.reshape(arcs, ARC).mean(axis=1) > _USABLE for o in outlines])
    shift, gain, common_u_px = edge_shifts(light, radii / unit, blur_times=scene.blur_times / unit)
    at, middle = np.arange(_POINTS), (np.arange(arcs) + 0.5) * ARC - 0.5
    moved = []
    for outline, (_, normal), arc in zip(outlines, across, smooth_shifts(shift, gain, usable), strict=True):
        outwards = unit * np.interp(at, middle, arc, period=_POINTS)
        points = outline.points_px + outwards[:, None] * normal
        moved.append(replace(outline, points_px=points, common_u_px=unit * common_u_px))
    return moved
