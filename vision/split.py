"""From a map of what is no bed to one region a bead: touching beads are parted at their necks.

Beads are nearly convex, so a clump narrows where two of them touch. In the distance transform each
bead is a summit; two summits belong to one bead unless the saddle between them is much lower than
both, a ratio without any size in it. How unlike the bed a cell must be to count is decided clump by
clump: as little as the bed's noise allows, and more only where that leaves parts that are not
convex, as contact shadows and colour cast on the bed do.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.morphology import reconstruction
from skimage.segmentation import watershed

from vision.bed import Bed, Image, Mask

_LEVELS = (4.5, 7.0, 11.0, 17.0, 27.0)
"""Standard deviations of the bed; a bare bed passes the first in no blob of a bead's size."""
_SOLID = 0.93
"""Share of its convex hull that a bead fills at the least, blur and grain included."""
_NECK = 0.8
"""Saddle over summit below which two beads touch; bumps of one irregular bead stay above it."""
_NOTCH = 0.13
"""Room in the notches between two pieces, over the area of the smaller: two equal discs leave 0.27."""
_SMALLEST_MM = 1.5
_SUMMIT_CELLS = 12
_CLOSE_MM = 0.3

Labels = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fragment:
    """The cells of one bead.

    Attributes
    ----------
    mask : ndarray of bool, shape (h, w)
    corner : tuple of int
        (column, row) of the mask's first cell in the top view.
    """

    mask: Mask
    corner: tuple[int, int]

    @property
    def hull(self) -> NDArray[np.float64]:
        """Convex hull of the cells, shape (N, 2), (x, y) in cells."""
        points = cv2.findNonZero(self.mask.astype(np.uint8))
        hull: NDArray[np.float64] = cv2.convexHull(points)[:, 0].astype(float) + np.array(self.corner)
        return hull

    @property
    def area(self) -> int:
        """Cells."""
        return int(self.mask.sum())

    @property
    def inner_radius(self) -> float:
        """Cells."""
        return float(cv2.distanceTransform(np.pad(self.mask, 1).astype(np.uint8), cv2.DIST_L2, 5).max())

    @property
    def hull_area(self) -> float:
        """Cells inside the convex hull, its own cells whole."""
        points = cv2.convexHull(cv2.findNonZero(self.mask.astype(np.uint8)))
        # the polygon runs through cell centres: half a cell is added all round
        return cv2.contourArea(points) + cv2.arcLength(points, closed=True) / 2 + 1


def bead_regions(bed: Bed) -> list[Fragment]:
    """Return one fragment a bead, in no order."""
    per_mm = bed.top.cells_per_mm
    unlike = cv2.GaussianBlur(bed.unlike, (0, 0), 0.1 * per_mm)
    least = 0.6 * (_SMALLEST_MM * per_mm) ** 2
    fragments = []
    for blob in _blobs(unlike, _LEVELS[0], per_mm):
        fragments += [f for f in _resolve(unlike, blob, per_mm) if f.area >= least]
    return fragments


def _blobs(unlike: Image, level: float, per_mm: float) -> list[Fragment]:
    """Return the connected regions above a level, gaps closed and threads taken off."""
    mask = (unlike > level).astype(np.uint8)
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, _round(_CLOSE_MM * per_mm / 2))
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, _round(_CLOSE_MM * per_mm))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    found = []
    for k in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[k])
        if area > (_SMALLEST_MM * per_mm) ** 2 / 2:
            found.append(Fragment(mask=labels[y : y + h, x : x + w] == k, corner=(x, y)))
    return found


def _round(radius: float) -> NDArray[np.uint8]:
    reach = max(1, round(radius))
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1,) * 2))


def _resolve(unlike: Image, blob: Fragment, per_mm: float) -> list[Fragment]:
    """Part a region at the lowest level that leaves convex parts, or at the one of the most convex."""
    x, y = blob.corner
    h, w = blob.mask.shape
    own = np.where(_filled(blob.mask), unlike[y : y + h, x : x + w], 0)
    best: tuple[float, list[Fragment]] = (0.0, [])
    for level in _LEVELS:
        blobs = [Fragment(mask=blob.mask, corner=(0, 0))] if level == _LEVELS[0] else _blobs(own, level, per_mm)
        for fill in (True, False):
            parts = [part for piece in blobs for part in _rejoin(_part(piece, fill=fill))]
            share = _solidity(parts, own > level)
            if share > best[0] + 0.01:
                best = (share, parts)
            if best[0] > _SOLID:
                break
    return [Fragment(mask=p.mask, corner=(p.corner[0] + x, p.corner[1] + y)) for p in best[1]]


