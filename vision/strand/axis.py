"""The course of the string: from a mask to a smooth curve with equal steps along it.

All lengths are in the plane parallel to the sheet at the height of the string.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.interpolate import make_smoothing_spline
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import dijkstra
from skimage.morphology import skeletonize

from vision.common.errors import NoBeadsError
from vision.common.numerics import robust_sd
from vision.common.records import FloatArray, Mask
from vision.topview.blocks import Blocks, disc, thick_part

STEP_MM = 0.1
"""Spacing of points along the curve. At half nothing is gained in twice the time; double: 45 more flags."""
_THINNEST_BEAD_MM = 2.0
"""What is narrower is wire, rod or a line on the table. Half or double: last digits."""
_LONGEST_GAP_MM, _LONGEST_SURE_GAP_MM = 20.0, 50.0
"""Free string before what may be a bead, and before what surely is one: spaced beads lie an inch or two apart
(common practice, no source)."""
_AHEAD = 0.8
"""Cosine of the angle, 37 degrees, by which a string may turn in a longer gap: against stray beads."""
_MOSTLY_SURE = 0.5
"""A part surely is beads where more than half of it is."""
_SMALLEST_PART_MM2, _SMALLEST_STRAND_MM2 = 3.0, 20.0
"""A round bead of 2 mm, and six of them; without these limits 4 of 52 strands are found otherwise."""
_END_SAGS = 4.0
"""Length of an end, in sags allowed: a guard against wires that are straight but for a bent end."""
_STEEP = 0.2
"""A string steeper than 5 in 1 runs from above, any other from the left: the order in which people read."""
_LEAST_SPREAD_MM = 0.02
"""Points that lie straighter than this are weighted alike."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A smooth curve in equal steps.

    Attributes
    ----------
    points_mm : ndarray, shape (N, 2)
        World (x, y), `STEP_MM` apart.
    directions : ndarray, shape (N, 2)
        Unit tangents.
    straight : bool
        True for a rod: the curve is one straight line.
    """

    points_mm: FloatArray
    directions: FloatArray
    straight: bool

    @property
    def normals(self) -> FloatArray:
        """Unit normals (N, 2), to the right of the tangent as seen on the photo (y runs down)."""
        return np.column_stack([-self.directions[:, 1], self.directions[:, 0]])

    def at(self, along_mm: FloatArray, aside_mm: FloatArray) -> FloatArray:
        """World (x, y) of strip coordinates: `along_mm` from the first point, `aside_mm` to the right.

        Examples
        --------
        >>> points = np.column_stack([np.arange(21.0), np.full(21, 5.0)])
        >>> rightwards = smooth_axis(points, wavelength_mm=25.0, straight_within_mm=1.0)
        >>> rightwards.at(np.array([4.0]), np.array([2.0])).round(9).tolist()  # y runs down
        [[4.0, 7.0]]
        """
        steps = np.arange(len(self.points_mm)) * STEP_MM
        x, y, nx, ny = (np.interp(along_mm, steps, column) for column in (*self.points_mm.T, *self.normals.T))
        return np.stack([x + aside_mm * nx, y + aside_mm * ny], axis=-1)

    def extended(self, by_mm: float) -> "Axis":
        """Return the axis with straight continuations at both ends."""
        return _axis(_extended(self.points_mm, by_mm), straight=self.straight)

    def direction_at(self, along_mm: float) -> FloatArray:
        """Return the unit tangent (2,) at `along_mm`."""
        index = int(np.clip(round(along_mm / STEP_MM), 0, len(self.directions) - 1))
        return self.directions[index]


def rough_axes(blocks: Blocks, *, most: int = 3) -> list[tuple[FloatArray, float]]:
    """Return candidate courses, likeliest first: world points (N, 2) and the half width in mm.

    Raises
    ------
    NoBeadsError
        Nothing on the blocks is thick enough to be a strand.
    """
    thick = thick_part(blocks, width_mm=_THINNEST_BEAD_MM) | blocks.sure
    count, found_labels, stats, _ = cv2.connectedComponentsWithStats(thick.astype(np.uint8))
    labels = np.asarray(found_labels, dtype=np.int32)
    area = stats[:, cv2.CC_STAT_AREA].astype(float)
    area[0] = 0
    per_mm2 = blocks.per_mm**2
    worth = area > _SMALLEST_PART_MM2 * per_mm2
    seeds = [int(k) for k in np.argsort(-area)[:most] if worth[k]]
    if area[worth].sum() <= _SMALLEST_STRAND_MM2 * per_mm2:
        raise NoBeadsError(
            "the sheet is found but no beads on it: "
            "lay the strand on the bed, clear of the tags, in even light"
        )
    sure = ndimage.mean(blocks.sure, labels, np.arange(count)) > _MOSTLY_SURE
    reach = np.where(sure, _LONGEST_SURE_GAP_MM, _LONGEST_GAP_MM) * blocks.per_mm
    reach[~worth] = -1  # scraps, and the bed
    found, taken = [], np.zeros(count, dtype=bool)
    for seed in seeds:
        if taken[seed]:
            continue
        chain, members = _linked(labels, reach, seed=seed, near=_LONGEST_GAP_MM * blocks.per_mm)
        taken[list(members)] = True
        depth = ndimage.distance_transform_edt(chain)
        half = float(np.percentile(depth[depth > 0], 97)) / blocks.per_mm
        found.append((blocks.to_mm(_longest_path(chain)), half))
    return found


def _linked(
    labels: NDArray[np.integer[Any]], reach: FloatArray, *, seed: int, near: float
) -> tuple[Mask, set[int]]:
    """Join to the seed all parts that follow each other, each within its own `reach`, by straight lines.

    What is farther than `near` must lie ahead of an end of what is joined already: else it lies beside.
    """
    chain, members = labels == seed, {seed}
    beside: set[int] = set()
    for _ in range(len(reach)):
        away, nearest = ndimage.distance_transform_edt(~chain, return_indices=True)
        follows = (away <= reach[labels]) & ~np.isin(labels, list(members | beside))
        if not follows.any():
            break
        y, x = np.unravel_index(int(np.argmin(np.where(follows, away, np.inf))), away.shape)
        y0, x0 = nearest[:, y, x]
        part = int(labels[y, x])
        if away[y, x] > near and not _ahead(chain, end=(int(x0), int(y0)), point=(int(x), int(y)), near=near):
            beside.add(part)
            continue
        joined = (chain | (labels == part)).astype(np.uint8)
        cv2.line(joined, (int(x), int(y)), (int(x0), int(y0)), 1, 2)
        chain, members = joined > 0, members | {part}
        beside.clear()
    return chain, members


def _ahead(chain: Mask, *, end: tuple[int, int], point: tuple[int, int], near: float) -> bool:
    """Return whether a point lies about where the chain, `end` its nearest cell, points to."""
    rows, columns = np.nonzero(chain)
    off = np.column_stack([columns, rows]) - end
    close = off[np.hypot(*off.T) < near]
    way, to = -close.mean(axis=0), np.subtract(point, end)
    along, across = (np.std(close @ line) for line in (way, way[::-1] * (1, -1)))
    at_an_end = along > across or len(close) == len(off)
    return bool(at_an_end and way @ to > _AHEAD * np.hypot(*way) * np.hypot(*to))


def _longest_path(mask: Mask) -> FloatArray:
    """Return the longest of the shortest paths through a mask's skeleton, (x, y), shape (N, 2)."""
    smooth = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, disc(2))
    cells = np.argwhere(skeletonize(smooth > 0))
    graph = _grid_graph(cells, mask.shape)
    start = _farthest(dijkstra(graph, directed=False, indices=0))
    distance, before = dijkstra(graph, directed=False, indices=start, return_predecessors=True)
    path = [_farthest(distance)]
    while path[-1] != start:
        path.append(int(before[path[-1]]))
    return cells[path][:, ::-1].astype(float)


