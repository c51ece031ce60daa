"""A band along a line round a bead, unrolled, and the best closed way through it.

By dynamic programming: the outermost closed line that is sharper than the bed's grain, with nothing
sharp beyond it, no bare bed inside and nothing like the bead outside; shadows and colour cast on the
bed are soft.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.bed import Bed
from vision.fragment import Fragment
from vision.records import FloatArray

_STEPS = 64
_FINE_MM, _COARSE_MM = 0.12, 0.4
_SOFT_RATIO, _RATIO_RANGE = 0.42, 0.12
"""Change on the fine over that on the coarse scale: of a shadow's edge, and how much more of a sharp one."""
_SHARPEST = 4.0
_MARGIN_MM = 0.3
_BEYOND_WEIGHT = 1.2
_BARE_WEIGHT, _BEAD_WEIGHT, _ALIEN_WEIGHT = 2.0, 3.0, 12.0
"""A millimetre of bare bed inside, of bead outside, of another bead inside, in units of an edge's worth."""
_DISTINCT, _SHADOW, _SHADOW_WEIGHT = 5.0, 3.0, 0.3
_INSIDE_MM = 0.2
_STIFF = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How far from a line to look: inwards and outwards over the inner radius, and mm; and how smoothly."""

    inward: float
    outward: float
    outward_mm: float
    smooth: float


FIRST = Reach(inward=0.45, outward=0.35, outward_mm=0.6, smooth=1.5)
SECOND = Reach(inward=0.3, outward=0.15, outward_mm=0.3, smooth=2.5)
ROUND = Reach(inward=0.35, outward=0.4, outward_mm=0.2, smooth=2.0)
RIM = Reach(inward=0.15, outward=0.12, outward_mm=0.1, smooth=2.5)
NEAR = Reach(inward=0.08, outward=0.06, outward_mm=0.1, smooth=2.5)
LAST = Reach(inward=0.2, outward=0.08, outward_mm=0.3, smooth=2.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Which bead is looked for: its number among the fragments, inner radius (cells), usual unlikeness."""

    number: int
    radius: float
    unlike: float
    tinted: float

    @classmethod
    def of(cls, bed: Bed, fragment: Fragment, number: int) -> "Target":
        """Describe a fragment; its number counts from 1."""
        (x, y), (h, w) = fragment.corner, fragment.mask.shape
        unlike, tinted = (
            float(np.median(m[y : y + h, x : x + w][fragment.mask])) for m in (bed.unlike, bed.tinted)
        )
        return cls(number=number, radius=fragment.inner_radius, unlike=unlike, tinted=tinted)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
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
        cls, bed: Bed, owner: NDArray[np.uint16], line: FloatArray, how: tuple[Reach, Target]
    ) -> "Band":
        """Unroll the top view along a closed line of a bead."""
        tries, target = how
        per_mm, number = bed.top.cells_per_mm, target.number
        low = -tries.inward * target.radius
        high = tries.outward * target.radius + tries.outward_mm * per_mm
        offsets = np.linspace(low, high, _STEPS)
        step_mm = (high - low) / (_STEPS - 1) / per_mm
        normal = normals(line, 4.0)
        at = line[:, None] + offsets[None, :, None] * normal[:, None]
        nearest = np.clip(np.round(at).astype(int), 0, np.array(owner.shape[::-1]) - 1)
        owned = owner[nearest[..., 1], nearest[..., 0]]
        known = bed.region[nearest[..., 1], nearest[..., 0]]
        colour = ndimage.gaussian_filter1d(sample(bed.top.rgb, at), tries.smooth, axis=0, mode="wrap")
        unlike = ndimage.gaussian_filter1d(sample(bed.unlike, at), tries.smooth, axis=0, mode="wrap")
        edge = _ridges(colour, step_mm)
        if (
            target.tinted > _DISTINCT and tries is not ROUND
        ):  # then what has the bed's hue inside it is a shadow's edge
            tinted = ndimage.gaussian_filter1d(sample(bed.tinted, at), tries.smooth, axis=0, mode="wrap")
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


def costs(bands: list[Band], noise: float) -> FloatArray:
    """Return what it costs each bead's outline to pass through each cell, shape (beads, N, K)."""
    costs = []
    for band in bands:
        ridge = np.clip(np.where(band.alien, 0, band.edge) / noise - 1, 0, _SHARPEST)
        beyond = np.maximum.accumulate(ridge[:, ::-1], axis=1)[:, ::-1]
        margin = max(1, round(_MARGIN_MM / band.step_mm))
        beyond = np.pad(beyond, ((0, 0), (0, margin)))[:, margin:]
        within = (
            np.cumsum(np.where(band.alien, _ALIEN_WEIGHT, _BARE_WEIGHT * band.bare), axis=1) * band.step_mm
        )
        bead = np.cumsum(band.bead[:, ::-1], axis=1)[:, ::-1] * band.step_mm * _BEAD_WEIGHT
        costs.append(_BEYOND_WEIGHT * beyond + within + bead - ridge)
    return np.array(costs)


def grain(bands: list[Band]) -> float:
    """Return how sharp the bed's grain gets: the 98th percentile outside of all beads, codes."""
    outside = np.concatenate([b.edge[(b.bare > 0.3) & ~b.alien] for b in bands])
    outside = outside[outside > 0]
    return max(1.0, float(np.percentile(outside, 90))) if len(outside) > 100 else 2.0


def closed_paths(cost: FloatArray) -> NDArray[np.int64]:
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


def resample(polygon: FloatArray, count: int) -> FloatArray:
    """Return points evenly spaced along a closed polygon, shape (count, 2)."""
    closed = np.vstack([polygon, polygon[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0, along[-1], count, endpoint=False)
    return np.stack([np.interp(at, along, closed[:, k]) for k in (0, 1)], axis=1)


def normals(line: FloatArray, smooth: float) -> FloatArray:
    """Return outward unit normals of a closed convex line, shape (N, 2)."""
    soft = ndimage.gaussian_filter1d(line, smooth, axis=0, mode="wrap")
    tangent = np.roll(soft, -1, axis=0) - np.roll(soft, 1, axis=0)
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    outward = np.sum(normal * (line - line.mean(axis=0)))
    return normal if outward > 0 else -normal


def sample(image: NDArray[np.float32] | NDArray[np.uint8], points: FloatArray) -> FloatArray:
    """Return an image's values at (x, y), bilinear."""
    flat = points.reshape(1, -1, 2).astype(np.float32)
    values = cv2.remap(image, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return values.reshape(points.shape[:-1] + image.shape[2:]).astype(float)