def _solidity(parts: list[Fragment], cells: Mask) -> float:
    """Return which share of the parts' hulls is filled by cells."""
    inside = hull = 0.0
    for part in parts:
        (x, y), (h, w) = part.corner, part.mask.shape
        inside += float((part.mask & cells[y : y + h, x : x + w]).sum())
        hull += part.hull_area
    return inside / hull if hull else 0.0


def _filled(mask: Mask) -> Mask:
    """Return a mask without holes."""
    rings, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    out = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(out, rings, -1, 1, cv2.FILLED)
    return out > 0


def _part(blob: Fragment, *, fill: bool) -> list[Fragment]:
    """Part one connected region at its necks."""
    mask = _filled(blob.mask) if fill else blob.mask
    padded = np.pad(mask, 1).astype(np.uint8)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 5)
    shrink = max(1, int(depth.max() / _SUMMIT_CELLS))
    small = depth[::shrink, ::shrink] / shrink
    seeds = _seeds(small)
    if seeds.max() < 2:
        return [Fragment(mask=mask, corner=blob.corner)]
    flooded = watershed(-small, seeds, mask=small > 0).astype(np.uint16)
    spread = cv2.resize(flooded, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_NEAREST)
    full = np.where(mask, spread[1 : mask.shape[0] + 1, 1 : mask.shape[1] + 1], 0)
    return [part for k in range(1, int(seeds.max()) + 1) if (part := _cut(full == k, blob.corner))]


def _cut(mask: Mask, corner: tuple[int, int]) -> Fragment | None:
    """Return a mask's filled part; None where it is empty."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return None
    cut = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return Fragment(mask=cut, corner=(corner[0] + int(columns[0]), corner[1] + int(rows[0])))


def _seeds(depth: NDArray[np.float32]) -> Labels:
    """Label the summits that rise over every saddle by the neck ratio."""
    height = np.log(np.maximum(depth, 0.5))
    filled = reconstruction(height + np.log(_NECK), height, method="dilation")
    summit = (height - filled >= -np.log(_NECK) - 1e-6) & (depth > 1)
    return np.asarray(cv2.connectedComponents(summit.astype(np.uint8))[1], dtype=np.int32)


def _rejoin(parts: list[Fragment]) -> list[Fragment]:
    """Join pieces that make up one convex bead, the best match first."""
    parts = list(parts)
    while len(parts) > 1:
        pairs = [(i, j) for j in range(len(parts)) for i in range(j) if _touch(parts[i], parts[j])]
        notches = [(_notch(parts[i], parts[j]), i, j) for i, j in pairs]
        room, i, j = min(notches, default=(1.0, 0, 0))
        if room > _NOTCH:
            break
        joined = _union(parts[i], parts[j])
        parts = [p for k, p in enumerate(parts) if k not in (i, j)] + [joined]
    return parts


def _touch(one: Fragment, other: Fragment) -> bool:
    """Return whether the boxes of two pieces meet."""
    return all(
        one.corner[k] <= other.corner[k] + other.mask.shape[1 - k]
        and other.corner[k] <= one.corner[k] + one.mask.shape[1 - k]
        for k in (0, 1)
    )


def _union(one: Fragment, other: Fragment) -> Fragment:
    """Return two pieces as one."""
    left, top = (min(one.corner[k], other.corner[k]) for k in (0, 1))
    right, bottom = (max(p.corner[k] + p.mask.shape[1 - k] for p in (one, other)) for k in (0, 1))
    mask = np.zeros((bottom - top, right - left), dtype=bool)
    for p in (one, other):
        (x, y), (h, w) = p.corner, p.mask.shape
        mask[y - top : y - top + h, x - left : x - left + w] |= p.mask
    return Fragment(mask=mask, corner=(left, top))


def _notch(one: Fragment, other: Fragment) -> float:
    """Return how much their common hull adds to their own hulls, over the smaller of them."""
    both = _union(one, other).hull_area
    return (both - one.hull_area - other.hull_area) / min(one.hull_area, other.hull_area)
