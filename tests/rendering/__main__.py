"""Draws tables of beads: top views under OUT_DIR/top, straightened strings under OUT_DIR/strips.

python -m tests.rendering OUT_DIR --assets DIR --count 2000 [--first 0 --every 1] [--seconds 500]
"""

import argparse
import time
from pathlib import Path

import cv2
import drjit as dr
import mitsuba as mi
import numpy as np

HALF = (105.0, 78.0)
"""Of the table that a picture shows, mm."""


def draw(seed: int, out: Path, *, assets: Path, samples: int) -> None:
    """Draw one table; write its views."""
    from tests.rendering.arrangement import arranged  # noqa: PLC0415 - Mitsuba's variant is set first
    from tests.rendering.development import developed  # noqa: PLC0415
    from tests.rendering.grounds import any_ground  # noqa: PLC0415
    from tests.rendering.stage import Stage, any_view  # noqa: PLC0415
    from tests.rendering.views import straightened, top_view, veiled  # noqa: PLC0415

    rng = np.random.default_rng([seed, 31])
    table = arranged(rng, HALF)
    ground = any_ground(assets, HALF, rng)
    stage = Stage(table.parts, ground, any_view(HALF, rng), assets=assets, half=HALF, rng=rng)
    codes = developed(stage.picture(samples, seed), rng)
    seen = veiled(top_view(stage, table, codes))
    if seen is None:
        return
    write(out / "top" / f"{seed:07d}.npz", seen)
    for k, string in enumerate(table.strings):
        layers = straightened(stage, table, string, codes)
        if layers is not None:
            write(out / "strips" / f"{seed:07d}-{k}.npz", layers)


def write(path: Path, layers: dict[str, np.ndarray]) -> None:
    """Write a file whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}")
    np.savez_compressed(part, **layers)
    part.replace(path)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--assets", type=Path, required=True)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--samples", type=int, default=16)
    parser.add_argument("--seconds", type=float, default=1e9)
    parser.add_argument("--variant", default="cuda_ad_rgb")
    given = parser.parse_args()
    mi.set_variant(given.variant)
    dr.set_thread_count(2)  # many of these run side by side
    cv2.setNumThreads(1)
    began = time.time()
    for seed in range(given.first, given.count, given.every):
        if time.time() - began > given.seconds:
            break
        started = time.time()
        try:
            draw(seed, given.out, assets=given.assets, samples=given.samples)
        except Exception as error:  # noqa: BLE001 - one odd scene must not end the work
            print(f"{seed}: {type(error).__name__}: {error}", flush=True)
            continue
        print(f"{seed}: {time.time() - started:.2f} s", flush=True)


if __name__ == "__main__":
    main()
