"""Colour gradients, and the gradient that a bare bed has by itself.

An outline is recognised by how sharply the picture changes, compared with how sharply the bed's own grain
changes nearby: shadows and uneven light change slowly, felt changes everywhere alike. The comparison is a
ratio, so no threshold is in grey levels.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Image = NDArray[np.floating[Any]]

_SUM = np.ones((1, 3), dtype=np.float32)
_PERCENTILE = 40
"""Of the peaks in a window: things on the bed may cover up to half of it."""
_TILES_A_WINDOW, _LEAST_FILLED = 5, 1 / 8
"""Tiles each way; one at the edge of the picture counts if it holds this share of its blocks."""
_FLOOR = 0.8
"""Per cent of contrast a cell: finer grain is only the quantising of 8-bit pixels. At half last digits
change, at double 1 % of the flags on beads."""


def colour_gradient(picture: Image, *, sigma_cells: float) -> Image:
    """Return the largest rate of change over all directions, per cell, shape (H, W).

    The gradient of a three-channel picture is the larger eigenvalue of its structure tensor
    (Di Zenzo 1986); unlike the gradient of grey it shows edges between colours of one brightness.

    Parameters
    ----------
    picture : ndarray, shape (H, W, 3)
    sigma_cells : float
        Gaussian smoothing before differencing.
    """
    dx, dy = _slopes(picture, sigma_cells)
    xx, yy, xy = _summed_product(dx, dx), _summed_product(dy, dy), _summed_product(dx, dy)
    apart = cv2.magnitude(cv2.subtract(xx, yy), cv2.add(xy, xy))
    strongest = cv2.sqrt(cv2.addWeighted(cv2.add(xx, yy), 0.5, apart, 0.5, 0.0))
    return np.asarray(strongest, dtype=np.float32)


def _summed_product(a: Image, b: Image) -> Image:
    """Return the product of two float32 pictures summed over their channels, (H, W, 3) to (H, W)."""
    return np.asarray(cv2.transform(cv2.multiply(a, b), _SUM), dtype=np.float32)


def _slopes(picture: Image, sigma_cells: float) -> tuple[Image, Image]:
    """Return the slopes along x and y; an eighth is what makes Sobel's weights a slope per cell."""
    smooth = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), sigma_cells)
    dx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    dy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    return np.asarray(dx, dtype=np.float32), np.asarray(dy, dtype=np.float32)


def edge_strength(picture: Image, *, fine_cells: float, coarse_cells: float) -> Image:
    """Return how much steeper a picture is at a fine scale than at a coarse one, shape (H, W).

    A step is steep at the fine scale only; the ramp of a shadow is equally steep at both and cancels.

    Parameters
    ----------
    picture : ndarray, shape (H, W, 3)
    fine_cells, coarse_cells : float
        Gaussian smoothing of the two scales.
    """
    fine = colour_gradient(picture, sigma_cells=fine_cells)
    coarse = colour_gradient(picture, sigma_cells=coarse_cells)
    return np.maximum(fine - coarse, 0)


def block_peaks(gradient: Image, block: int) -> Image:
    """Return the largest gradient in each block x block square, shape (H // block, W // block)."""
    rows, columns = gradient.shape[0] // block, gradient.shape[1] // block
    cut = gradient[: rows * block, : columns * block]
    peaks: Image = cut.reshape(rows, block, columns, block).max(axis=(1, 3))
    return peaks


def grain_level(peaks: Image, *, window: int) -> Image:
    """Return the gradient peak that the bed shows by itself, everywhere, shape of `peaks`.

    A low percentile over a window: things on the bed may cover up to half of it.

    Parameters
    ----------
    peaks : ndarray, shape (H, W)
        From `block_peaks`.
    window : int
        Side of the window in blocks.
    """
    tile = max(1, window // _TILES_A_WINDOW)
    level = ndimage.percentile_filter(
        _tile_levels(peaks, tile), _PERCENTILE, size=_TILES_A_WINDOW, mode="nearest"
    )
    rows, columns = peaks.shape
    whole = level.shape[1] * tile, level.shape[0] * tile
    smooth = np.asarray(cv2.resize(level.astype(np.float32), whole, interpolation=cv2.INTER_LINEAR))
    return np.maximum(smooth[:rows, :columns], _FLOOR)


def _tile_levels(peaks: Image, tile: int) -> Image:
    """Return the percentile of each square of `tile` x `tile` blocks; of a poor one the median of all."""
    rows, columns = (-(-n // tile) for n in peaks.shape)
    padded = np.full((rows * tile, columns * tile), np.nan, dtype=np.float32)
    padded[: peaks.shape[0], : peaks.shape[1]] = peaks
    tiles = padded.reshape(rows, tile, columns, tile).transpose(0, 2, 1, 3).reshape(rows, columns, -1)
    tiles = np.sort(tiles, axis=2)  # NaN last
    count = np.isfinite(tiles).sum(axis=2)
    rank = (_PERCENTILE / 100 * (count - 1)).astype(int)
    level = np.take_along_axis(tiles, rank[..., None], axis=2)[..., 0]
    return np.where(count >= tile * tile * _LEAST_FILLED, level, float(np.median(level)))
