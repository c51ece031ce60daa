"""Runs a trained network on a picture. How the networks were trained stands in tests/training.

Most weights, and what passes between layers, are integers of eight bits (`tests/training/quantise.py`).
"""

import os
from collections.abc import Sequence
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from onnxruntime import InferenceSession

Map = NDArray[np.float32]

TILE = 32
"""Sides must be multiples of this: 2 x 2 cells become channels of one, then four levels halve the picture."""
MID_GREY = 0.5
"""Subtracted from colours between 0 and 1 before a network gets them."""
_FATAL = 4
"""Of ONNX Runtime's messages: others are raised too, and would stand on standard error besides."""
_AT_ONCE = 16
"""Pictures that a network gets at once: it limits the memory that is needed."""
U_OF_T4_SCALE = 1.39
"""Networks estimate the scale of Student's t with 4 degrees of freedom, of which 95 % lie within 2.78 scales
(JCGM 100:2008, table G.2); a standard uncertainty is taken as half of that."""


def estimates(name: str, pictures: Sequence[Map] | Map) -> Map:
    """Return the numbers, shape (N, M), that a network estimates from N pictures of one size.

    Parameters
    ----------
    name : str
        The network's file in this folder, without its suffix.
    pictures : sequence of ndarray, or ndarray, shape (N, H, W, C), float32
        At least one; H and W are multiples of what its levels halve.
    """
    parts = (np.asarray(pictures[k : k + _AT_ONCE]) for k in range(0, len(pictures), _AT_ONCE))
    return np.concatenate([run(name, folded_all(part)) for part in parts])


def folded_all(pictures: NDArray[Any]) -> NDArray[Any]:
    """Return pictures (N, H, W, C) with their squares of two by two cells as channels, (N, 4 C, ...)."""
    count, height, width, channels = pictures.shape
    cells = pictures.reshape(count, height // 2, 2, width // 2, 2, channels).transpose(0, 5, 2, 4, 1, 3)
    return cells.reshape(count, 4 * channels, height // 2, width // 2)


def run(name: str, cells: Map) -> Map:
    """Return what a network makes of its input, shape (N, C, H, W), as it was trained."""
    made = network(name, threads=cv2.getNumThreads()).run(None, {"cells": np.ascontiguousarray(cells)})
    return np.asarray(made[0], dtype=np.float32)


@cache
def network(name: str, *, threads: int) -> "InferenceSession":
    """Return the network, or part of one, in a file of this folder, read once."""
    # read while the library loads: what is said to it later comes after its first report, which it sends
    os.environ["ORT_DISABLE_TELEMETRY"] = "1"
    import onnxruntime  # noqa: PLC0415  (a command that runs no network need not wait for it)

    onnxruntime.disable_telemetry_events()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    # threads that have nothing to do leave the core to others
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    # what one run took is there for the next network: an arena each would hold the most that each ever took
    _share_arena()
    options.add_session_config_entry("session.use_env_allocators", "1")
    options.enable_mem_pattern = False
    options.log_severity_level = _FATAL
    file = resources.files("vision.networks").joinpath(f"{name}.onnx").read_bytes()
    return onnxruntime.InferenceSession(file, options, providers=["CPUExecutionProvider"])


@cache
def _share_arena() -> None:
    """Make the one arena that all networks of this process work in."""
    from onnxruntime import OrtAllocatorType, OrtMemoryInfo, OrtMemType  # noqa: PLC0415
    from onnxruntime import create_and_register_allocator as make  # noqa: PLC0415

    make(OrtMemoryInfo("Cpu", OrtAllocatorType.ORT_ARENA_ALLOCATOR, 0, OrtMemType.DEFAULT), None)
