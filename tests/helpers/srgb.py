"""From linear light to stored values, the inverse of what the program does: to draw pictures with."""

import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray, ImageArray


def coded(linear: NDArray[np.float32] | FloatArray) -> FloatArray:
    """Return the sRGB values, 0 to 1, of linear light (IEC 61966-2-1), clipped to what a screen shows."""
    light = np.clip(np.asarray(linear, dtype=float), 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def to_srgb(linear: NDArray[np.float32] | FloatArray) -> ImageArray:
    """Return the 8-bit sRGB codes of linear light."""
    return np.asarray(np.round(255 * coded(linear)), dtype=np.uint8)
