"""From the map of what shows beads to the cells of each bead.

In the map of depths every bead is a hill of about the same height, whatever its size, and beads that touch
are parted by a valley. So neither sizes nor shapes have to be alike, or convex, to tell them apart.
"""

import itertools
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.morphology import reconstruction
from skimage.segmentation import watershed

from vision.networks.inference import Map
from vision.topview.bead_map import BeadMap
from vision.topview.region import SMALLEST_MM, Fragment, connected, window

_INSIDE, _SUMMIT = 0.5, 0.5
"""A cell is a bead's from the first likelihood on; a bead's deepest cell is at least so deep."""
_SADDLE, _CLEAR_SADDLE = 0.2, 0.4
"""Two summits are two beads where the saddle between them is lower than both by the first, surely so by the
second."""
HINTED, _POSSIBLE, _SURE = 0.3, 0.55, 0.75
"""Mean likelihood of a bead's cells times the depth of its deepest: from the first on it may be one, from the
second on rather is one than a shadow or a fleck of the bed, and below the third that is not certain. Of drawn
beads one in a thousand lies below 0.66."""
_LARGE, _LARGE_POSSIBLE, _SMALL_POSSIBLE = 0.5, 0.5, 0.7
"""Beside sure beads: from this share of the area of most of them on the second likelihood is enough, below it
the third is not too much. In 185 drawn lots no bead that was less likely was smaller, and nearly all flecks
of felt and glints of glass were."""
_FULL = 0.6
"""Share of a square of the smallest bead's side that its cells fill at the least."""
_SMOOTH_MM = 0.12


def beads_of(maps: BeadMap, *, per_mm: float, likely: float = _POSSIBLE) -> list[Fragment]:
    """Return the cells of everything on a map that is a bead at least so `likely`, in no order."""
    least = _FULL * (SMALLEST_MM * per_mm) ** 2
    blobs = connected(maps.inside > _INSIDE, least)
    found = [bead for blob in blobs for bead in _beads_in(blob, maps, per_mm)]
    return [bead for bead in found if bead.area > least and bead.likely > likely]


def rather_beads(hinted: list[Fragment]) -> list[Fragment]:
    """Return those of what may be beads, all of one lot, that rather are."""
    sure = [f.area for f in hinted if f.likely > _SURE]
    if not sure:
        return [f for f in hinted if f.likely > _POSSIBLE]
    large = _LARGE * float(np.median(sure))
    return [f for f in hinted if f.likely > (_LARGE_POSSIBLE if f.area > large else _SMALL_POSSIBLE)]


def _beads_in(blob: Fragment, maps: BeadMap, per_mm: float) -> list[Fragment]:
    """Part one connected region along the valleys of its depths."""
    depth = np.pad(np.where(blob.mask, maps.depth[window(blob)], 0), 1).astype(np.float32)
    depth = np.asarray(cv2.GaussianBlur(depth, (0, 0), _SMOOTH_MM * per_mm), dtype=np.float32)
    seeds, clear = (_summits(depth, saddle) for saddle in (_SADDLE, _CLEAR_SADDLE))
    owner = watershed(-depth, seeds, mask=np.pad(blob.mask, 1))[1:-1, 1:-1]
    inside, deep = maps.inside[window(blob)], maps.depth[window(blob)]
    hills = ndimage.maximum(clear, seeds, np.arange(1, seeds.max() + 1)).astype(int)
    found = []
    for hill, box, number in zip(hills, ndimage.find_objects(owner), itertools.count(1), strict=False):
        mask = owner[box] == number
        lone = hill > 0 and np.sum(hills == hill) == 1
        corner = (blob.corner[0] + box[1].start, blob.corner[1] + box[0].start)
        likely = float(np.mean(inside[box][mask])) * float(deep[box][mask].max())
        unsure = not lone or likely < _SURE
        found.append(replace(blob, mask=mask, corner=corner, likely=likely, unsure=unsure))
    return found


def _summits(depth: Map, saddle: float) -> NDArray[np.int32]:
    """Label the hills that rise over every saddle by so much, each where it is above its highest saddle."""
    rise = depth - reconstruction(np.maximum(depth - saddle, 0), depth, method="dilation")
    count, hills = cv2.connectedComponents((rise > saddle / 100).astype(np.uint8), connectivity=4)
    numbers = np.arange(1, count)
    high = ndimage.maximum(rise, hills, numbers) > 0.99 * saddle
    kept = high & (ndimage.maximum(depth, hills, numbers) > _SUMMIT)
    renumbered = np.concatenate([[0], np.where(kept, np.cumsum(kept), 0)])
    return renumbered[hills].astype(np.int32)
