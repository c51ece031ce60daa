"""Regions of the top view, and the parting of touching beads at their necks.

Beads are nearly convex, so a clump narrows where two of them touch. In the distance transform each
bead is a summit; two summits belong to one bead unless the saddle between them is much lower than
both, a ratio without any size in it.
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.morphology import reconstruction
from skimage.segmentation import watershed

from vision.bed import Image, Mask
from vision.records import FloatArray

SMALLEST_MM = 1.5
"""Nothing narrower is taken for a bead."""
_NECK = 0.85
"""Saddle over summit below which two beads touch; bumps of one irregular bead stay above it."""
_NOTCH = 0.1
"""Room in the notches between two pieces, over the area of the smaller: two equal discs leave 0.27."""
_SPUR_SHARE = 0.5
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
    unsure : bool
        Parted from, or joined with, others only because the lot's usual size suggests it.
    ring : bool
        Found by its rim, as a round one of a size that the lot has.
    """

    mask: Mask
    corner: tuple[int, int]
    unsure: bool = False
    ring: bool = False

    @property
    def hull(self) -> FloatArray:
        """Convex hull of the cells, shape (N, 2), (x, y) in cells."""
        hull: FloatArray = _hull(self.mask)[:, 0].astype(float) + np.array(self.corner)
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
        points = _hull(self.mask)
        # the polygon runs through cell centres: half a cell is added all round
        return cv2.contourArea(points) + cv2.arcLength(points, closed=True) / 2 + 1


def _hull(mask: Mask) -> NDArray[np.int32]:
    """Return the hull of a mask's cells, shape (N, 1, 2): of its first and last cell in every row."""
    rows = np.flatnonzero(mask.any(axis=1))
    first, last = np.argmax(mask[rows], axis=1), mask.shape[1] - 1 - np.argmax(mask[rows, ::-1], axis=1)
    ends = np.concatenate([np.stack([first, rows], axis=1), np.stack([last, rows], axis=1)])
    return np.asarray(cv2.convexHull(ends.astype(np.int32)), dtype=np.int32)


def blobs_above(unlike: Image, level: float, per_mm: float) -> list[Fragment]:
    """Return the connected regions above a level, gaps closed and threads taken off."""
    mask = (unlike > level).astype(np.uint8)
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, round_kernel(_CLOSE_MM * per_mm / 2))
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, round_kernel(_CLOSE_MM * per_mm))
    return connected(opened > 0, (SMALLEST_MM * per_mm) ** 2 / 2)


def connected(mask: Mask, least: float) -> list[Fragment]:
    """Return the connected regions of more than `least` cells."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    found = []
    for k in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[k])
        if area > least:
            found.append(Fragment(mask=labels[y : y + h, x : x + w] == k, corner=(x, y)))
    return found


def round_kernel(radius: float) -> NDArray[np.uint8]:
    """Return a round structuring element of at least one cell's radius."""
    reach = max(1, round(radius))
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1,) * 2))


def window(part: Fragment) -> tuple[slice, slice]:
    """Return the rows and columns of the top view that a fragment covers."""
    (x, y), (h, w) = part.corner, part.mask.shape
    return slice(y, y + h), slice(x, x + w)


def shifted(part: Fragment, by: tuple[int, int]) -> Fragment:
    """Return a fragment moved by (columns, rows)."""
    return Fragment(mask=part.mask, corner=(part.corner[0] + by[0], part.corner[1] + by[1]))


def filled(mask: Mask) -> Mask:
    """Return a mask without holes."""
    rings, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    out = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(out, rings, -1, 1, cv2.FILLED)
    return out > 0


def without_spurs(blob: Fragment) -> Fragment:
    """Return a fragment less what is much narrower than it: shadows wedged between beads."""
    kernel = round_kernel(_SPUR_SHARE * blob.inner_radius)
    padded = np.pad(blob.mask, 1).astype(np.uint8)
    opened = cv2.morphologyEx(padded, cv2.MORPH_OPEN, kernel)[1:-1, 1:-1]
    return Fragment(mask=opened > 0, corner=blob.corner, unsure=blob.unsure)


