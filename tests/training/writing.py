"""Draws many samples on several cores and writes each into a file of its own."""

import argparse
import traceback
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np


def _save(job: tuple[Callable[[int], object], int, Path]) -> str:
    draw, seed, folder = job
    try:
        sample = draw(seed)
    except Exception:  # noqa: BLE001  one failed draw must not stop a long run
        return f"{seed}: {traceback.format_exc(limit=-2)}"
    if sample is None:
        return ""
    path = folder / f"{seed:07}.npz"
    part = path.with_suffix(".part")
    with part.open("wb") as file:
        np.savez(file, **{name: getattr(sample, name) for name in sample.__dataclass_fields__})
    part.rename(path)
    return ""


def write_samples(draw: Callable[[int], object], description: str) -> None:
    """Read the command line; draw samples, each a dataclass of arrays, into files of a folder."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    cv2.setNumThreads(1)
    jobs = [(draw, given.seed * 100_000 + k, given.folder) for k in range(given.count)]
    with get_context("fork").Pool(given.processes) as pool:
        for word in pool.imap_unordered(_save, jobs):
            if word:
                print(word, flush=True)
