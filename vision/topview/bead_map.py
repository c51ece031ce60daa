"""What shows a bead and what does not, cell by cell of the top view, as a small network has learnt to tell.

No rule about colour or sharpness tells clear glass on felt, polished silver on grey or a nugget on striped
cloth from its bed; a network that has seen thousands of drawn beads on as many surfaces does. It says where
beads are and which cells are one bead's. It measures nothing: sizes come from edges in the photo's own
pixels. How it was taught is told in tests/training.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from vision.common.records import Mask
from vision.networks.inference import MID_GREY, Map, logit_maps, probability
from vision.topview.orthophoto import Orthophoto

CELLS_PER_MM = 5.0
"""What it was taught at; it knows beads from 0.6 to 1.7 times their size."""
_MOST_CELLS = 2.5e6
"""A wider view is taken coarser: one such takes about a second."""
_MARGIN_MM = 6.0
_MAPS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadMap:
    """What each cell of a top view shows.

    Attributes
    ----------
    inside : ndarray, shape (H, W)
        How likely it shows a bead, 0 to 1; half on the outline.
    depth : ndarray, shape (H, W)
        How far inside its bead it lies, from 0 on the outline to 1 where farthest from it.
    """

    inside: Map
    depth: Map


def bead_map(top: Orthophoto, where: Mask) -> BeadMap:
    """Look at a top view where beads may lie, shape (H, W); elsewhere both maps are 0."""
    maps = np.zeros((*where.shape, _MAPS), np.float32)
    box = _box(where, round(_MARGIN_MM * top.cells_per_mm))
    shown = top.rgb[box]
    area_mm2 = shown.shape[0] * shown.shape[1] / top.cells_per_mm**2
    shrink = min(1.0, CELLS_PER_MM / top.cells_per_mm, math.sqrt(_MOST_CELLS / area_mm2) / top.cells_per_mm)
    size = tuple(max(2, round(side * shrink)) for side in shown.shape[1::-1])
    small = cv2.resize(shown, size, interpolation=cv2.INTER_AREA)
    seen = np.asarray(np.asarray(small) / 255 - MID_GREY, dtype=np.float32)
    likely = probability(logit_maps("beads", seen, maps=_MAPS))
    maps[box] = cv2.resize(likely, shown.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    maps[~where] = 0
    inside, depth = (np.ascontiguousarray(m) for m in maps.transpose(2, 0, 1))
    return BeadMap(inside=inside, depth=depth)


def _box(where: Mask, margin: int) -> tuple[slice, slice]:
    """Return the rows and columns that hold all of a mask, and a margin; all of them if it is empty."""
    rows, columns = (np.flatnonzero(where.any(axis=axis)) for axis in (1, 0))
    if not len(rows):
        return slice(0, len(where)), slice(0, where.shape[1])
    top, left = (max(int(at[0]) - margin, 0) for at in (rows, columns))
    return slice(top, int(rows[-1]) + 1 + margin), slice(left, int(columns[-1]) + 1 + margin)
