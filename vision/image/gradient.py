"""Colour gradients, and how sharp an edge is: shadows and uneven light change slowly."""

import cv2
import numpy as np

from vision.common.records import FloatArray

_SUM = np.ones((1, 3), dtype=np.float32)


def colour_gradient(picture: FloatArray, *, sigma_cells: float) -> FloatArray:
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


def _summed_product(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the product of two float32 pictures summed over their channels, (H, W, 3) to (H, W)."""
    return np.asarray(cv2.transform(cv2.multiply(a, b), _SUM), dtype=np.float32)


def _slopes(picture: FloatArray, sigma_cells: float) -> tuple[FloatArray, FloatArray]:
    """Return the slopes along x and y; an eighth is what makes Sobel's weights a slope per cell."""
    smooth = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), sigma_cells)
    dx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    dy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    return np.asarray(dx, dtype=np.float32), np.asarray(dy, dtype=np.float32)


def edge_strength(picture: FloatArray, *, fine_cells: float, coarse_cells: float) -> FloatArray:
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
