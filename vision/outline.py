"""The outline of each loose bead: where it leaves the bed, then to a fraction of a pixel.

First along the bead's rough hull in the top view, by dynamic programming: the outermost closed line
that is sharper than the bed's grain, with nothing sharp beyond it; shadows and colour cast on the bed
are soft. Then on the photo's own pixels in linear light, where lens blur is symmetric: the steepest
place of each profile across that line.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.bed import Bed
from vision.camera import Camera
from vision.conic import robust_ellipse
from vision.light import to_linear
from vision.records import FloatArray, Photo
from vision.ring import outermost_ring, sphere_line
from vision.settle import ARC, OFFSETS_PX, edge_shifts, smooth_shifts
from vision.split import Fragment

_POINTS = 144
_STEPS = 64
_FINE_MM, _COARSE_MM = 0.12, 0.4
_SOFT_RATIO, _RATIO_RANGE = 0.42, 0.12
_SHARPEST = 4.0
_MARGIN_MM = 0.3
_BEYOND_WEIGHT = 1.2
_BARE_WEIGHT = 2.0
_LONGEST, _WANDER, _STEADY = 1.35, 0.03, 0.8
_DISTINCT, _SHADOW, _SHADOW_WEIGHT = 5.0, 3.0, 0.3
_INSIDE_MM = 0.2
_BEAD_WEIGHT = 3.0
_STIFF = 0.15
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
    """

    points_px: FloatArray
    seen: NDArray[np.bool_]
    contact: NDArray[np.bool_]
    sharpness: float
    doubt_px: float = 0.0


def trace(photo: Photo, camera: Camera, bed: Bed, fragments: list[Fragment]) -> list[Outline]:
    """Return the outlines of all beads of a top view."""
    owner = _owners(bed, fragments)
    lines = [_resample(f.hull, _POINTS) for f in fragments]
    noise, rung = 1.0, np.zeros(len(lines), bool)
    targets = [_Target.of(bed, f, k + 1) for k, f in enumerate(fragments)]
    contact, sharpness = np.zeros((len(lines), _POINTS), bool), np.zeros(len(lines))
    for tries in (_FIRST, _SECOND, _LAST):
        how = [(_NEAR if r else tries, t) for r, t in zip(rung, targets, strict=True)]
        bands = [_Band.along(bed, owner, line, h) for line, h in zip(lines, how, strict=True)]
        if tries is _FIRST:
            noise = _noise(bands)
        paths = _closed_paths(_costs(bands, noise))
        lines = [b.line(p) for b, p in zip(bands, paths, strict=True)]
        if tries is _FIRST:
            unsure = np.array([_unsure(line) for line in lines])
            lines = [_resample(_hull(line), _POINTS) for line in lines]
            lines, rung = _rounded(bed, camera, owner, (lines, targets), (noise, unsure))
            continue
        if tries is _SECOND:
            lines = [_resample(_hull(line), _POINTS) for line in lines]
            continue
        contact = np.array([b.touching(p) for b, p in zip(bands, paths, strict=True)])
        sharpness = np.array([b.sharpness(p) for b, p in zip(bands, paths, strict=True)])
    rough = [
        _refine(photo, camera, bed, line, touch, sharp)
        for line, touch, sharp in zip(lines, contact, sharpness, strict=True)
    ]
    return _settle(photo, rough)


def _owners(bed: Bed, fragments: list[Fragment]) -> NDArray[np.uint16]:
    """Return which fragment (from 1) each cell belongs to; 0 none."""
    owner = np.zeros(bed.unlike.shape, np.uint16)
    for number, f in enumerate(fragments, start=1):
        (x, y), (h, w) = f.corner, f.mask.shape
        owner[y : y + h, x : x + w][f.mask] = number
    return owner