def _farthest(distance: FloatArray) -> int:
    return int(np.argmax(np.where(np.isfinite(distance), distance, -1)))


def _grid_graph(cells: NDArray[np.integer[Any]], shape: tuple[int, ...]) -> csr_matrix:
    index = np.full((shape[0] + 2, shape[1] + 2), -1)
    index[cells[:, 0] + 1, cells[:, 1] + 1] = np.arange(len(cells))
    rows, columns, weights = [], [], []
    for dy, dx in ((0, 1), (1, 0), (1, 1), (1, -1)):
        other = index[cells[:, 0] + 1 + dy, cells[:, 1] + 1 + dx]
        linked = np.flatnonzero(other >= 0)
        rows.append(linked)
        columns.append(other[linked])
        weights.append(np.full(len(linked), np.hypot(dy, dx)))
    data = (np.concatenate(weights), (np.concatenate(rows), np.concatenate(columns)))
    return coo_matrix(data, shape=(len(cells), len(cells))).tocsr()


def smooth_axis(
    points_mm: FloatArray, *, wavelength_mm: float, straight_within_mm: float, extend_mm: float = 0.0
) -> Axis:
    """Smooth a sequence of points and step along it, left to right (downwards where upright).

    Parameters
    ----------
    points_mm : ndarray, shape (N, 2)
    wavelength_mm : float
        Waves shorter than this are smoothed away.
    straight_within_mm : float
        A course that sags by less than this is a rod's: the strand is then a straight line.
    extend_mm : float
        Straight continuation at both ends.
    """
    points = _ordered(points_mm)
    line = _straight_line(points, straight_within_mm)
    curve = line if line is not None else _spline(points, wavelength_mm)
    return _axis(_extended(curve, extend_mm), straight=line is not None)


