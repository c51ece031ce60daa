"""Training samples of pieces: what may be a bead on a drawn table, as the program finds it, and what it is.

python -m tests.training.piece_samples OUT_DIR TOP_DIR... --processes 16 [--seconds 500]

Each TOP_DIR holds top views, as `tests.rendering` and `tests.training.samples` write them, also while they
are still being drawn.
"""

import argparse
import time
import traceback
from collections.abc import Sequence
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.views import HIDDEN
from vision.pieces.merge import joined, touching
from vision.pieces.second_look import Whole, pictures
from vision.pieces.things import other_things
from vision.topview.bead_map import CELLS_PER_MM, bead_map
from vision.topview.instances import possible_beads
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import Fragment, window

TIMES = (0.6, 1.8)
"""Of the scale of training, at which a view is read."""
_GROUPS = 12
"""Pieces that touch and are shown as one, for each view, that are not one bead."""


def read(layers: dict[str, NDArray], rng: np.random.Generator) -> dict[str, NDArray] | None:
    """Return pictures, sizes and what they are, of the pieces of a view read at some scale."""
    times = float(np.exp(rng.uniform(*np.log(TIMES))))
    rgb, owner, kind = (layers[name] for name in ("rgb", "owner", "kind"))
    size = tuple(max(64, round(side * times)) for side in rgb.shape[1::-1])
    how = cv2.INTER_AREA if times < 1 else cv2.INTER_LINEAR
    rgb = np.ascontiguousarray(cv2.resize(rgb, size, interpolation=how))
    owner, kind = (cv2.resize(layer, size, interpolation=cv2.INTER_NEAREST) for layer in (owner, kind))
    seen = np.ones(owner.shape, dtype=bool)
    top = Orthophoto(rgb=rgb, seen=seen, origin_mm=(0.0, 0.0), cells_per_mm=CELLS_PER_MM, height_mm=0.0)
    maps = bead_map(top, seen)
    found = possible_beads(maps, per_mm=CELLS_PER_MM)
    things = other_things(maps, apart_from=found, per_mm=CELLS_PER_MM)
    groups = _groups(found, owner, rng)
    candidates = [*found, *things, *groups]
    what = [judged(piece, owner, kind) for piece in candidates]
    clear = [k for k, one in enumerate(what) if one is not None]
    if not clear:
        return None
    shown = [candidates[k] for k in clear]
    sort = np.repeat([0, 1, 2], [len(found), len(things), len(groups)])
    return {
        "seen": pictures(shown, rgb, maps, among=found),
        "cells": np.array([piece.diameter for piece in shown], np.float32),
        "what": np.array([what[k] for k in clear], np.uint8),
        "chance": np.array([piece.probability for piece in shown], np.float32),
        "sort": sort[clear].astype(np.uint8),
    }


def _groups(found: Sequence[Fragment], owner: NDArray[np.uint8], rng: np.random.Generator) -> list[Fragment]:
    """Return touching pieces as one: all that are one bead, and some that are not."""
    mine = [int(np.bincount(owner[window(p)][p.mask], minlength=256).argmax()) for p in found]
    same, mixed = [], []
    for group in touching(found, per_mm=CELLS_PER_MM):
        numbers = {mine[k] for k in group}
        (same if len(numbers) == 1 and 0 not in numbers else mixed).append(group)
    some = rng.permutation(len(mixed))[:_GROUPS]
    return [joined([found[k] for k in group]) for group in (*same, *(mixed[k] for k in some))]


def judged(piece: Fragment, owner: NDArray[np.uint8], kind: NDArray[np.uint8]) -> Whole | None:
    """Return what a piece is, by which bead each cell shows; None where it is not clear."""
    own, shows = owner[window(piece)][piece.mask], kind[window(piece)][piece.mask]
    if np.mean(shows == HIDDEN) > 0.1:
        return None
    counts = np.bincount(own, minlength=256)
    share = counts[1:].sum() / piece.area
    numbers = np.flatnonzero(counts[1:]) + 1
    sizes = {int(number): int((owner == number).sum()) for number in numbers}
    whole = [number for number, size in sizes.items() if counts[number] > 0.5 * size]
    if len(whole) > 1:
        return Whole.SEVERAL
    if whole:
        number = whole[0]
        overlap = counts[number] / (piece.area + sizes[number] - counts[number])
        return Whole.ONE if overlap > 0.6 else None
    if share > 0.6:
        return Whole.PART
    return Whole.NONE if share < 0.25 else None


def _one(job: tuple[Path, Path]) -> str:
    source, out = job
    try:
        with np.load(source) as stored:
            layers = {name: stored[name] for name in ("rgb", "owner", "kind")}
        sample = read(layers, np.random.default_rng(int(source.stem)))
    except Exception:  # noqa: BLE001 - one bad sample must not end the work
        return f"{source}: {traceback.format_exc(limit=-2)}"
    if sample is not None:
        part = out.with_suffix(".part")
        with part.open("wb") as file:
            np.savez_compressed(file, **sample)
        part.rename(out)
    return ""


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("out", type=Path)
    parser.add_argument("top", type=Path, nargs="+")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--seconds", type=float, default=0.0, help="how long to wait for more")
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    cv2.setNumThreads(1)
    began, known = time.time(), set()
    with get_context("spawn").Pool(given.processes) as pool:
        while True:
            fresh = [p for folder in given.top for p in sorted(folder.glob("[0-9]*.npz")) if p not in known]
            known.update(fresh)
            for word in pool.imap_unordered(_one, [(p, given.out / p.name) for p in fresh]):
                if word:
                    print(word, flush=True)
            if time.time() - began > given.seconds:
                break
            time.sleep(2)
    print(len(known), "views", flush=True)


if __name__ == "__main__":
    main()
