"""Colours as CIE L*a*b*, in which equal steps look about equally large.

OpenCV computes tables for them at a first use, which takes a core 0.1 s. The import of this module begins it,
so that it is done beside the imports that follow.
"""

from threading import Thread
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

_TABLES = Thread(target=cv2.cvtColor, args=(np.zeros((1, 1, 3), np.float32), cv2.COLOR_RGB2LAB))
_TABLES.start()


def to_lab(srgb: NDArray[Any]) -> NDArray[Any]:
    """Return the L*a*b* of sRGB colours, shape (H, W, 3), float32 from 0 to 1, or uint8 as OpenCV has it.

    Examples
    --------
    >>> to_lab(np.ones((1, 1, 3), np.float32)).round(1).tolist()
    [[[100.0, 0.0, 0.0]]]
    """
    _TABLES.join()  # two threads may not compute them at once
    return np.asarray(cv2.cvtColor(srgb, cv2.COLOR_RGB2LAB))
