"""Where anything shows on a bed: things do, bare paper with its noise and the edges of the view do not."""

import numpy as np

from vision.topview.bed import shows_anything
from vision.topview.orthophoto import Orthophoto

NOISE_CODES = 2.0
"""Standard deviation of a phone's picture in a lit room (common practice, no source)."""
PAPER, THING = 200, 170
ROWS, COLUMNS = slice(200, 240), slice(320, 380)
SQUARE_CELLS = 6


def view(rng: np.random.Generator) -> Orthophoto:
    """Return the top view of noisy paper."""
    rgb = np.clip(rng.normal(PAPER, NOISE_CODES, (500, 700, 3)), 0, 255).astype(np.uint8)
    return Orthophoto(
        rgb=rgb,
        seen=np.ones(rgb.shape[:2], dtype=bool),
        origin_mm=(0.0, 0.0),
        cells_per_mm=5.0,
        height_mm=0.0,
    )


def test_nothing_shows_on_noisy_paper() -> None:
    top = view(np.random.default_rng(1))
    assert not shows_anything(top, top.seen).any()


def test_the_outline_of_a_thing_shows_and_nothing_farther_off() -> None:
    top = view(np.random.default_rng(2))
    top.rgb[ROWS, COLUMNS] = THING
    shown = shows_anything(top, top.seen)
    rows, columns = (np.flatnonzero(shown.any(axis=axis)) for axis in (1, 0))
    for found, there in ((rows, ROWS), (columns, COLUMNS)):
        assert there.start - SQUARE_CELLS <= found[0] <= there.start
        assert there.stop - 1 <= found[-1] <= there.stop - 1 + SQUARE_CELLS


def test_what_lies_at_the_edge_of_a_bed_does_not_show() -> None:
    top = view(np.random.default_rng(3))
    top.rgb[:, :100] = 0
    bed = top.seen.copy()
    bed[:, :100] = False
    assert not shows_anything(top, bed).any()
