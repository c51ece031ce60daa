"""The outline of each loose bead: where it leaves the bed, then to a fraction of a pixel.

First the sharpest line near the network's outline in the top view. Then on the photo's own pixels in
linear light, where lens blur is symmetric: the steepest place of each profile across that line, and
from there to the edge by a model of the rim.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.measure import find_contours

from vision.camera.camera import Camera
from vision.common.numerics import robust_sd
from vision.common.records import FloatArray, Photo
from vision.image.sampling import light_at
from vision.lot.contour_path import Band, closed_paths, costs, grain, normals, resample
from vision.lot.edge_model import ARC, OFFSETS_PX, edge_shifts, smooth_shifts
from vision.networks.inference import Map
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import Fragment, window

_POINTS = 144
_ROUND_ABOUT, _EVEN = 2, 0.5
_REACH_PX, _REACH_CELLS = 1.5, 1.0
_PROFILE_STEP_PX = 0.25


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
    sharpness : float
        Median of the colour change along it, codes.
    doubt_px : float
        Standard uncertainty of the edge's place that is common to all edges of the photo.
    inward_px : float
        How far inside the network's outline it runs on the whole; negative outside.
    """

    points_px: FloatArray
    seen: NDArray[np.bool_]
    contact: NDArray[np.bool_]
    sharpness: float
    doubt_px: float = 0.0
    inward_px: float = 0.0


def trace(photo: Photo, camera: Camera, top: Orthophoto, beads: list[Fragment], inside: Map) -> list[Outline]:
    """Return the outlines of all beads of a top view; `inside` is how likely each cell is a bead's."""
    owner, per_mm = _owners(inside.shape, beads), top.cells_per_mm
    bands = [
        Band.along(top.rgb, owner, _first_line(bead, owner, inside, k), number=k, per_mm=per_mm)
        for k, bead in enumerate(beads, start=1)
    ]
    paths = closed_paths(costs(bands, grain(bands)))
    traced = [(b.line(p), b.touching(p), b.sharpness(p)) for b, p in zip(bands, paths, strict=True)]
    settled = _settle(photo, [_refine(photo, camera, top, one) for one in traced])
    drawn = [_in_photo(camera, top, b.start) for b in bands]
    return [
        replace(o, inward_px=_mean_radius(line) - _mean_radius(o.points_px))
        for o, line in zip(settled, drawn, strict=True)
    ]


def _in_photo(camera: Camera, top: Orthophoto, cells: FloatArray) -> FloatArray:
    """Return the pixels (x, y) of cells of a top view, shape (N, 2)."""
    ground = top.to_mm(cells)
    return camera.project(np.column_stack([ground, np.full(len(ground), top.height_mm)]))


def _mean_radius(line: FloatArray) -> float:
    return float(np.linalg.norm(line - line.mean(axis=0), axis=1).mean())


def _owners(shape: tuple[int, ...], fragments: list[Fragment]) -> NDArray[np.uint16]:
    """Return which fragment (from 1) each cell belongs to; 0 none."""
    owner = np.zeros(shape, np.uint16)
    for number, f in enumerate(fragments, start=1):
        owner[window(f)][f.mask] = number
    return owner


def _first_line(bead: Fragment, owner: NDArray[np.uint16], inside: Map, number: int) -> FloatArray:
    """Return the line on which a bead is as likely as none, convex, to a part of a cell, shape (N, 2)."""
    (x, y), (h, w) = bead.corner, bead.mask.shape
    left, up = max(x - _ROUND_ABOUT, 0), max(y - _ROUND_ABOUT, 0)
    box = slice(up, y + h + _ROUND_ABOUT), slice(left, x + w + _ROUND_ABOUT)
    near = cv2.dilate((owner[box] == number).astype(np.uint8), np.ones((3, 3), np.uint8))
    own = np.where((near > 0) & np.isin(owner[box], (0, number)), inside[box], 0)
    lines = find_contours(np.pad(own, 1), _EVEN)
    longest = max(lines, key=len)[:, ::-1] + (left - 1, up - 1)
    return resample(_hull(longest), _POINTS)