def _resample(polygon: FloatArray, count: int) -> FloatArray:
    """Return points evenly spaced along a closed polygon, shape (count, 2)."""
    closed = np.vstack([polygon, polygon[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0, along[-1], count, endpoint=False)
    return np.stack([np.interp(at, along, closed[:, k]) for k in (0, 1)], axis=1)


def _rounded(
    bed: Bed,
    camera: Camera,
    owner: NDArray[np.uint16],
    beads: tuple[list[FloatArray], list["_Target"]],
    how: tuple[float, NDArray[np.bool_]],
) -> tuple[list[FloatArray], NDArray[np.bool_]]:
    """Replace lines by rings round them, and say which, where the photo shows a nearly complete one."""
    eye = np.array([*bed.top.to_cells(camera.centre_mm[:2]), 0.0])
    eye[2] = (camera.centre_mm[2] - bed.top.height_mm) * bed.top.cells_per_mm
    (lines, targets), (noise, unsure) = beads, how
    rings = [sphere_line(line, eye, count=_POINTS) for line in lines]
    radii = [float(np.linalg.norm(r - r.mean(axis=0), axis=1).mean()) for r in rings]
    targets = [replace(t, radius=r) for t, r in zip(targets, radii, strict=True)]
    bands = [_Band.along(bed, owner, ring, (_ROUND, t)) for ring, t in zip(rings, targets, strict=True)]
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


def _normals(line: FloatArray, smooth: float) -> FloatArray:
    """Return outward unit normals of a closed convex line, shape (N, 2)."""
    soft = ndimage.gaussian_filter1d(line, smooth, axis=0, mode="wrap")
    tangent = np.roll(soft, -1, axis=0) - np.roll(soft, 1, axis=0)
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    outward = np.sum(normal * (line - line.mean(axis=0)))
    return normal if outward > 0 else -normal


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """How far from a line to look (inwards, outwards over the inner radius; outwards more, mm), how smoothly."""

    inward: float
    outward: float
    outward_mm: float
    smooth: float


_FIRST = _Try(inward=0.45, outward=0.35, outward_mm=0.6, smooth=1.5)
_SECOND = _Try(inward=0.3, outward=0.15, outward_mm=0.3, smooth=2.5)
_ROUND = _Try(inward=0.35, outward=0.4, outward_mm=0.2, smooth=2.0)
_NEAR = _Try(inward=0.08, outward=0.06, outward_mm=0.1, smooth=2.5)
_LAST = _Try(inward=0.2, outward=0.08, outward_mm=0.3, smooth=2.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Target:
    """Which bead is looked for: its number among the fragments, inner radius (cells), usual unlikeness."""

    number: int
    radius: float
    unlike: float
    tinted: float

    @classmethod
    def of(cls, bed: Bed, fragment: Fragment, number: int) -> "_Target":
        (x, y), (h, w) = fragment.corner, fragment.mask.shape
        unlike, tinted = (
            float(np.median(m[y : y + h, x : x + w][fragment.mask])) for m in (bed.unlike, bed.tinted)
        )
        return cls(number=number, radius=fragment.inner_radius, unlike=unlike, tinted=tinted)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Band:
    """A band along a line, unrolled: one row a point, one column a step outwards.

    Attributes
    ----------
    start, normal : ndarray, shape (N, 2)
    offsets : ndarray, shape (K,)
        Cells.
    edge : ndarray, shape (N, K)
        Colour change of a narrow edge, codes; 0 off the ridges.
    bare : ndarray, shape (N, K)
        How much a cell looks like bare bed, 0 to 1.
    bead : ndarray, shape (N, K)
        How much a cell looks like the bead, 0 to 1.
    alien : ndarray of bool, shape (N, K)
        Beyond the first cell of another bead.
    step_mm : float
    """

    start: FloatArray
    normal: FloatArray
    offsets: FloatArray
    edge: FloatArray
    bare: FloatArray
    bead: FloatArray
    alien: NDArray[np.bool_]
    step_mm: float

    @classmethod
    def along(
        cls, bed: Bed, owner: NDArray[np.uint16], line: FloatArray, how: tuple[_Try, _Target]
    ) -> "_Band":
        """Unroll the top view along a closed line of a bead."""
        tries, target = how
        per_mm, number = bed.top.cells_per_mm, target.number
        low = -tries.inward * target.radius
        high = tries.outward * target.radius + tries.outward_mm * per_mm
        offsets = np.linspace(low, high, _STEPS)
        step_mm = (high - low) / (_STEPS - 1) / per_mm
        normal = _normals(line, 4.0)
        at = line[:, None] + offsets[None, :, None] * normal[:, None]
        nearest = np.clip(np.round(at).astype(int), 0, np.array(owner.shape[::-1]) - 1)
        owned = owner[nearest[..., 1], nearest[..., 0]]
        known = bed.region[nearest[..., 1], nearest[..., 0]]
        colour = ndimage.gaussian_filter1d(_sample(bed.top.rgb, at), tries.smooth, axis=0, mode="wrap")
        unlike = ndimage.gaussian_filter1d(_sample(bed.unlike, at), tries.smooth, axis=0, mode="wrap")
        edge = _ridges(colour, step_mm)
        if (
            target.tinted > _DISTINCT and tries is not _ROUND
        ):  # then what has the bed's hue inside it is a shadow's edge
            tinted = ndimage.gaussian_filter1d(_sample(bed.tinted, at), tries.smooth, axis=0, mode="wrap")
            inside = np.roll(tinted, round(_INSIDE_MM / step_mm), axis=1)
            edge *= np.where(inside < _SHADOW, _SHADOW_WEIGHT, 1)
        alien = np.maximum.accumulate((owned > 0) & (owned != number), axis=1)
        return cls(
            start=line,
            normal=normal,
            offsets=offsets,
            edge=np.where(known, edge, 0),
            bare=np.clip(1 - unlike / np.clip(0.5 * target.unlike, 4, 6), 0, 1),
            bead=np.where(alien, 0, np.clip(4 * unlike / target.unlike - 2, 0, 1)),
            alien=alien,
            step_mm=step_mm,
        )

    def line(self, path: NDArray[np.int64]) -> FloatArray:
        """Return the points of a path through the band, (N, 2) in cells."""
        shift = ndimage.gaussian_filter1d(self.offsets[path], 1.0, mode="wrap")
        points: FloatArray = self.start + shift[:, None] * self.normal
        return points

    def touching(self, path: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return where another bead lies right behind a path."""
        ahead = np.minimum(path + round(_MARGIN_MM / self.step_mm), self.alien.shape[1] - 1)
        return self.alien[np.arange(len(path)), ahead]

    def sharpness(self, path: NDArray[np.int64]) -> float:
        """Return the median edge along a path, codes."""
        return float(np.median(self.edge[np.arange(len(path)), path]))


def _ridges(colour: FloatArray, step_mm: float) -> FloatArray:
    """Return the colour change across each column where it peaks, less what a slow change explains.

    A step blurred by the lens changes as fast on a fine scale as on a coarse one times their ratio;
    a shadow's edge changes alike on both, and drops out.
    """
    fine, coarse = (
        np.sqrt(
            np.sum(
                ndimage.gaussian_filter1d(colour, s / step_mm, axis=1, order=1, mode="nearest") ** 2, axis=2
            )
        )
        * s
        / step_mm
        for s in (_FINE_MM, _COARSE_MM)
    )
    narrow = fine * np.clip((fine / np.maximum(coarse, 1e-6) - _SOFT_RATIO) / _RATIO_RANGE, 0, 1)
    peak = fine >= ndimage.maximum_filter1d(fine, 3, axis=1)
    return np.where(ndimage.maximum_filter1d(peak.astype(np.uint8), 3, axis=1) > 0, narrow, 0)


def _costs(bands: list[_Band], noise: float) -> FloatArray:
    """Return what it costs each bead's outline to pass through each cell, shape (beads, N, K)."""
    costs = []
    for band in bands:
        ridge = np.clip(np.where(band.alien, 0, band.edge) / noise - 1, 0, _SHARPEST)
        beyond = np.maximum.accumulate(ridge[:, ::-1], axis=1)[:, ::-1]
        margin = max(1, round(_MARGIN_MM / band.step_mm))
        beyond = np.pad(beyond, ((0, 0), (0, margin)))[:, margin:]
        within = np.cumsum(np.where(band.alien, 12.0, _BARE_WEIGHT * band.bare), axis=1) * band.step_mm
        bead = np.cumsum(band.bead[:, ::-1], axis=1)[:, ::-1] * band.step_mm * _BEAD_WEIGHT
        costs.append(_BEYOND_WEIGHT * beyond + within + bead - ridge)
    return np.array(costs)


def _noise(bands: list[_Band]) -> float:
    """Return how sharp the bed's grain gets: the 98th percentile outside of all beads, codes."""
    outside = np.concatenate([b.edge[(b.bare > 0.3) & ~b.alien] for b in bands])
    outside = outside[outside > 0]
    return max(1.0, float(np.percentile(outside, 90))) if len(outside) > 100 else 2.0


def _closed_paths(cost: FloatArray) -> NDArray[np.int64]:
    """Return the cheapest closed path through each table (B, N, K): one column a row, shape (B, N).

    From row to row a path moves by at most one column, at a price. The rows are gone through three
    times; the middle turn does not feel the open ends.
    """
    beads, rows, columns = cost.shape
    back = np.zeros((3 * rows, beads, columns), dtype=np.int8)
    total = cost[:, 0]
    for i in range(1, 3 * rows):
        before = np.pad(total, ((0, 0), (1, 1)), constant_values=np.inf)
        choices = np.stack([before[:, :-2] + _STIFF, before[:, 1:-1], before[:, 2:] + _STIFF])
        back[i] = np.argmin(choices, axis=0) - 1
        total = choices.min(axis=0) + cost[:, i % rows]
    path = np.zeros((beads, 3 * rows), dtype=np.int64)
    path[:, -1] = np.argmin(total, axis=1)
    every = np.arange(beads)
    for i in range(3 * rows - 1, 0, -1):
        path[:, i - 1] = path[:, i] + back[i, every, path[:, i]]
    return path[:, rows : 2 * rows]


def _sample(image: NDArray[np.float32] | NDArray[np.uint8], points: FloatArray) -> FloatArray:
    """Return an image's values at (x, y), bilinear."""
    flat = points.reshape(1, -1, 2).astype(np.float32)
    values = cv2.remap(image, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return values.reshape(points.shape[:-1] + image.shape[2:]).astype(float)


def _refine(
    photo: Photo, camera: Camera, bed: Bed, line: FloatArray, contact: NDArray[np.bool_], sharpness: float
) -> Outline:
    """Move a line of the top view to the steepest light beside it in the photo."""
    line = ndimage.gaussian_filter1d(line, 1.0, axis=0, mode="wrap")
    ground = bed.top.to_mm(line)
    world = np.column_stack([ground, np.full(len(ground), bed.top.height_mm)])
    start = camera.project(world)
    cell_px = camera.px_per_mm(world.mean(axis=0)) / bed.top.cells_per_mm
    normal = _normals(start, 3.0)
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
    arcs, radii, normals, usable = [], [], [], []
    for o in outlines:
        normal = _normals(o.points_px, 3.0)
        profile = _profiles(photo, o.points_px[:, None] + OFFSETS_PX[None, :, None] * normal[:, None])
        arcs.append(profile.reshape(-1, ARC, *profile.shape[1:]).mean(axis=1))
        radii.append(
            np.full(_POINTS // ARC, np.linalg.norm(o.points_px - o.points_px.mean(axis=0), axis=1).mean())
        )
        normals.append(normal)
        usable.append(o.seen.reshape(-1, ARC).mean(axis=1) > 0.7)
    settled = edge_shifts(np.concatenate(arcs), np.concatenate(radii))
    each = (len(outlines), _POINTS // ARC)
    even = smooth_shifts(settled.shift_px.reshape(each), settled.gain.reshape(each), np.array(usable))
    middle = (np.arange(each[1]) + 0.5) * ARC - 0.5
    at = np.arange(_POINTS)
    moved = []
    for o, normal, s in zip(outlines, normals, even, strict=True):
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
    return _sample(light, points - low)


def _centroid(energy: FloatArray, offsets: FloatArray, peak: NDArray[np.int64]) -> FloatArray:
    """Return the vertex of the parabola through each row's peak, as an offset."""
    peak = np.clip(peak, 1, energy.shape[1] - 2)
    rows = np.arange(len(peak))
    left, middle, right = (np.sqrt(energy[rows, peak + d]) for d in (-1, 0, 1))
    bend = left - 2 * middle + right
    ahead = np.where(np.abs(bend) > 1e-12, 0.5 * (left - right) / np.where(bend == 0, 1, bend), 0)
    shift: FloatArray = offsets[peak] + np.clip(ahead, -1, 1) * _PROFILE_STEP_PX
    return shift
