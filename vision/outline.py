"""The outline of each loose bead: where it leaves the bed, then to a fraction of a pixel.

First along the bead's rough hull in the top view, three times, each nearer and more smoothly; where
highlights were followed for want of a rim, along a ring instead. Then on the photo's own pixels in
linear light, where lens blur is symmetric: the steepest place of each profile across that line, and
from there to the edge by a model of the rim.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.band import (
    FIRST,
    LAST,
    NEAR,
    RIM,
    ROUND,
    SECOND,
    Band,
    Target,
    closed_paths,
    costs,
    grain,
    normals,
    resample,
    sample,
)
from vision.bed import Bed
from vision.camera import Camera
from vision.conic import robust_ellipse
from vision.fragment import Fragment
from vision.light import to_linear
from vision.records import FloatArray, Photo
from vision.ring import outermost_ring, sphere_line
from vision.settle import ARC, OFFSETS_PX, edge_shifts, smooth_shifts

_POINTS = 144
_LONGEST, _WANDER, _STEADY = 1.35, 0.03, 0.8
"""Of a round rim: length over width, and how far off an ellipse how many of its points may be."""
_REACH_PX = 3.0
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
    ring : bool
        Whether it was found as a round one, for want of a rim to follow.
    """

    points_px: FloatArray
    seen: NDArray[np.bool_]
    contact: NDArray[np.bool_]
    sharpness: float
    doubt_px: float = 0.0
    ring: bool = False


def trace(photo: Photo, camera: Camera, bed: Bed, fragments: list[Fragment]) -> list[Outline]:
    """Return the outlines of all beads of a top view."""
    owner = _owners(bed, fragments)
    lines = [resample(f.hull, _POINTS) for f in fragments]
    noise, rung = 1.0, np.array([f.ring for f in fragments], bool)
    targets = [Target.of(bed, f, k + 1) for k, f in enumerate(fragments)]
    contact, sharpness = np.zeros((len(lines), _POINTS), bool), np.zeros(len(lines))
    for tries in (FIRST, SECOND, LAST):
        near = RIM if tries is FIRST else NEAR
        how = [(near if r else tries, t) for r, t in zip(rung, targets, strict=True)]
        bands = [Band.along(bed, owner, line, h) for line, h in zip(lines, how, strict=True)]
        if tries is FIRST:
            noise = grain(bands)
        paths = closed_paths(costs(bands, noise))
        lines = [b.line(p) for b, p in zip(bands, paths, strict=True)]
        if tries is FIRST:
            unsure = ~rung & np.array([_unsure(line) for line in lines])
            lines = [resample(_hull(line), _POINTS) for line in lines]
            lines, found = _rounded(bed, camera, owner, (lines, targets), (noise, unsure))
            rung |= found
            continue
        if tries is SECOND:
            lines = [resample(_hull(line), _POINTS) for line in lines]
            continue
        contact = np.array([b.touching(p) for b, p in zip(bands, paths, strict=True)])
        sharpness = np.array([b.sharpness(p) for b, p in zip(bands, paths, strict=True)])
    rough = [_refine(photo, camera, bed, traced) for traced in zip(lines, contact, sharpness, strict=True)]
    settled = _settle(photo, rough)
    return [replace(o, ring=bool(r)) for o, r in zip(settled, rung, strict=True)]


def _owners(bed: Bed, fragments: list[Fragment]) -> NDArray[np.uint16]:
    """Return which fragment (from 1) each cell belongs to; 0 none."""
    owner = np.zeros(bed.unlike.shape, np.uint16)
    for number, f in enumerate(fragments, start=1):
        (x, y), (h, w) = f.corner, f.mask.shape
        owner[y : y + h, x : x + w][f.mask] = number
    return owner


def _rounded(
    bed: Bed,
    camera: Camera,
    owner: NDArray[np.uint16],
    beads: tuple[list[FloatArray], list["Target"]],
    how: tuple[float, NDArray[np.bool_]],
) -> tuple[list[FloatArray], NDArray[np.bool_]]:
    """Replace lines by rings round them, and say which, where the photo shows a nearly complete one."""
    eye = np.array([*bed.top.to_cells(camera.centre_mm[:2]), 0.0])
    eye[2] = (camera.centre_mm[2] - bed.top.height_mm) * bed.top.cells_per_mm
    (lines, targets), (noise, unsure) = beads, how
    rings = [sphere_line(line, eye, count=_POINTS) for line in lines]
    radii = [float(np.linalg.norm(r - r.mean(axis=0), axis=1).mean()) for r in rings]
    targets = [replace(t, radius=r) for t, r in zip(targets, radii, strict=True)]
    bands = [Band.along(bed, owner, ring, (ROUND, t)) for ring, t in zip(rings, targets, strict=True)]
    out, rung = [], []
    for k, (line, band, radius) in enumerate(zip(lines, bands, radii, strict=True)):
        level = np.where(band.alien, 0.6, band.edge / noise)
        shift = outermost_ring(level, band.normal, band.offsets, radius=radius) if unsure[k] else None
        rung.append(shift is not None)
        out.append(line if shift is None else band.start + shift[:, None] * band.normal)
    return out, np.array(rung)


