"""Surfaces enlarged by quilting, on tiles whose enlargement is plain."""

import numpy as np
import pytest

from tests.rendering.quilting import Picture, quilted

TILE = 64
SIZE = (300, 220)
SEAM = 0.02
"""Mean difference of neighbours that a seam may add to that of the tile."""


def noise(seed: int = 3) -> Picture:
    """Return a tile of soft spots."""
    rng = np.random.default_rng(seed)
    grain = rng.normal(0, 1, (TILE, TILE))
    soft = sum(np.roll(grain, (i, j), (0, 1)) for i in range(4) for j in range(4)) / 4
    grey = np.clip(0.5 + 0.15 * soft, 0, 1)
    return np.repeat(grey[..., None], 3, axis=2).astype(np.float32)


def steps(picture: Picture) -> float:
    """Return the mean difference of neighbours."""
    return float(np.abs(np.diff(picture[..., 0], axis=1)).mean())


def test_an_enlarged_surface_has_the_size_and_only_the_colours_of_its_tile() -> None:
    tile = noise()
    made = quilted(tile, SIZE, np.random.default_rng(1))
    assert made.shape == (SIZE[1], SIZE[0], 3)
    assert set(np.unique(made)) <= set(np.unique(tile))


def test_seams_do_not_show() -> None:
    tile = noise()
    made = quilted(tile, SIZE, np.random.default_rng(1))
    assert steps(made) == pytest.approx(steps(tile), abs=SEAM)


def test_stripes_go_on() -> None:
    grey = 0.5 + 0.4 * np.sin(2 * np.pi * np.arange(TILE) / 8)
    tile = np.broadcast_to(grey[:, None, None], (TILE, TILE, 3)).astype(np.float32).copy()
    made = quilted(tile, SIZE, np.random.default_rng(1))[..., 0]
    assert made == pytest.approx(np.broadcast_to(made[:, :1], made.shape), abs=0.05)
    assert made[8:] == pytest.approx(made[:-8], abs=0.05)


def test_no_part_is_the_mirror_image_of_what_lies_beside_it() -> None:
    """Mirrored tiles show round marks on their seams, which a network takes for beads."""
    tile = noise()
    made = quilted(tile, SIZE, np.random.default_rng(1))[..., 0]
    wide = 24
    alike = [
        np.corrcoef(made[:, x - wide : x].ravel(), made[:, x : x + wide][:, ::-1].ravel())[0, 1]
        for x in range(wide, SIZE[0] - wide)
    ]
    assert max(alike) < 0.5  # 1 on the seam of mirrored tiles


def test_the_same_numbers_make_the_same_surface() -> None:
    one, other = (quilted(noise(), SIZE, np.random.default_rng(7)) for _ in range(2))
    assert (one == other).all()
