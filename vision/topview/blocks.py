"""Blocks of about half a millimetre that show beads: fine enough for the course of a strand.

Outlines and sizes come later from the photo's own pixels.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray, Mask
from vision.topview.bead_map import BeadMap
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import Fragment, window

_BLOCK_MM = 0.5
"""A third of the smallest bead. At half and at double 1 to 2 % of the flags on beads change, no count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """Which blocks of the top view show beads.

    Attributes
    ----------
    mask : ndarray of bool, shape (H, W)
    sure : ndarray of bool, shape (H, W)
        Which of them are covered by beads that are not flagged unsure.
    per_mm : float
        Blocks a millimetre.
    origin_mm : tuple of float
        World (x, y) of the centre of block (0, 0).
    """

    mask: Mask
    sure: Mask
    per_mm: float
    origin_mm: tuple[float, float]

    def to_mm(self, blocks: FloatArray) -> FloatArray:
        """Return world (x, y) of block coordinates (x, y), shape (..., 2)."""
        return np.asarray(blocks) / self.per_mm + np.array(self.origin_mm)


def bead_blocks(top: Orthophoto, maps: BeadMap, *, beads: list[Fragment]) -> Blocks:
    """Return which blocks beads mostly cover; `beads` are those segmented on the maps."""
    block = max(1, round(_BLOCK_MM * top.cells_per_mm))
    sure = np.zeros(maps.inside.shape, dtype=bool)
    for bead in beads:
        sure[window(bead)] |= bead.mask & (not bead.unsure)
    first = (block - 1) / 2 / top.cells_per_mm
    return Blocks(
        mask=_mostly(maps.beads, block),
        sure=_mostly(sure, block),
        per_mm=top.cells_per_mm / block,
        origin_mm=(top.origin_mm[0] + first, top.origin_mm[1] + first),
    )


def _mostly(cells: Mask, block: int) -> Mask:
    """Return which blocks of `block` x `block` cells a mask covers by more than half."""
    rows, columns = (side // block for side in cells.shape)
    whole = cells[: rows * block, : columns * block].astype(np.float32)
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA) > 0.5)


def thick_part(blocks: Blocks, *, width_mm: float) -> Mask:
    """Return what is left of the blocks when everything narrower than `width_mm` is taken away."""
    kernel = disc(width_mm / 2 * blocks.per_mm)
    return cv2.morphologyEx(blocks.mask.astype(np.uint8), cv2.MORPH_OPEN, kernel).astype(bool)


def disc(radius: float) -> NDArray[np.uint8]:
    """Return a round structuring element whose radius is at least one cell.

    Examples
    --------
    >>> disc(1).tolist()
    [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    """
    reach = max(1, round(radius))
    y, x = np.ogrid[-reach : reach + 1, -reach : reach + 1]
    return (x * x + y * y <= reach * reach + 0.5).astype(np.uint8)