def part(blob: Fragment, *, fill: bool) -> list[Fragment]:
    """Part one connected region at its necks."""
    return at_necks(whole(blob) if fill else blob, _NECK)


def whole(blob: Fragment) -> Fragment:
    """Return a fragment without holes."""
    return Fragment(mask=filled(blob.mask), corner=blob.corner)


def at_necks(blob: Fragment, neck: float, *, edges: Image | None = None) -> list[Fragment]:
    """Part a region by a watershed from the summits of its distance transform.

    The cuts follow the valleys of the distance transform, or the crests of `edges`, in the region's cells.
    """
    padded = np.pad(blob.mask, 1).astype(np.uint8)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, 5)
    shrink = max(1, int(depth.max() / _SUMMIT_CELLS))
    small = depth[::shrink, ::shrink] / shrink
    seeds = _seeds(small, neck)
    if seeds.max() < 2:
        return [blob]
    land = -small if edges is None else np.pad(edges, 1)[::shrink, ::shrink] - 0.05 * small
    flooded = watershed(land, seeds, mask=small > 0).astype(np.uint16)
    spread = cv2.resize(flooded, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_NEAREST)
    height, width = blob.mask.shape
    full = np.where(blob.mask, spread[1 : height + 1, 1 : width + 1], 0)
    return [part for k in range(1, int(seeds.max()) + 1) if (part := _cut(full == k, blob.corner))]


def between_lines(blob: Fragment, edges: Image, level: float) -> list[Fragment]:
    """Part a region into what closed lines of edges above a level surround, each grown to the next crest."""
    inside = np.pad(blob.mask & (edges < level), 1)
    areas = filled(inside).astype(np.uint8)
    depth = np.asarray(cv2.distanceTransform(areas, cv2.DIST_L2, 5), dtype=np.float32)
    seeds = _seeds(depth, _NECK)
    if seeds.max() < 2:
        return [blob]
    grown = watershed(np.pad(edges, 1), seeds, mask=np.pad(blob.mask, 1))[1:-1, 1:-1]
    return [part for k in range(1, int(seeds.max()) + 1) if (part := _cut(grown == k, blob.corner))]


def _cut(mask: Mask, corner: tuple[int, int]) -> Fragment | None:
    """Return a mask's filled part; None where it is empty."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return None
    cut = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return Fragment(mask=cut, corner=(corner[0] + int(columns[0]), corner[1] + int(rows[0])))


def _seeds(depth: NDArray[np.floating], neck: float) -> Labels:
    """Label the summits that rise over every saddle by the neck ratio."""
    height = np.log(np.maximum(depth, 0.5))
    filled = reconstruction(height + np.log(neck), height, method="dilation")
    summit = (height - filled >= -np.log(neck) - 1e-6) & (depth > 1)
    return np.asarray(cv2.connectedComponents(summit.astype(np.uint8))[1], dtype=np.int32)


def rejoin(
    parts: list[Fragment], misfit: Callable[[Fragment, Fragment], float] | None = None
) -> list[Fragment]:
    """Join pieces that make up one convex bead, the best match first."""
    parts = list(parts)
    while len(parts) > 1:
        pairs = [(i, j) for j in range(len(parts)) for i in range(j) if touch(parts[i], parts[j])]
        notches = [((misfit or _notch)(parts[i], parts[j]), i, j) for i, j in pairs]
        room, i, j = min(notches, default=(1.0, 0, 0))
        if room > _NOTCH:
            break
        joined = union(parts[i], parts[j])
        parts = [p for k, p in enumerate(parts) if k not in (i, j)] + [joined]
    return parts


def touch(one: Fragment, other: Fragment, near: int = 0) -> bool:
    """Return whether the boxes of two pieces come as near as that many cells."""
    return all(
        one.corner[k] <= other.corner[k] + other.mask.shape[1 - k] + near
        and other.corner[k] <= one.corner[k] + one.mask.shape[1 - k] + near
        for k in (0, 1)
    )


def union(one: Fragment, other: Fragment) -> Fragment:
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
    both = union(one, other).hull_area
    return (both - one.hull_area - other.hull_area) / min(one.hull_area, other.hull_area)
