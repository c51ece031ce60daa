"""Enlarges a small picture of a surface by image quilting: patches of it, cut where they differ least.

Mirrored tiles would do as well, but that where four of them meet a bed shows round marks that no bed has.
Efros and Freeman 2001, "Image quilting for texture synthesis and transfer".
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.float32]

_PATCH, _OVERLAP = 3 / 8, 1 / 4
"""Side of a patch over that of the picture, and how much of a patch lies on others (of their examples)."""
_TOLERANCE = 0.1
"""Any patch that fits worse than the best by no more than this is as good (section 2.1)."""
_LEAST = 1e-4
"""Mean square difference that all patches may have: plain surfaces would else repeat one."""


def quilted(tile: Picture, size: tuple[int, int], rng: np.random.Generator) -> Picture:
    """Return a picture (H, W, 3) of `size` (width, height), of patches of a tile (h, w, 3), 0 to 1."""
    side = round(_PATCH * min(tile.shape[:2]))
    step = side - round(_OVERLAP * side)
    across, down = (-(-max(length - side, 0) // step) + 1 for length in size)
    out = np.zeros((side + (down - 1) * step, side + (across - 1) * step, 3), np.float32)
    laid = np.zeros(out.shape[:2], np.float32)
    for row in range(down):
        for column in range(across):
            box = slice(row * step, row * step + side), slice(column * step, column * step + side)
            patch = _fitting(tile, out[box], laid[box], rng)
            new = _cut(patch, out[box], laid[box], side - step, left=column > 0, above=row > 0)
            out[box][new] = patch[new]
            laid[box] = 1
    return out[: size[1], : size[0]]


def _fitting(tile: Picture, there: Picture, laid: NDArray[np.float32], rng: np.random.Generator) -> Picture:
    """Return a patch of the tile that fits what is there already, (S, S, 3), where `laid` is 1."""
    side = len(there)
    rows, columns = (length - side + 1 for length in tile.shape[:2])
    at = np.arange(rows * columns)
    if laid.any():
        mask = np.repeat(laid[..., None], 3, axis=2)
        off = cv2.matchTemplate(tile, there, cv2.TM_SQDIFF, mask=mask).ravel() / mask.sum()
        at = np.flatnonzero(off <= (1 + _TOLERANCE) * max(float(off.min()), 0.0) + _LEAST)
    row, column = divmod(int(rng.choice(at)), columns)
    return tile[row : row + side, column : column + side]


def _cut(
    patch: Picture, there: Picture, laid: NDArray[np.float32], wide: int, *, left: bool, above: bool
) -> NDArray[np.bool_]:
    """Return where a patch is laid: on free cells, and beyond the line of least difference on others."""
    off = ((patch - there) ** 2).sum(axis=2)
    new = np.ones(laid.shape, dtype=bool)
    if left:
        new[:, :wide] &= np.arange(wide) >= _seam(off[:, :wide])[:, None]
    if above:
        new[:wide] &= np.arange(wide)[:, None] >= _seam(off[:wide].T)[None]
    return new | (laid == 0)


def _seam(off: NDArray[np.float32]) -> NDArray[np.intp]:
    """Return the column in each row of the connected line of least difference, down (N, W)."""
    total = off.astype(float)
    for row in range(1, len(off)):
        before = np.pad(total[row - 1], 1, constant_values=np.inf)
        total[row] += np.minimum(np.minimum(before[:-2], before[1:-1]), before[2:])
    line = np.zeros(len(off), np.intp)
    line[-1] = np.argmin(total[-1])
    for row in range(len(off) - 2, -1, -1):
        low = max(line[row + 1] - 1, 0)
        line[row] = low + np.argmin(total[row, low : line[row + 1] + 2])
    return line
