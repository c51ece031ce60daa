"""What lies among beads: what it may hide, and beads that are taken for other things."""

import math
from dataclasses import replace

import numpy as np
import pytest

from vision.lot.counting import CERTAIN, count_probability
from vision.lot.things import beads_among, covered_beads, inside_with, other_things
from vision.topview.bead_map import BeadMap
from vision.topview.kinds import Kind
from vision.topview.region import PROBABLE, Fragment, cells_of

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


def told(thing: Fragment, maps: BeadMap) -> tuple[list[Fragment], list[Fragment]]:
    """Return what of a view is a bead after all, beside five beads, and what is left."""
    lot = [disc(20 + 40 * k, 20) for k in range(5)]
    seen = other_things(maps, apart_from=lot, per_mm=PER_MM)
    assert [one.area for one in seen] == [thing.area]
    return beads_among(seen, lot, maps=maps)


@pytest.mark.parametrize("radius", [RADIUS, RADIUS + 1])
def test_a_disc_like_the_beads_is_one_though_it_looks_like_a_coin_and_stays_in_doubt(radius: int) -> None:
    thing = disc(150, 70, radius)
    found, left = told(thing, view({Kind.OTHER: 0.95, Kind.BED: 0.05}, of=thing, looks=0.02))
    assert (len(found), len(left)) == (1, 0)
    assert PROBABLE < found[0].probability < CERTAIN


@pytest.mark.parametrize(
    ("kinds", "radius", "chance"),
    [
        ({Kind.FINDING: 0.95, Kind.BED: 0.05}, RADIUS, 0.3),
        ({Kind.STOPPER: 0.95, Kind.BED: 0.05}, RADIUS, 0.3),
        ({Kind.OTHER: 0.6, Kind.BED: 0.4}, RADIUS, 0.3),
        ({Kind.OTHER: 0.95, Kind.BED: 0.05}, 2 * RADIUS, 0.0),
    ],
    ids=["a ring", "a stopper", "a fleck", "a coin of another size"],
)
def test_other_things_are_left_as_what_they_look_like(
    kinds: dict[Kind, float], radius: int, chance: float
) -> None:
    thing = disc(150, 85, radius)
    found, left = told(thing, view(kinds, of=thing, looks=0.3))
    assert not found
    assert [one.probability for one in left] == [pytest.approx(chance, abs=1e-6)]


def together(*parts: Fragment) -> Fragment:
    """Return what parts cover together."""
    cells = cells_of(parts, SHAPE)
    (rows, columns) = (np.flatnonzero(cells.any(axis=axis)) for axis in (1, 0))
    box = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    return Fragment(mask=cells[box], corner=(int(columns[0]), int(rows[0])))


COIN = {Kind.OTHER: 0.95, Kind.BED: 0.05}


def test_touching_discs_like_the_beads_are_as_many() -> None:
    three = [disc(100 + 30 * k, 70 + 4 * k) for k in range(3)]
    thing = together(*three)
    found, left = told(thing, view(COIN, of=thing, looks=0.02))
    middles = [[one.corner[0] + RADIUS, one.corner[1] + RADIUS] for one in found]
    assert np.array(middles) == pytest.approx(np.array([(100 + 30 * k, 70 + 4 * k) for k in range(3)]), abs=1)
    assert not left


def test_touching_discs_are_found_where_another_piece_is_seen_in_one() -> None:
    whole = together(*(disc(100 + 30 * k, 70) for k in range(3)))
    inner = disc(160, 70, 9)
    mask = whole.mask & ~cells_of([replace(inner, corner=(66, 6))], whole.mask.shape)
    thing = replace(whole, mask=mask)
    found, left = told(thing, view(COIN, of=thing, looks=0.02))
    assert [one.corner[0] for one in found] == pytest.approx([85, 115], abs=1)
    assert len(left) == 1


def test_a_thing_that_has_a_part_like_a_bead_is_one_thing() -> None:
    handle = Fragment(mask=np.ones((8, 120), dtype=bool), corner=(112, 66))
    thing = together(disc(100, 70), handle)
    found, left = told(thing, view(COIN, of=thing, looks=0.3))
    assert not found
    assert [(one.area, one.probability) for one in left] == [(thing.area, 0.0)]


def test_nothing_is_taken_for_a_bead_where_there_is_none_or_no_thing() -> None:
    thing = disc(150, 60)
    maps = view({Kind.OTHER: 1.0}, of=thing, looks=0.3)
    assert beads_among([thing], [], maps=maps) == ([], [replace(thing, probability=0.0)])
    assert beads_among([], [thing], maps=maps) == ([], [])


def test_the_map_of_beads_shows_what_is_one_after_all_and_nothing_else_changes() -> None:
    thing = disc(150, 60)
    maps = view({Kind.OTHER: 0.95, Kind.BED: 0.05}, of=thing, looks=0.02)
    shown = inside_with([thing], maps)
    assert shown[60, 150] == pytest.approx(0.95)
    assert shown[20, 20] == 0.0
    assert inside_with([], maps) is maps.inside


@pytest.mark.parametrize(
    ("thing_mm", "sure"), [(21.0, False), (16.0, False), (9.0, True)], ids=["coin", "finger tip", "ring"]
)
def test_what_is_as_large_as_several_beads_may_cover_one(thing_mm: float, sure: bool) -> None:  # noqa: FBT001
    lot = [piece(6.0, 0.9)] * 20
    more = covered_beads([piece(thing_mm, 0.4)], lot)
    assert (count_probability(np.ones(20), [True] * 20, besides=more) > CERTAIN) == sure


def test_nothing_is_covered_where_no_bead_is_seen() -> None:
    assert covered_beads([piece(21.0, 0.4)], []).tolist() == [0.0]
