"""A band along a line round a bead, unrolled, and the best closed way through it.

By dynamic programming: the sharpest closed line near the outline that the network drew. A glint or a facet
may be sharper than the rim, but lies too far inside; shadows and colour cast on the bed are soft.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.records import FloatArray, ImageArray
from vision.image.sampling import sample

_STEPS = 49
_FINE_MM, _COARSE_MM = 0.12, 0.4
_SOFT_RATIO, _RATIO_RANGE = 0.42, 0.12
"""Change on the fine over that on the coarse scale: of a shadow's edge, and how much more of a sharp one."""
_SHARPEST = 4.0
_MARGIN_MM = 0.3
_ALIEN = 12.0
_REACH = 3.0
_OFF_MM, _OFF_SHARE = 0.08, 0.015
"""How far off the network's outline may lie, as a standard deviation: so much, and this share of the bead's
radius. It was seen to be off by 0.02 to 0.15 mm on drawn rounds."""
_SMOOTH = 2.5
_STIFF = 0.15


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
    alien : ndarray of bool, shape (N, K)
        Beyond the first cell of another bead.
    step_mm : float
    """

    start: FloatArray
    normal: FloatArray
    offsets: FloatArray
    edge: FloatArray
    alien: NDArray[np.bool_]
    step_mm: float

    @classmethod
    def along(
        cls, rgb: ImageArray, owner: NDArray[np.uint16], line: FloatArray, *, number: int, per_mm: float
    ) -> "Band":
        """Unroll a top view along the outline, (N, 2) in cells, of the bead of that number in `owner`."""
        radius_mm = float(np.linalg.norm(line - line.mean(axis=0), axis=1).mean()) / per_mm
        reach = _REACH * (_OFF_MM + _OFF_SHARE * radius_mm) * per_mm
        offsets = np.linspace(-reach, reach, _STEPS)
        step_mm = 2 * reach / (_STEPS - 1) / per_mm
        normal = normals(line, 4.0)
        at = line[:, None] + offsets[None, :, None] * normal[:, None]
        nearest = np.clip(np.round(at).astype(int), 0, np.array(owner.shape[::-1]) - 1)
        owned = owner[nearest[..., 1], nearest[..., 0]]
        colour = ndimage.gaussian_filter1d(sample(rgb, at), _SMOOTH, axis=0, mode="wrap")
        return cls(
            start=line,
            normal=normal,
            offsets=offsets,
            edge=_ridges(colour, step_mm),
            alien=np.maximum.accumulate((owned > 0) & (owned != number), axis=1),
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
    off = np.linspace(-_REACH, _REACH, _STEPS) ** 2 / 2
    return np.array(
        [
            off + _ALIEN * b.alien - np.clip(np.where(b.alien, 0, b.edge) / noise - 1, 0, _SHARPEST)
            for b in bands
        ]
    )


def grain(bands: list[Band]) -> float:
    """Return how sharp the bed's grain gets right outside of all beads, codes."""
    outside = np.concatenate([b.edge[:, -_STEPS // 4 :][~b.alien[:, -_STEPS // 4 :]] for b in bands])
    outside = outside[outside > 0]
    return max(1.0, float(np.percentile(outside, 75))) if len(outside) > 100 else 2.0


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