def _hull(line: FloatArray) -> FloatArray:
    """Return the convex hull of points, (N, 2): beads are convex, and a rim that fades is bridged."""
    return np.asarray(cv2.convexHull(line.astype(np.float32))[:, 0], dtype=float)


def _refine(
    photo: Photo, camera: Camera, top: Orthophoto, traced: tuple[FloatArray, NDArray[np.bool_], float]
) -> Outline:
    """Move a line of the top view, its contacts and sharpness known, to the steepest light beside it."""
    line, contact, sharpness = traced
    line = ndimage.gaussian_filter1d(line, 1.0, axis=0, mode="wrap")
    start = _in_photo(camera, top, line)
    cell_px = _mean_radius(start) / _mean_radius(line)
    normal = normals(start, 3.0)
    reach = max(_REACH_PX, _REACH_CELLS * cell_px)
    offsets = np.arange(-reach - 1.5, reach + 1.5 + 1e-9, _PROFILE_STEP_PX)
    profile = light_at(photo, start[:, None] + offsets[None, :, None] * normal[:, None])
    smooth = ndimage.gaussian_filter1d(profile, 0.8 / _PROFILE_STEP_PX, axis=1, order=1, mode="nearest")
    energy = np.sum(smooth**2, axis=2)
    core = np.abs(offsets) <= reach
    centred = np.where(core, energy * np.exp(-0.5 * (offsets / reach) ** 2), 0)
    peak = np.argmax(centred, axis=1)
    shift = _vertex(energy, offsets, peak)
    strength = np.sqrt(energy[np.arange(len(peak)), peak])
    usual = ndimage.median_filter(shift, size=13, mode="wrap")
    spread = robust_sd(shift - usual, about=0.0) + 0.1
    seen = ~contact & (np.abs(shift - usual) < 4 * spread) & (strength > 0.1 * np.median(strength))
    points = start + np.where(seen, shift, usual)[:, None] * normal
    size = np.array(photo.rgb.shape[1::-1])
    seen &= ((points > 1) & (points < size - 2)).all(axis=1)
    return Outline(points_px=points, seen=seen, contact=contact, sharpness=sharpness)


def _settle(photo: Photo, outlines: list[Outline]) -> list[Outline]:
    """Move all outlines from the steepest light to where the model of a rim puts the edge."""
    arcs, radii, across, usable = [], [], [], []
    for o in outlines:
        normal = normals(o.points_px, 3.0)
        profile = light_at(photo, o.points_px[:, None] + OFFSETS_PX[None, :, None] * normal[:, None])
        arcs.append(profile.reshape(-1, ARC, *profile.shape[1:]).mean(axis=1))
        radii.append(np.full(_POINTS // ARC, _mean_radius(o.points_px)))
        across.append(normal)
        usable.append(o.seen.reshape(-1, ARC).mean(axis=1) > 0.7)
    settled = edge_shifts(np.concatenate(arcs), np.concatenate(radii))
    each = (len(outlines), _POINTS // ARC)
    even = smooth_shifts(settled.shift_px.reshape(each), settled.gain.reshape(each), np.array(usable))
    middle = (np.arange(each[1]) + 0.5) * ARC - 0.5
    at = np.arange(_POINTS)
    moved = []
    for o, normal, s in zip(outlines, across, even, strict=True):
        by = np.interp(at, middle, s, period=_POINTS)
        moved.append(replace(o, points_px=o.points_px + by[:, None] * normal, doubt_px=settled.doubt_px))
    return moved


def _vertex(energy: FloatArray, offsets: FloatArray, peak: NDArray[np.int64]) -> FloatArray:
    """Return the vertex of the parabola through each row's peak, as an offset."""
    peak = np.clip(peak, 1, energy.shape[1] - 2)
    rows = np.arange(len(peak))
    left, middle, right = (np.sqrt(energy[rows, peak + d]) for d in (-1, 0, 1))
    bend = left - 2 * middle + right
    ahead = np.where(np.abs(bend) > 1e-12, 0.5 * (left - right) / np.where(bend == 0, 1, bend), 0)
    return np.asarray(offsets[peak] + np.clip(ahead, -1, 1) * _PROFILE_STEP_PX)
