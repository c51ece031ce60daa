"""Draws tables of beads: top views under OUT_DIR/top, straightened strings under OUT_DIR/strips.

python -m tests.rendering OUT_DIR --assets DIR --count 2000 [--first 0 --every 1] [--seconds 500]
"""

import argparse
from pathlib import Path

import numpy as np

from tests.rendering.arrangement import arranged, odd_piece, try_to_lay
from tests.rendering.clutter import SMALL
from tests.rendering.development import developed
from tests.rendering.grounds import any_ground
from tests.rendering.running import draw_many, options
from tests.rendering.stage import Stage, any_view
from tests.rendering.views import straightened, top_view, veiled

HALF = (105.0, 78.0)
"""Of the table that a picture shows, mm."""


def draw(seed: int, given: argparse.Namespace) -> None:
    """Draw one table; write its views."""
    rng = np.random.default_rng([seed, 31])
    table = arranged(rng, HALF, given.sort)
    for _ in range(int(rng.integers(0, 4)) if given.sort else 0):
        try_to_lay(table, rng, odd_piece(SMALL))
    ground = any_ground(given.assets, HALF, rng)
    stage = Stage(table.parts, ground, any_view(HALF, rng), assets=given.assets, half=HALF, rng=rng)
    codes = developed(stage.picture(given.samples, seed), rng)
    seen = veiled(top_view(stage, table, codes))
    if seen is None:
        return
    write(given.out / "top" / f"{seed:07d}.npz", seen)
    for k, string in enumerate(table.strings):
        layers = straightened(stage, table, string, codes)
        if layers is not None:
            write(given.out / "strips" / f"{seed:07d}-{k}.npz", layers)


def write(path: Path, layers: dict[str, np.ndarray]) -> None:
    """Write a file whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}")
    np.savez_compressed(part, **layers)
    part.replace(path)


if __name__ == "__main__":
    parser = options(__doc__)
    parser.add_argument("--sort", default="", help="what lies on all tables, and more things among it")
    draw_many(draw, parser.parse_args())
