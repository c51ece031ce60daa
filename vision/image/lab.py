"""Colours as CIE L*a*b*, in which equal steps look about equally large."""

import threading
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray


def prepare_lab() -> None:
    """Begin to compute the tables that OpenCV needs for these colours, in a thread of its own.

    It takes a core 0.1 s, once in a process.
    """
    _tables()


def to_lab(srgb: NDArray[Any]) -> NDArray[Any]:
    """Return the L*a*b* of sRGB colours, shape (H, W, 3), uint8, or float32 from 0 to 1.

    Of uint8 it is uint8 too: L* times 2.55, a* and b* plus 128, as OpenCV stores them.

    Examples
    --------
    >>> to_lab(np.ones((1, 1, 3), np.float32)).round(1).tolist()
    [[[100.0, 0.0, 0.0]]]
    >>> to_lab(np.full((1, 1, 3), 255, np.uint8)).tolist()
    [[[255, 128, 128]]]
    """
    _tables().join()  # two threads may not compute them at once
    return np.asarray(cv2.cvtColor(srgb, cv2.COLOR_RGB2LAB))


@cache
def _tables() -> threading.Thread:
    """Return the thread that computes the tables, by a first use of them."""
    black = np.zeros((1, 1, 3), np.float32)
    thread = threading.Thread(target=cv2.cvtColor, args=(black, cv2.COLOR_RGB2LAB))
    thread.start()
    return thread
