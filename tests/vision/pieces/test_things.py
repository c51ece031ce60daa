"""What lies among beads: what it may hide, and beads that the map takes for other things."""

import math

import numpy as np
import pytest

from vision.pieces.counting import CERTAIN, count_probability
from vision.pieces.things import covered_beads, inside_with, other_things
from vision.topview.bead_map import BeadMap
from vision.topview.kinds import Kind
from vision.topview.region import Fragment

PER_MM = 5.0
SHAPE = (130, 300)
RADIUS = 15  # cells


def piece(diameter_mm: float, probability: float) -> Fragment:
    """Return a piece of a disc's area."""
    cells = round(math.pi * (diameter_mm * PER_MM / 2) ** 2)
    return Fragment(mask=np.ones((1, cells), dtype=bool), corner=(0, 0), probability=probability)


def disc(x: int, y: int, radius: int = RADIUS) -> Fragment:
    rows, columns = np.mgrid[-radius : radius + 1, -radius : radius + 1]
    return Fragment(mask=np.hypot(rows, columns) <= radius, corner=(x - radius, y - radius), probability=0.9)


def view(kinds: dict[Kind, float], *, of: Fragment, looks: float) -> BeadMap:
    """Return maps of a bare bed with one thing on it, which so much looks like a bead."""
    chances = np.zeros((len(Kind), *SHAPE), np.float32)
    chances[Kind.BED] = 1.0
    inside = np.zeros(SHAPE, np.float32)
    (left, top), (height, width) = of.corner, of.mask.shape
    box = slice(top, top + height), slice(left, left + width)
    for kind in Kind:
        chances[kind][box][of.mask] = kinds.get(kind, 0.0)
    inside[box][of.mask] = looks
    return BeadMap(inside=inside, depth=inside, kinds=chances, bed=np.ones(SHAPE, dtype=bool))


def test_what_shows_no_strung_part_is_a_thing_unless_it_is_a_piece_already() -> None:
    coin = disc(150, 70)
    maps = view({Kind.OTHER: 0.95, Kind.BED: 0.05}, of=coin, looks=0.02)
    assert [one.area for one in other_things(maps, apart_from=[], per_mm=PER_MM)] == [coin.area]
    assert other_things(maps, apart_from=[coin], per_mm=PER_MM) == []


def test_the_map_of_beads_shows_what_is_one_after_all_and_nothing_else_changes() -> None:
    thing = disc(150, 60)
    maps = view({Kind.OTHER: 0.95, Kind.BED: 0.05}, of=thing, looks=0.02)
    shown = inside_with([thing], maps)
    assert shown[60, 150] == pytest.approx(0.95)
    assert shown[20, 20] == 0.0
    assert inside_with([], maps) == pytest.approx(maps.inside)


@pytest.mark.parametrize(
    ("thing_mm", "sure"), [(21.0, False), (16.0, False), (9.0, True)], ids=["coin", "finger tip", "ring"]
)
def test_what_is_as_large_as_several_beads_may_cover_one(thing_mm: float, sure: bool) -> None:  # noqa: FBT001
    lot = [piece(6.0, 0.9)] * 20
    more = covered_beads([piece(thing_mm, 0.4)], lot)
    assert (count_probability(np.ones(20), np.ones(20), besides=more) > CERTAIN) == sure


def test_nothing_is_covered_where_no_bead_is_seen() -> None:
    assert covered_beads([piece(21.0, 0.4)], []).tolist() == [0.0]
