"""Where an outline runs in the top view: the sharpest closed line near the outline that the network drew.

Found by dynamic programming. A glint or a facet may be sharper than the rim but lies too far inside; shadows
and colour cast on the bed are soft.
"""

from dataclasses import dataclass
from typing import Self

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.numerics import quarter_turn, unit
from vision.common.records import FloatArray, ImageArray, Mask
from vision.image.sampling import sample

_REACH, _STEPS = 3.0, 49
"""Half the width of a band in standard deviations of the network's outline, and its columns, 16 a deviation.
At half or double at most 6 more sizes are refused."""
_OFF_MM, _OFF_SHARE = 0.08, 0.015
"""Standard deviation of the network's outline: a fixed part, and a share of the bead's radius. On drawn round
beads it was off by 0.02 to 0.15 mm."""
_FINE_MM, _COARSE_MM = 0.12, 0.4
"""Scales on which a colour change is compared: about half a cell of the top view, and two cells, where
shadows of small beads are still soft. At half or double at most 6 sizes fewer are refused."""
_SOFT_RATIO, _RATIO_RANGE = 0.42, 0.12
"""Change on the fine over change on the coarse scale for the edge of a shadow; and how much larger it is for
a sharp edge. At half or double 4 to 6 sizes fewer are refused."""
_SHARPEST, _FOREIGN, _STIFF = 4.0, 12.0, 0.15
"""A path costs one half where it lies one standard deviation off the network's outline. The sharpest edge
saves the first, a cell of another bead costs the second, more than any edge saves, and a step sideways costs
the third. At half or double at most 4 more sizes are refused."""
_ALONG_POINTS, _NORMAL_POINTS, _PATH_POINTS = 2.5, 4.0, 1.0
"""Standard deviations of the smoothing of colours along the line, of its normals, and of the path, in points.
At half of the first 8 sizes fewer are refused, at double 4 more."""
_MARGIN_MM = 0.3
"""A neighbour nearer than this touches. At half 6 sizes fewer are refused, at double 14 more."""
_LEAST_GRAIN, _TYPICAL_GRAIN, _FEWEST_RIDGES = 1 / 255, 2 / 255, 100
"""The bed's grain is at least one step of an 8-bit photo; two steps are assumed where fewer ridges than the
third show it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnrolledBand:
    """A narrow band along a closed line, unrolled: a row for each point, a column for each step outwards.

    Attributes
    ----------
    line, normal : ndarray, shape (N, 2)
        Points (x, y) in cells of the top view, and the outward unit normals there.
    offsets : ndarray, shape (K,)
        Cells.
    edge : ndarray, shape (N, K)
        Colour change of a narrow edge, 1 from black to white; 0 off the ridges.
    foreign : ndarray of bool, shape (N, K)
        From the first cell of another bead outwards.
    step_mm : float
        Between columns.
    """

    line: FloatArray
    normal: FloatArray
    offsets: FloatArray
    edge: FloatArray
    foreign: Mask
    step_mm: float

    @classmethod
    def along(
        cls, rgb: ImageArray, line: FloatArray, *, owner: NDArray[np.uint16], number: int, per_mm: float
    ) -> Self:
        """Unroll a top view along the outline, (N, 2) in cells, of the bead of that number in `owner`."""
        radius_mm = mean_radius(line) / per_mm
        reach = _REACH * (_OFF_MM + _OFF_SHARE * radius_mm) * per_mm
        offsets = np.linspace(-reach, reach, _STEPS)
        step_mm = 2 * reach / (_STEPS - 1) / per_mm
        normal = normals(line, _NORMAL_POINTS)
        at = line[:, None] + offsets[None, :, None] * normal[:, None]
        colour = ndimage.gaussian_filter1d(sample(rgb, at) / 255, _ALONG_POINTS, axis=0, mode="wrap")
        x, y = np.moveaxis(at.astype(np.float32), -1, 0)
        owned = np.asarray(cv2.remap(owner, x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE))
        return cls(
            line=line,
            normal=normal,
            offsets=offsets,
            edge=_ridges(colour, step_mm),
            foreign=np.maximum.accumulate((owned > 0) & (owned != number), axis=1),
            step_mm=step_mm,
        )

    def points(self, path: NDArray[np.int64]) -> FloatArray:
        """Return the points of a path through the band, (N, 2) in cells."""
        shift = ndimage.gaussian_filter1d(self.offsets[path], _PATH_POINTS, mode="wrap")
        points: FloatArray = self.line + shift[:, None] * self.normal
        return points

    def touching(self, path: NDArray[np.int64]) -> Mask:
        """Return where another bead lies right behind a path, shape (N,)."""
        ahead = np.minimum(path + round(_MARGIN_MM / self.step_mm), self.foreign.shape[1] - 1)
        return self.foreign[np.arange(len(path)), ahead]


def mean_radius(line: FloatArray) -> float:
    """Return the mean distance of the points of a closed line, (N, 2), from their middle."""
    return float(np.linalg.norm(line - line.mean(axis=0), axis=1).mean())


def _ridges(colour: FloatArray, step_mm: float) -> FloatArray:
    """Return the colour change across each column where it peaks, without what a slow change explains.

    A step blurred by the lens changes as fast on a fine scale as on a coarse one times their ratio;
    a shadow's edge changes equally on both, and drops out.
    """
    fine, coarse = (_change(colour, scale_mm, step_mm) for scale_mm in (_FINE_MM, _COARSE_MM))
    narrow = fine * np.clip((fine / np.maximum(coarse, 1e-9) - _SOFT_RATIO) / _RATIO_RANGE, 0, 1)
    peak = fine >= ndimage.maximum_filter1d(fine, 3, axis=1)
    return np.where(ndimage.maximum_filter1d(peak.astype(np.uint8), 3, axis=1) > 0, narrow, 0)


def _change(colour: FloatArray, scale_mm: float, step_mm: float) -> FloatArray:
    """Return the colour change across a distance on one scale, shape (N, K)."""
    # as a matrix: the coarse scale is as wide as the whole band
    slopes = ndimage.gaussian_filter1d(np.eye(_STEPS), scale_mm / step_mm, axis=0, order=1, mode="nearest")
    red, green, blue = np.moveaxis((slopes @ colour) ** 2, 2, 0)  # a norm over three is five times as slow
    return np.asarray(np.sqrt(red + green + blue) * scale_mm / step_mm)


def costs(bands: list[UnrolledBand]) -> FloatArray:
    """Return the cost for each bead's outline of passing through each cell, shape (beads, N, K)."""
    off = np.linspace(-_REACH, _REACH, _STEPS) ** 2 / 2
    noise = _grain(bands)
    gains = [np.clip(np.where(b.foreign, 0, b.edge) / noise - 1, 0, _SHARPEST) for b in bands]
    return np.array([off + _FOREIGN * b.foreign - gain for b, gain in zip(bands, gains, strict=True)])


