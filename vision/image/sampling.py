"""Values of an image between its pixels, and the part of an image that some points lie in."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray, ImageArray, Photo
from vision.image.light import to_linear

_MARGIN_PX = 2
"""Interpolation reaches one pixel beyond a point, cubic two."""


def sample(image: NDArray[Any], points_px: FloatArray, *, cubic: bool = False) -> FloatArray:
    """Return an image's values at points, bilinear or bicubic; beyond its edge the last pixels repeat.

    Parameters
    ----------
    image : ndarray, shape (H, W) or (H, W, C), uint8 or float32
    points_px : ndarray, shape (N, ..., 2)
        (x, y); an integer is the centre of a pixel.

    Returns
    -------
    ndarray, shape (N, ...) or (N, ..., C)

    Examples
    --------
    >>> sample(np.array([[0, 10], [20, 30]], np.uint8), np.array([[0.5, 0.0], [1.0, 1.0]])).tolist()
    [5.0, 30.0]
    """
    flat = points_px.reshape(len(points_px), -1, 2).astype(np.float32)
    how = cv2.INTER_CUBIC if cubic else cv2.INTER_LINEAR
    values = cv2.remap(image, flat[..., 0], flat[..., 1], how, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(values).reshape(points_px.shape[:-1] + image.shape[2:]).astype(float)


def crop_about(
    rgb: ImageArray, points_px: FloatArray, *, margin_px: int = _MARGIN_PX
) -> tuple[ImageArray, NDArray[np.intp]]:
    """Return the part of an image about some points, and the pixel (x, y) that is its first, shape (2,).

    Parameters
    ----------
    rgb : ndarray, shape (H, W, 3), uint8
    points_px : ndarray, shape (..., 2)
    margin_px : int
        How far it reaches beyond them.
    """
    size = np.array(rgb.shape[1::-1])
    flat = np.ascontiguousarray(points_px.reshape(-1, 2).T)  # of rows, extremes are found ten times as fast
    low = np.clip(np.floor(flat.min(axis=1)).astype(int) - margin_px, 0, size - 2)
    high = np.clip(np.ceil(flat.max(axis=1)).astype(int) + margin_px + 1, low + 2, size)
    return rgb[low[1] : high[1], low[0] : high[0]], low


def light_at(photo: Photo, points_px: FloatArray) -> FloatArray:
    """Return linear light at points (N, ..., 2) of a photo, shape (N, ..., 3), 0 to 1.

    The light is interpolated, not the stored values: blur is linear in light.
    """
    part, low = crop_about(photo.rgb, points_px)
    return sample(to_linear(part), points_px - low)
