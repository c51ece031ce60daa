"""Colour gradients, and what gradient the bare bed has by itself.

A bead's outline is told from its bed by how sharply the picture changes, compared with how sharply
the bed's own grain changes near by: shadows and uneven light change slowly, felt changes everywhere
alike. The comparison is a ratio, so no threshold is in grey levels.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.records import ImageArray

Image = NDArray[np.floating[Any]]

_SUM = np.ones((1, 3), dtype=np.float32)
_FLOOR = 0.8
"""Codes per cell: below this a bed's grain is only the quantising of 8-bit pixels."""


def colour_gradient(rgb: ImageArray | Image, *, sigma_cells: float) -> tuple[Image, Image, Image]:
    """Return the largest rate of change over all directions, and those along x and along y.

    The gradient of a three-channel picture is the larger eigenvalue of its structure tensor
    (Di Zenzo 1986); unlike the grey gradient it sees edges between colours of one brightness.

    Parameters
    ----------
    rgb : ndarray, shape (H, W, 3)
    sigma_cells : float
        Gaussian smoothing before differencing.

    Returns
    -------
    strongest, along_x, along_y : ndarray, shape (H, W)
        Codes per cell.
    """
    smooth = cv2.GaussianBlur(rgb.astype(np.float32), (0, 0), max(sigma_cells, 0.6))
    dx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    dy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    xx, yy, xy = (cv2.transform(cv2.multiply(a, b), _SUM) for a, b in ((dx, dx), (dy, dy), (dx, dy)))
    strongest = np.sqrt((xx + yy + np.sqrt((xx - yy) ** 2 + 4 * xy * xy)) / 2)
    return strongest, np.sqrt(xx), np.sqrt(yy)


def edge_strength(picture: Image, *, fine_cells: float, coarse_cells: float) -> Image:
    """Return how much steeper a picture is at a fine scale than at a coarse one, shape (H, W).

    A step is steep at the fine scale only; a shadow's ramp is as steep at both and cancels.

    Parameters
    ----------
    picture : ndarray, shape (H, W, 3)
    fine_cells, coarse_cells : float
        Gaussian smoothing of the two scales.
    """
    fine, _, _ = colour_gradient(picture, sigma_cells=fine_cells)
    coarse, _, _ = colour_gradient(picture, sigma_cells=coarse_cells)
    return np.maximum(fine - coarse, 0)


def block_peaks(gradient: Image, block: int) -> Image:
    """Return the largest gradient in each block x block square, shape (H // block, W // block)."""
    rows, columns = gradient.shape[0] // block, gradient.shape[1] // block
    cut = gradient[: rows * block, : columns * block]
    peaks: Image = cut.reshape(rows, block, columns, block).max(axis=(1, 3))
    return peaks


def block_medians(picture: Image, block: int) -> Image:
    """Return the median of each block x block square, shape (H // block, W // block)."""
    rows, columns = picture.shape[0] // block, picture.shape[1] // block
    cut = picture[: rows * block, : columns * block].reshape(rows, block, columns, block)
    medians: Image = np.median(cut.transpose(0, 2, 1, 3).reshape(rows, columns, -1), axis=2)
    return medians


def grain_level(peaks: Image, ignore: NDArray[np.bool_], *, window: int) -> Image:
    """Return the gradient peak that the bed shows by itself, everywhere, shape of `peaks`.

    The 40th percentile over a window: beads may cover up to half of it.

    Parameters
    ----------
    peaks : ndarray, shape (H, W)
        From `block_peaks`.
    ignore : ndarray of bool, shape (H, W)
        Where other things than bed and beads are (tags, beyond the photo).
    window : int
        Side of the window in blocks.
    """
    tile = max(1, window // 5)
    rows, columns = (-(-n // tile) for n in peaks.shape)
    padded = np.full((rows * tile, columns * tile), np.nan, dtype=np.float32)
    padded[: peaks.shape[0], : peaks.shape[1]] = np.where(ignore, np.nan, peaks)
    tiles = padded.reshape(rows, tile, columns, tile).transpose(0, 2, 1, 3).reshape(rows, columns, -1)
    tiles = np.sort(tiles, axis=2)  # NaN last
    count = np.isfinite(tiles).sum(axis=2)
    rank = np.maximum((0.4 * (count - 1)).astype(int), 0)
    level = np.take_along_axis(tiles, rank[..., None], axis=2)[..., 0]
    overall = float(np.nanmedian(level)) if count.any() else _FLOOR
    level = np.where(count >= tile * tile / 8, level, overall)
    level = ndimage.percentile_filter(level, 40, size=5, mode="nearest")
    smooth = cv2.resize(level.astype(np.float32), padded.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.maximum(smooth[: peaks.shape[0], : peaks.shape[1]], _FLOOR)
