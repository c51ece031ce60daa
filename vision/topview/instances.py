"""From the map of beads to the cells of each bead.

In the map of depths every bead is a hill of about the same height, whatever its size, and beads that touch
are separated by a valley. So beads need not be alike in size, or convex, to be told apart.
"""

import itertools
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.morphology import reconstruction
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
    seeds, clear = _summits(depth)
    owner = watershed(-depth, seeds, mask=np.pad(blob.mask, 1))[1:-1, 1:-1]
    hills = _highest(clear, seeds)
    inside, deep = maps.inside[window(blob)], maps.depth[window(blob)]
    found = []
    for hill, box, number in zip(hills, ndimage.find_objects(owner), itertools.count(1), strict=False):
        mask = owner[box] == number
        chance = float(np.mean(inside[box][mask])) * float(deep[box][mask].max())
        clearly_one = hill > 0 and np.sum(hills == hill) == 1
        found.append(
            replace(
                blob,
                mask=mask,
                corner=(blob.corner[0] + box[1].start, blob.corner[1] + box[0].start),
                probability=chance,
                divided=not clearly_one,
            )
        )
    return found


def _summits(depth: Map) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Label the hills that are beads by the lower saddle, and those that are clearly so.

    What lies deeper below every summit than a saddle may be decides nothing, so hills that hang together
    only there are looked at one by one.
    """
    seeds, clear = np.zeros((2, *depth.shape), np.int32)
    for part in connected_regions(depth > _SUMMIT - _CLEAR_SADDLE, least=0):
        own = np.where(part.mask, depth[window(part)], 0).astype(np.float32)
        for layer, saddle in ((seeds, _SADDLE), (clear, _CLEAR_SADDLE)):
            hills = _domes(own, saddle)
            layer[window(part)] += np.where(hills > 0, hills + layer.max(), 0)
    return seeds, clear


def _domes(depth: Map, saddle: float) -> NDArray[np.int32]:
    """Label the hills that rise over every saddle by at least `saddle`, each above its highest saddle.

    These are the h-domes of Vincent (1993).
    """
    rise = depth - reconstruction(np.maximum(depth - saddle, 0), depth).astype(np.float32)
    _, hills = cv2.connectedComponents((rise > _ROUNDING * saddle).astype(np.uint8), connectivity=4)
    kept = (_highest(rise, hills) > (1 - _ROUNDING) * saddle) & (_highest(depth, hills) > _SUMMIT)
    renumbered = np.concatenate([[0], np.where(kept, np.cumsum(kept), 0)])
    return renumbered[hills].astype(np.int32)


def _highest(values: NDArray[Any], labels: NDArray[Any]) -> NDArray[Any]:
    """Return the largest value under each label from 1 on."""
    highest = np.full(int(labels.max()) + 1, -np.inf, values.dtype if values.dtype.kind == "f" else float)
    np.maximum.at(highest, labels.ravel(), values.ravel())  # `ndimage.maximum` would sort all cells
    return highest[1:]
