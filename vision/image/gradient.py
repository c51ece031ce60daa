"""Colour gradients, and what gradient the bare bed has by itself.

A bead's outline is told from its bed by how sharply the picture changes, compared with how sharply
the bed's own grain changes near by: shadows and uneven light change slowly, felt changes everywhere
alike. The comparison is a ratio, so no threshold is in grey levels.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.records import ImageArray

Image = NDArray[np.floating[Any]]

_SUM = np.ones((1, 3), dtype=np.float32)
_BAND = 120
"""Rows."""
_FLOOR = 0.8
"""Codes per cell: below this a bed's grain is only the quantising of 8-bit pixels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Some rows of a picture, those seen with a halo round them, and where the rows lie among these."""

    rows: slice
    seen: slice
    inner: slice


def bands(count: int, *, halo: int) -> Iterator[Band]:
    """Divide a picture of `count` rows into bands small enough to stay in the processor's cache.

    Pictures of a top view's size are several times slower: most of the time goes on fetching memory.
    """
    for first in range(0, count, _BAND):
        last, low = min(first + _BAND, count), max(first - halo, 0)
        yield Band(
            rows=slice(first, last), seen=slice(low, last + halo), inner=slice(first - low, last - low)
        )


def colour_gradient(rgb: ImageArray | Image, *, sigma_cells: float) -> Image:
    """Return the largest rate of change over all directions, codes per cell, shape (H, W).

    The gradient of a three-channel picture is the larger eigenvalue of its structure tensor
    (Di Zenzo 1986); unlike the grey gradient it sees edges between colours of one brightness.

    Parameters
    ----------
    rgb : ndarray, shape (H, W, 3)
    sigma_cells : float
        Gaussian smoothing before differencing.
    """
    strongest = np.empty(rgb.shape[:2], dtype=np.float32)
    for band in bands(len(rgb), halo=math.ceil(4 * sigma_cells) + 4):
        dx, dy = _slopes(rgb[band.seen], sigma_cells)
        xx, yy, xy = summed_product(dx, dx), summed_product(dy, dy), summed_product(dx, dy)
        apart = cv2.magnitude(cv2.subtract(xx, yy), cv2.add(xy, xy))
        steepest = cv2.sqrt(cv2.addWeighted(cv2.add(xx, yy), 0.5, apart, 0.5, 0.0))
        strongest[band.rows] = np.asarray(steepest)[band.inner]
    return strongest


def summed_product(a: Image, b: Image) -> Image:
    """Return the product of two float32 pictures summed over their channels, (H, W, 3) to (H, W)."""
    return np.asarray(cv2.transform(cv2.multiply(a, b), _SUM), dtype=np.float32)


def _slopes(rgb: ImageArray | Image, sigma_cells: float) -> tuple[Image, Image]:
    smooth = cv2.GaussianBlur(rgb.astype(np.float32), (0, 0), max(sigma_cells, 0.6))
    dx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    dy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    return np.asarray(dx, dtype=np.float32), np.asarray(dy, dtype=np.float32)


def edge_strength(picture: Image, *, fine_cells: float, coarse_cells: float) -> Image:
    """Return how much steeper a picture is at a fine scale than at a coarse one, shape (H, W).

    A step is steep at the fine scale only; a shadow's ramp is as steep at both and cancels.

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
