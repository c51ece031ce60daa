"""Runs a taught network on a picture. What they were taught, and how, is told in tests/training."""

from functools import cache
from importlib import resources

import cv2
import numpy as np
from numpy.typing import NDArray

Map = NDArray[np.float32]

_TILE = 32
"""A network halves the picture four times, and two by two cells are channels of one."""
GREY = 0.5
"""Colours from 0 to 1 are shown less this."""
WIDE_TAILS = 1.39
"""Half of 2.78, within which 95 % of Student's t of four degrees of freedom lie: networks tell its scale."""


def logits_of(name: str, seen: Map, *, maps: int) -> Map:
    """Return what the network in the file NAME.onnx makes of a picture's channels (H, W, C): (H, W, M)."""
    height, width, channels = seen.shape
    bottom, right = -height % _TILE, -width % _TILE
    padded = np.pad(seen, ((0, bottom), (0, right), (0, 0)), mode="reflect") if bottom or right else seen
    rows, columns = padded.shape[0] // 2, padded.shape[1] // 2
    cells = padded.reshape(rows, 2, columns, 2, channels).transpose(4, 1, 3, 0, 2)
    network = _network(name)
    network.setInput(np.ascontiguousarray(cells.reshape(1, 4 * channels, rows, columns)))
    logits = network.forward().reshape(maps, 2, 2, rows, columns)
    fine = logits.transpose(3, 1, 4, 2, 0).reshape(2 * rows, 2 * columns, maps)
    return np.asarray(fine[:height, :width], dtype=np.float32)


def told(name: str, pictures: Map) -> Map:
    """Return the numbers that the network in the file NAME.onnx tells of pictures (N, H, W, C): (N, M)."""
    count, height, width, channels = pictures.shape
    cells = pictures.reshape(count, height // 2, 2, width // 2, 2, channels).transpose(0, 5, 2, 4, 1, 3)
    network = _network(name)
    network.setInput(np.ascontiguousarray(cells.reshape(count, 4 * channels, height // 2, width // 2)))
    return np.asarray(network.forward(), dtype=np.float32)


def likelihood(logits: Map) -> Map:
    """Return likelihoods from 0 to 1."""
    return np.asarray(1 / (1 + np.exp(-logits)), dtype=np.float32)


@cache
def _network(name: str) -> cv2.dnn.Net:
    """Return a network, read once."""
    file = resources.files("vision.networks").joinpath(f"{name}.onnx").read_bytes()
    return cv2.dnn.readNetFromONNX(np.frombuffer(file, np.uint8))