def _unsure(line: FloatArray) -> bool:
    """Return whether a line is about as wide as long, but follows no ellipse: highlights, not a rim."""
    try:
        _, axes, _, radius = robust_ellipse(line)
    except ValueError:
        return False
    stretch = np.linalg.svd(axes, compute_uv=False)
    return bool(stretch[0] < _LONGEST * stretch[1] and np.mean(np.abs(radius - 1) < _WANDER) < _STEADY)


def _hull(line: FloatArray) -> FloatArray:
    """Return the convex hull of points, (N, 2): beads are convex, and a rim that fades is bridged."""
    return np.asarray(cv2.convexHull(line.astype(np.float32))[:, 0], dtype=float)


def _refine(
    photo: Photo, camera: Camera, bed: Bed, traced: tuple[FloatArray, NDArray[np.bool_], float]
) -> Outline:
    """Move a line of the top view, its contacts and sharpness known, to the steepest light beside it."""
    line, contact, sharpness = traced
    line = ndimage.gaussian_filter1d(line, 1.0, axis=0, mode="wrap")
    ground = bed.top.to_mm(line)
    world = np.column_stack([ground, np.full(len(ground), bed.top.height_mm)])
    start = camera.project(world)
    cell_px = camera.px_per_mm(world.mean(axis=0)) / bed.top.cells_per_mm
    normal = normals(start, 3.0)
    reach = max(_REACH_PX, 2.5 * cell_px)
    offsets = np.arange(-reach - 1.5, reach + 1.5 + 1e-9, _PROFILE_STEP_PX)
    profile = _profiles(photo, start[:, None] + offsets[None, :, None] * normal[:, None])
    smooth = ndimage.gaussian_filter1d(profile, 0.8 / _PROFILE_STEP_PX, axis=1, order=1, mode="nearest")
    energy = np.sum(smooth**2, axis=2)
    core = np.abs(offsets) <= reach
    centred = np.where(core, energy * np.exp(-0.5 * (offsets / reach) ** 2), 0)
    peak = np.argmax(centred, axis=1)
    shift = _centroid(energy, offsets, peak)
    strength = np.sqrt(energy[np.arange(len(peak)), peak])
    usual = ndimage.median_filter(shift, size=13, mode="wrap")
    spread = 1.4826 * np.median(np.abs(shift - usual)) + 0.1
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
        profile = _profiles(photo, o.points_px[:, None] + OFFSETS_PX[None, :, None] * normal[:, None])
        arcs.append(profile.reshape(-1, ARC, *profile.shape[1:]).mean(axis=1))
        radii.append(
            np.full(_POINTS // ARC, np.linalg.norm(o.points_px - o.points_px.mean(axis=0), axis=1).mean())
        )
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


def _profiles(photo: Photo, points: FloatArray) -> FloatArray:
    """Return linear light at (x, y), shape (..., 3)."""
    low = np.floor(points.min(axis=(0, 1))).astype(int) - 2
    high = np.ceil(points.max(axis=(0, 1))).astype(int) + 3
    size = np.array(photo.rgb.shape[1::-1])
    low, high = np.clip(low, 0, size - 2), np.clip(high, 2, size)
    light = to_linear(photo.rgb[low[1] : high[1], low[0] : high[0]])
    return sample(light, points - low)


def _centroid(energy: FloatArray, offsets: FloatArray, peak: NDArray[np.int64]) -> FloatArray:
    """Return the vertex of the parabola through each row's peak, as an offset."""
    peak = np.clip(peak, 1, energy.shape[1] - 2)
    rows = np.arange(len(peak))
    left, middle, right = (np.sqrt(energy[rows, peak + d]) for d in (-1, 0, 1))
    bend = left - 2 * middle + right
    ahead = np.where(np.abs(bend) > 1e-12, 0.5 * (left - right) / np.where(bend == 0, 1, bend), 0)
    shift: FloatArray = offsets[peak] + np.clip(ahead, -1, 1) * _PROFILE_STEP_PX
    return shift
