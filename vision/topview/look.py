"""Where on the sheet beads lie, on blocks of about half a millimetre: enough to know where to look.

Outlines and sizes come later from the photo's own pixels.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera.scene import Scene
from vision.common.records import FloatArray, Mask
from vision.topview.bead_map import CELLS_PER_MM, BeadMap, bead_map
from vision.topview.bed import bed_region
from vision.topview.orthophoto import Orthophoto, orthophoto
from vision.topview.region import Fragment, window

_BLOCK_MM = 0.5
_INSIDE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """Which blocks of the top view show beads.

    Attributes
    ----------
    mask : ndarray of bool, shape (H, W)
    sure : ndarray of bool, shape (H, W)
        Which of them surely do.
    per_mm : float
    origin_mm : tuple of float
        World (x, y) of the centre of block (0, 0).
    """

    mask: Mask
    sure: Mask
    per_mm: float
    origin_mm: tuple[float, float]

    def to_mm(self, blocks: FloatArray) -> FloatArray:
        """World (x, y) of block coordinates (x, y), shape (..., 2)."""
        return np.asarray(blocks) / self.per_mm + np.array(self.origin_mm)


def look_from_above(scene: Scene) -> tuple[Orthophoto, BeadMap]:
    """Return the top view of a scene, as fine as the network wants it, and what shows beads on it."""
    top = orthophoto(
        scene.photo,
        scene.camera,
        scene.sheet,
        scale=scene.scale,
        height_mm=scene.bed_height_mm,
        finest_cells_per_mm=CELLS_PER_MM,
    )
    return top, bead_map(top, bed_region(top, scene.sheet, scale=scene.scale))


def bead_blocks(top: Orthophoto, maps: BeadMap, beads: list[Fragment]) -> Blocks:
    """Return which blocks are mostly beads; `beads` are those that the maps show."""
    block = max(1, round(_BLOCK_MM * top.cells_per_mm))
    sure = np.zeros(maps.inside.shape, dtype=bool)
    for bead in beads:
        sure[window(bead)] |= bead.mask & (not bead.unsure)
    first = (block - 1) / 2 / top.cells_per_mm
    return Blocks(
        mask=_mostly(maps.inside > _INSIDE, block),
        sure=_mostly(sure, block),
        per_mm=top.cells_per_mm / block,
        origin_mm=(top.origin_mm[0] + first, top.origin_mm[1] + first),
    )


def _mostly(cells: Mask, block: int) -> Mask:
    """Return which blocks of so many cells each way a mask mostly covers."""
    rows, columns = (side // block for side in cells.shape)
    whole = cells[: rows * block, : columns * block].astype(np.float32)
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA) > 0.5)


def thick_part(blocks: Blocks, *, width_mm: float) -> Mask:
    """Return what is left of a mask when everything narrower than `width_mm` is taken away."""
    kernel = disc(width_mm / 2 * blocks.per_mm)
    return cv2.morphologyEx(blocks.mask.astype(np.uint8), cv2.MORPH_OPEN, kernel).astype(bool)


def disc(radius: float) -> NDArray[np.uint8]:
    """Return a round structuring element of at least one cell's radius."""
    reach = max(1, round(radius))
    y, x = np.ogrid[-reach : reach + 1, -reach : reach + 1]
    return (x * x + y * y <= reach * reach + 0.5).astype(np.uint8)
