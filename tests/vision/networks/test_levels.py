"""Tiles of a network of the top view: what the whole picture gives at once, and no more than is asked for."""

import threading

import numpy as np
import pytest

from vision.networks import levels
from vision.networks.levels import Box, each_tile

ROUNDING = 1e-4
"""Of logits in single precision: sums of a thousand products come out in another order."""
ALIKE = 1e-3
"""Logits of a picture and of one that holds it differ by less, far from where it ends."""
MAPS = {"beads": 2, "kinds": 11}
WHOLE = 1 << 20
"""A tile of such sides is the whole picture: ONNX Runtime computes every level at once."""


def picture(height: int, width: int) -> np.ndarray:
    """Return smooth colours with some noise, shape (H, W, 3)."""
    y, x = np.mgrid[:height, :width] / 40
    smooth = np.stack([np.sin(x), np.cos(y), np.sin(x + y)], axis=-1)
    noise = np.random.default_rng(4).normal(0, 0.1, smooth.shape)
    return np.clip(128 + 100 * (smooth + noise), 0, 255).astype(np.uint8)


def logits(name: str, shown: np.ndarray, wanted: np.ndarray | None = None) -> np.ndarray:
    """Return the logits of all tiles, shape (M, H, W); NaN where none came."""
    maps = np.full((MAPS[name], *shown.shape[:2]), np.nan, np.float32)

    def take(at: Box, tile: np.ndarray) -> None:
        assert np.isnan(maps[:, *at]).all()  # tiles have no cell in common
        maps[:, *at] = tile

    everywhere = np.ones(shown.shape[:2], dtype=bool)
    each_tile(name, shown, take=take, wanted=everywhere if wanted is None else wanted)
    return maps


@pytest.mark.parametrize("name", MAPS)
@pytest.mark.parametrize("side", [16, 48])
def test_tiles_give_what_the_whole_picture_gives(
    name: str, side: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = picture(250, 387)
    monkeypatch.setattr(levels, "_SIDE", WHOLE)
    whole = logits(name, shown)
    monkeypatch.setattr(levels, "_SIDE", side)
    assert logits(name, shown) == pytest.approx(whole, abs=ROUNDING)


def test_no_part_is_loaded_by_one_of_several_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    asked_first: dict[str, threading.Thread] = {}
    session = levels._session  # noqa: SLF001 - what loads a part

    def asked(part: str) -> object:
        asked_first.setdefault(part, threading.current_thread())
        return session(part)

    monkeypatch.setattr(levels, "_session", asked)
    logits("beads", picture(64, 96))
    assert asked_first == {f"beads-{k}": threading.main_thread() for k in range(7)}


def test_what_is_not_wanted_is_left_out_and_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = picture(317, 410)  # the network gets 320 x 416 cells
    whole = logits("beads", shown)
    monkeypatch.setattr(levels, "_SIDE", 32)
    wanted = np.zeros(shown.shape[:2], dtype=bool)
    wanted[70, 130], wanted[85, 133], wanted[316, 409] = True, True, True
    some = logits("beads", shown, wanted)
    there = ~np.isnan(some[0])
    assert there[68:88, 128:136].all()  # the least box of both within a tile, in squares of four cells
    assert there[316:, 408:].all()
    assert np.count_nonzero(there) == 20 * 8 + 2
    assert some[:, there] == pytest.approx(whole[:, there], abs=ROUNDING)


def test_what_lies_farther_than_a_network_looks_is_not_seen() -> None:
    near, far = 24, levels._REACH + 2 * 24  # noqa: SLF001 - how far that is
    shown = picture(64, far + 200)
    wanted = np.zeros(shown.shape[:2], dtype=bool)
    wanted[:, :near] = True
    changed = shown.copy()
    changed[:, far:] = 255 - shown[:, far:]
    one, other = (logits("kinds", each, wanted)[:, :, :near] for each in (shown, changed))
    assert (one == other).all()
    assert one == pytest.approx(logits("kinds", shown)[:, :, :near], abs=ROUNDING)


def test_nothing_wanted_gives_nothing() -> None:
    assert np.isnan(logits("beads", picture(96, 64), np.zeros((96, 64), dtype=bool))).all()


@pytest.mark.parametrize(("height", "width"), [(64, 96), (65, 97), (95, 127), (9, 40)])
def test_a_picture_of_any_sides_has_maps_of_its_own_size(height: int, width: int) -> None:
    assert np.isfinite(logits("beads", picture(height, width))).all()


def test_what_is_padded_changes_nothing_far_from_it() -> None:
    """A network of five levels reaches far; on a blank picture reflected padding is what would be there."""
    blank = np.full((96, 160, 3), 128, np.uint8)
    whole = logits("beads", blank)
    assert logits("beads", blank[:80, :130])[:, :8, :8] == pytest.approx(whole[:, :8, :8], abs=ALIKE)
