"""The photo as seen from straight above: resampled onto a plane parallel to the sheet.

Beads are detected here, where a millimetre is the same number of cells everywhere and thresholds are in
millimetres. Sizes are measured in the photo's own pixels: resampling blurs, and a bead is not flat.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from vision.camera.camera import on_plane
from vision.camera.scene import Scene
from vision.common.records import FloatArray, ImageArray, Mask
from vision.networks.inference import Map

_REACH_MM = 250.0
"""How far from the middle of a card beads are detected: farther out the scale is extrapolated by more than
two cards. At half sizes change a little, at double last digits of one photo."""
_GRID_CELLS = 16
"""The exact pixel is computed every so many cells. At 5 cells and 10 pixels a millimetre the cells between
are off by up to 0.04 pixel, and it is 18 times faster; 32 would be off by 0.15 pixel and no faster."""
_BORDER_POINTS = 9
"""Points on each side of the photo whose places on the ground show how far a photo reaches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Orthophoto:
    """A top view with a millimetre grid.

    Attributes
    ----------
    rgb : ndarray, shape (H, W, 3), uint8
    seen : ndarray of bool, shape (H, W)
        False where the photo does not reach.
    origin_mm : tuple of float
        World (x, y) of the centre of cell (0, 0).
    cells_per_mm : float
    height_mm : float
        Height of the plane above the sheet.
    """

    rgb: ImageArray
    seen: Mask
    origin_mm: tuple[float, float]
    cells_per_mm: float
    height_mm: float

    def to_mm(self, cells: FloatArray) -> FloatArray:
        """Return world (x, y) of cell coordinates (x, y), shape (..., 2).

        Examples
        --------
        >>> top = Orthophoto(
        ...     rgb=np.zeros((20, 30, 3), np.uint8),
        ...     seen=np.ones((20, 30), dtype=bool),
        ...     origin_mm=(31.0, 40.0),
        ...     cells_per_mm=5.0,
        ...     height_mm=0.0,
        ... )
        >>> top.to_mm(np.array([10, 0])).tolist()
        [33.0, 40.0]
        >>> top.to_cells(np.array([33.0, 40.0])).tolist()
        [10.0, 0.0]
        """
        return np.asarray(cells) / self.cells_per_mm + np.array(self.origin_mm)

    def to_cells(self, points_mm: FloatArray) -> FloatArray:
        """Return cell coordinates (x, y) of world (x, y), shape (..., 2)."""
        return (np.asarray(points_mm) - np.array(self.origin_mm)) * self.cells_per_mm


def orthophoto(scene: Scene, *, finest_cells_per_mm: float, times: float = 1.0) -> Orthophoto:
    """Resample a photo onto the surface under the beads.

    A mat is covered whole; round a card, all that the photo shows within reach.

    Parameters
    ----------
    scene : Scene
    finest_cells_per_mm : float
        Resolution, if the photo has as many pixels.
    times : float
        Times as fine as that, whatever pixels there are.
    """
    left, top, right, bottom = _extent(scene)
    middle = np.array([(left + right) / 2, (top + bottom) / 2, scene.bed_height_mm])
    per_mm = times * min(finest_cells_per_mm, scene.camera.px_per_mm(middle))
    size = math.ceil((right - left) * per_mm), math.ceil((bottom - top) * per_mm)
    where = _pixels(scene, (left, top), size=size, per_mm=per_mm)
    rgb = cv2.remap(
        scene.photo.rgb, where[..., 0], where[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return Orthophoto(
        rgb=np.asarray(rgb),
        seen=cv2.inRange(where, (0, 0), tuple(side - 1 for side in scene.size_px)) > 0,
        origin_mm=(left, top),
        cells_per_mm=per_mm,
        height_mm=scene.bed_height_mm,
    )


def _pixels(scene: Scene, origin_mm: tuple[float, float], *, size: tuple[int, int], per_mm: float) -> Map:
    """Return the pixel (x, y) of every cell on the bed, shape (H, W, 2), interpolated between exact ones."""
    x, y = (
        start + np.arange(0, cells + _GRID_CELLS, _GRID_CELLS) / per_mm
        for start, cells in zip(origin_mm, size, strict=True)
    )
    mesh = on_plane(np.stack(np.meshgrid(x, y), axis=-1), scene.bed_height_mm)
    exact = scene.camera.project(mesh).astype(np.float32)
    shrink = np.array([[1 / _GRID_CELLS, 0, 0], [0, 1 / _GRID_CELLS, 0]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(exact, shrink, size, flags=how, borderMode=cv2.BORDER_REPLICATE))


def _extent(scene: Scene) -> tuple[float, float, float, float]:
    """Return left, top, right, bottom in the world, mm."""
    width, height = scene.page_mm
    if scene.sheet.bed_mm is not None:
        return 0.0, 0.0, float(width), float(height)
    edge_x, edge_y = (np.linspace(0, side - 1, _BORDER_POINTS) for side in scene.size_px)
    border = [(x, y) for x in edge_x for y in edge_y[[0, -1]]]
    border += [(x, y) for x in edge_x[[0, -1]] for y in edge_y]
    ground = scene.camera.to_plane(np.array(border), 0.0)
    low = np.maximum(ground.min(axis=0), scene.page_mm / 2 - _REACH_MM)
    high = np.minimum(ground.max(axis=0), scene.page_mm / 2 + _REACH_MM)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