def _extended(curve: FloatArray, by_mm: float) -> FloatArray:
    """Return a curve in equal steps with straight continuations at both ends."""
    first, last = curve[1] - curve[0], curve[-1] - curve[-2]
    steps = np.arange(1, round(by_mm / STEP_MM) + 1)[:, None] * STEP_MM
    before = curve[0] - steps[::-1] * first / np.linalg.norm(first)
    after = curve[-1] + steps * last / np.linalg.norm(last)
    return np.concatenate([before, curve, after])


def _axis(curve: FloatArray, *, straight: bool) -> Axis:
    tangent = np.gradient(curve, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    return Axis(points_mm=curve, directions=tangent, straight=straight)


def _ordered(points: FloatArray) -> FloatArray:
    """Return the points from left to right; from above where the string is steep."""
    dx, dy = points[-1] - points[0]
    backwards = dx < 0 if abs(dx) > _STEEP * abs(dy) else dy < 0
    return points[::-1] if backwards else points


def _straight_line(points: FloatArray, within_mm: float) -> FloatArray | None:
    """Return the points of the straight line through `points`, or None where they are curved."""
    middle = np.median(points, axis=0)
    weight = np.ones(len(points))
    direction, aside = np.array([1.0, 0.0]), np.zeros(len(points))
    for _ in range(5):
        middle = np.average(points, axis=0, weights=weight)
        direction = np.linalg.svd((points - middle) * weight[:, None], full_matrices=False)[2][0]
        aside = (points - middle) @ np.array([-direction[1], direction[0]])
        spread = max(robust_sd(aside, about=0.0), _LEAST_SPREAD_MM)
        weight = 1 / (1 + (aside / (2 * spread)) ** 2)
    reach = (points - middle) @ direction
    # `full`: no warning where a few points lie too near to each other to show a bow
    bow, _ = np.polynomial.polynomial.polyfit(reach, aside, 2, w=weight, full=True)
    sag = abs(float(bow[2])) * (np.ptp(reach) / 2) ** 2
    # a wire may be straight but for an end that leaves the line
    ends = (np.abs(np.median(aside[side])) for side in _end_stretches(reach, _END_SAGS * within_mm))
    if robust_sd(aside, about=0.0) > within_mm / 2 or sag > within_mm or max(ends) > 2 * within_mm:
        return None
    if (points[-1] - points[0]) @ direction < 0:
        direction, reach = -direction, -reach
    steps = np.arange(reach.min(), reach.max() + STEP_MM, STEP_MM)
    return middle + steps[:, None] * direction


def _end_stretches(reach: FloatArray, length: float) -> tuple[Mask, Mask]:
    """Return which points lie within a length of either end."""
    return reach <= reach.min() + length, reach >= reach.max() - length


def _spline(points: FloatArray, wavelength_mm: float) -> FloatArray:
    """Return the smoothing spline through `points` in equal steps, shape (N, 2)."""
    travel = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    keep = np.concatenate([[True], np.diff(travel) > 1e-6])
    travel, points = travel[keep], points[keep]
    # the spline halves waves for which lambda k^4 equals the density of points
    stiffness = (wavelength_mm / (2 * np.pi)) ** 4 * len(travel) / travel[-1]
    splines = [make_smoothing_spline(travel, column, lam=stiffness) for column in points.T]
    fine = np.arange(0, travel[-1], STEP_MM / 2)
    curve = np.column_stack([spline(fine) for spline in splines])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1))])
    even = np.interp(np.arange(0, length[-1], STEP_MM), length, fine)
    return np.column_stack([spline(even) for spline in splines])
