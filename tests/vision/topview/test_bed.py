"""Where anything shows on a bed: things do, bare paper with its noise and the edges of the view do not."""

import cv2
import numpy as np
import pytest

from vision.topview.bed import among_things, shows_anything
from vision.topview.orthophoto import Orthophoto

NOISE_CODES = 2.0
"""Standard deviation of a phone's picture in a lit room (common practice, no source)."""
PAPER, THING = 200, 170
ROWS, COLUMNS = slice(200, 240), slice(320, 380)
SQUARE_CELLS = 6
PER_MM = 5.0
BESIDE_MM = 4.0
"""What lies no farther from what shows may belong to it."""
DISTANCE_REL = 0.03
"""Distances are sums of steps on a mask of 5 x 5: off by up to 2 % (Borgefors 1986)."""


def view(rng: np.random.Generator) -> Orthophoto:
    """Return the top view of noisy paper."""
    rgb = np.clip(rng.normal(PAPER, NOISE_CODES, (500, 700, 3)), 0, 255).astype(np.uint8)
    return Orthophoto(
        rgb=rgb,
        seen=np.ones(rgb.shape[:2], dtype=bool),
        origin_mm=(0.0, 0.0),
        cells_per_mm=PER_MM,
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


@pytest.mark.parametrize("radius_mm", [3.0, 18.0])
def test_a_thing_is_whole_where_only_its_outline_shows(radius_mm: float) -> None:
    """The closing of a disc by a disc is that disc (Serra 1982): it is filled; some bed beside it is kept."""
    empty_mm, middle = 20.0, (310, 280)
    shown = np.zeros((500, 700), np.uint8)
    cv2.circle(shown, middle, round(radius_mm * PER_MM), 1, 2)
    among = among_things(shown > 0, empty_mm=empty_mm, cells_per_mm=PER_MM)
    y, x = np.indices(shown.shape)
    outward = np.hypot(x - middle[0], y - middle[1]) / PER_MM - radius_mm - BESIDE_MM
    blurred_mm = DISTANCE_REL * empty_mm + 2 / PER_MM
    assert among[outward < -blurred_mm].all()
    assert not among[outward > blurred_mm].any()


def test_the_bed_between_things_is_bare_where_a_wide_disc_fits() -> None:
    shown = np.zeros((500, 700), dtype=bool)
    shown[:, [100, 250, 500]] = True
    among = among_things(shown, empty_mm=20.0, cells_per_mm=PER_MM)
    assert among[:, 100:250].all()  # 30 mm
    assert not among[:, 350:400].any()  # in the middle of 50 mm


def test_nothing_lies_among_nothing() -> None:
    assert not among_things(np.zeros((90, 70), dtype=bool), empty_mm=20.0, cells_per_mm=PER_MM).any()


def test_what_is_beside_a_thing_lies_no_farther_than_it_may_reach() -> None:
    thing = np.zeros((100, 120), dtype=bool)
    thing[50, 60] = True
    apart = np.hypot(*(np.mgrid[:100, :120] - np.array([50, 60])[:, None, None])) / PER_MM
    beside = among_things(thing, empty_mm=BESIDE_MM, cells_per_mm=PER_MM)
    assert beside[apart < BESIDE_MM * (1 - DISTANCE_REL)].all()
    assert not beside[apart > BESIDE_MM * (1 + DISTANCE_REL)].any()
