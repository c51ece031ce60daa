"""From stored pixel values to light: blur and shadow are linear in light, not in sRGB values.

Half way between dark and bright is 50 % of the light, which sRGB stores as 73 %. An edge located on stored
values is therefore up to half a pixel off, towards the dark side.
"""

import numpy as np
from numpy.typing import NDArray

from vision.common.records import ImageArray

_CODES = np.arange(256) / 255.0
SRGB_TO_LINEAR = np.where(_CODES <= 0.04045, _CODES / 12.92, ((_CODES + 0.055) / 1.055) ** 2.4).astype(
    np.float32
)
"""Linear light of each 8-bit sRGB code, 0 to 1 (IEC 61966-2-1)."""

LUMINANCE = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
"""Weights of linear red, green and blue (ITU-R BT.709)."""


def to_linear(srgb: ImageArray) -> NDArray[np.float32]:
    """Return the linear light, 0 to 1, of 8-bit sRGB values of any shape.

    Examples
    --------
    >>> to_linear(np.array([0, 188, 255], np.uint8)).round(2).tolist()
    [0.0, 0.5, 1.0]
    """
    return SRGB_TO_LINEAR.take(srgb)
