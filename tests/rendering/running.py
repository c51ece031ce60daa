"""Draws one scene after another; several of these run side by side."""

import argparse
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import drjit as dr


def options(description: str | None) -> argparse.ArgumentParser:
    """Return the options that all drawing has."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("out", type=Path)
    parser.add_argument("--assets", type=Path, required=True)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--samples", type=int, default=16, help="rays of a pixel")
    parser.add_argument("--seconds", type=float, default=1e9)
    return parser


def draw_many(draw: Callable[[int, argparse.Namespace], None], given: argparse.Namespace) -> None:
    """Draw a scene of each seed, until there are enough or time is up."""
    dr.set_thread_count(2)  # many of these run side by side
    cv2.setNumThreads(1)
    began = time.time()
    for seed in range(given.first, given.count, given.every):
        if time.time() - began > given.seconds:
            break
        started = time.time()
        try:
            draw(seed, given)
        except Exception as error:  # noqa: BLE001 - one odd scene must not end the work
            print(f"{seed}: {type(error).__name__}: {error}", flush=True)
            continue
        print(f"{seed}: {time.time() - started:.2f} s", flush=True)
