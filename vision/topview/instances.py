"""From the map of beads to the cells of each bead.

In the map of depths every bead is a hill of about the same height, whatever its size, and beads that touch
are separated by a valley. So beads need not be alike in size, or convex, to be told apart.
"""

from dataclasses import dataclass, replace
from typing import Any, Self

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.segmentation import watershed

from vision.networks.inference import Map
from vision.topview.bead_map import BeadMap
from vision.topview.region import SMALLEST_MM, Fragment, connected_regions, window

_SUMMIT = 0.5
"""A bead's deepest cell has at least this depth. At half one more count of 46 is flagged; 1.0 leaves
nothing."""
_SADDLE, _CLEAR_SADDLE = 0.2, 0.4
"""Two summits are two beads where the saddle between them is lower than both by the first, surely so by the
second. The first loses a count of 46 at half and at double; the second, at double, flags four more."""
_FULL = 0.6
"""Share of a square as wide as the smallest bead that a bead's cells fill at least; a disc fills 0.785. No
difference at half; at double a count of 46 is lost."""
_ROUNDING = 0.01
"""Share of a saddle's depth that rounding may take away."""
_SMOOTH_MM = 0.12
"""Standard deviation: 0.6 of a cell that the network was trained on. At half one more count of 46 is
flagged, at double last digits change."""


def possible_beads(maps: BeadMap, *, per_mm: float) -> list[Fragment]:
    """Return the cells of everything on a map that may be a bead, in no order.

    Parameters
    ----------
    maps : BeadMap
    per_mm : float
        Cells a millimetre.
    """
    least = _FULL * (SMALLEST_MM * per_mm) ** 2
    blobs = connected_regions(maps.beads, least=least)
    found = [bead for blob in blobs for bead in _separated(blob, maps, smooth_cells=_SMOOTH_MM * per_mm)]
    return [bead for bead in found if bead.area > least]


def _separated(blob: Fragment, maps: BeadMap, *, smooth_cells: float) -> list[Fragment]:
    """Separate the beads of one connected region along the valleys of its depths.

    A bead's probability is the mean of its cells' times the depth of its deepest cell.
    """
    depth = np.pad(np.where(blob.mask, maps.depth[window(blob)], 0), 1).astype(np.float32)
    depth = np.asarray(cv2.GaussianBlur(depth, (0, 0), smooth_cells), dtype=np.float32)
    basins = watershed(-depth, _summits(depth), mask=np.pad(blob.mask, 1))
    hills = _Hills.of(depth, basins)
    own, clear = hills.over(_SADDLE), hills.over(_CLEAR_SADDLE)
    beads = np.unique(own[own > 0])
    number = np.where(own > 0, np.searchsorted(beads, own) + 1, 0)
    owner, clearly = number[basins][1:-1, 1:-1], clear[beads]
    found = []
    for k, box in enumerate(ndimage.find_objects(owner)):
        corner = (blob.corner[0] + box[1].start, blob.corner[1] + box[0].start)
        part = Fragment(mask=owner[box] == k + 1, corner=corner)
        inside, deep = (layer[window(part)][part.mask] for layer in (maps.inside, maps.depth))
        chance = float(np.mean(inside)) * float(deep.max())
        divided = bool(np.sum(clearly == clearly[k]) > 1)
        found.append(replace(part, probability=chance, divided=divided))
    return found


def _summits(depth: Map) -> NDArray[np.int32]:
    """Label the cells that have no deeper one beside them."""
    highest = (depth > 0) & (depth >= cv2.dilate(depth, np.ones((3, 3), np.uint8)))
    return np.asarray(cv2.connectedComponents(highest.astype(np.uint8), connectivity=8)[1], np.int32)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hills:
    """The hills of a map, each about one summit, and the saddles between them.

    Attributes
    ----------
    height : ndarray, shape (N + 1,)
        Depth of the summit of each, from number 1 on.
    pairs, saddle : ndarray, shapes (M, 2) and (M,)
        Hills side by side, and the depth of the highest place where they meet; the highest first.
    """

    height: Map
    pairs: NDArray[np.int32]
    saddle: Map

    @classmethod
    def of(cls, depth: Map, hills: NDArray[np.int32]) -> Self:
        """Find the hills, labelled from 1 on, shape (H, W)."""
        height = np.zeros(int(hills.max()) + 1, np.float32)
        np.maximum.at(height, hills.ravel(), depth.ravel())
        one, other = _beside(hills)
        meet = (one > 0) & (other > 0) & (one != other)
        pairs = np.sort(np.column_stack([one[meet], other[meet]]), axis=1)
        low = np.minimum(*_beside(depth))[meet]
        order = np.argsort(-low)
        numbers = pairs[order] @ np.array([len(height), 1])  # of pairs, sorted ten times as fast as rows
        kept = order[np.sort(np.unique(numbers, return_index=True)[1])]
        return cls(height=height, pairs=pairs[kept], saddle=low[kept])

    def over(self, rise: float) -> NDArray[np.int64]:
        """Return for each hill the one that it is part of, shape (N + 1,); 0 for what is nowhere deep.

        From the highest saddle down, two become one, named as the higher, unless both rise by so much over
        where they meet: those that are left have so much of a dynamic (Grimaud 1992).
        """
        whole = np.arange(len(self.height))
        for (one, other), saddle in zip(self.pairs, self.saddle, strict=True):
            low, high = sorted((whole[one], whole[other]), key=lambda hill: float(self.height[hill]))
            if low != high and self.height[low] < max(saddle + (1 - _ROUNDING) * rise, _SUMMIT):
                whole[whole == low] = high
        return np.where(self.height[whole] > _SUMMIT, whole, 0)


def _beside(cells: NDArray[Any]) -> NDArray[Any]:
    """Return the values of all pairs of cells one beside or below the other, shape (2, P)."""
    sides = (cells[:-1], cells[1:]), (cells[:, :-1], cells[:, 1:])
    return np.concatenate([np.stack([one.ravel(), other.ravel()]) for one, other in sides], axis=1)