def _grain(bands: list[UnrolledBand]) -> float:
    """Return how sharp the bed's own grain is right outside of all beads."""
    outer = slice(-_STEPS // 4, None)
    ridges = np.concatenate([b.edge[:, outer][~b.foreign[:, outer] & (b.edge[:, outer] > 0)] for b in bands])
    enough = len(ridges) > _FEWEST_RIDGES
    return max(_LEAST_GRAIN, float(np.percentile(ridges, 75))) if enough else _TYPICAL_GRAIN


def closed_paths(cost: FloatArray) -> NDArray[np.int64]:
    """Return the cheapest closed path through each table (B, N, K): one column a row, shape (B, N).

    From row to row a path moves by at most one column, at a price. The rows are gone through three
    times; the middle turn does not feel the open ends.
    """
    beads, rows, columns = cost.shape
    back = np.zeros((3 * rows, beads, columns), dtype=np.int8)
    before = np.full((beads, columns + 2), np.inf)
    total = before[:, 1:-1]
    total[:] = cost[:, 0]
    for i in range(1, 3 * rows):
        left, right = before[:, :-2] + _STIFF, before[:, 2:] + _STIFF
        nearer = np.minimum(left, total)
        back[i] = np.where(right < nearer, 1, np.where(total < left, 0, -1))
        total[:] = np.minimum(nearer, right) + cost[:, i % rows]
    path = np.zeros((beads, 3 * rows), dtype=np.int64)
    path[:, -1] = np.argmin(total, axis=1)
    every = np.arange(beads)
    for i in range(3 * rows - 1, 0, -1):
        path[:, i - 1] = path[:, i] + back[i, every, path[:, i]]
    return path[:, rows : 2 * rows]


def normals(line: FloatArray, smooth: float) -> FloatArray:
    """Return outward unit normals of a closed convex line, shape (N, 2)."""
    soft = ndimage.gaussian_filter1d(line, smooth, axis=0, mode="wrap")
    tangent = np.roll(soft, -1, axis=0) - np.roll(soft, 1, axis=0)
    normal = unit(-quarter_turn(tangent))
    outward = np.sum(normal * (line - line.mean(axis=0)))
    return normal if outward > 0 else -normal
