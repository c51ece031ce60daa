"""Beads separated on maps made by hand: discs, ovals, touching ones; never square."""

from dataclasses import dataclass

import cv2
import numpy as np
import pytest

from vision.topview.bead_map import BeadMap
from vision.topview.instances import possible_beads
from vision.topview.kinds import Kind
from vision.topview.region import Fragment, window

PER_MM = 5.0
SHAPE = (210, 370)
IN_COMMON = 0.95
"""Cells of a bead found that are its own, and own ones found, at the least."""
FINE = 4


@dataclass(frozen=True)
class Oval:
    """An ellipse on a map: middle and axes in mm, turned by an angle in degrees."""

    x: float
    y: float
    length: float
    width: float
    turn: float = 0.0

    def cells(self) -> np.ndarray:
        """Return which cells it covers."""
        rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]] / PER_MM
        c, s = np.cos(np.radians(self.turn)), np.sin(np.radians(self.turn))
        along, aside = (
            (columns - self.x) * c + (rows - self.y) * s,
            (rows - self.y) * c - (columns - self.x) * s,
        )
        return (2 * along / self.length) ** 2 + (2 * aside / self.width) ** 2 <= 1


def bead_map(inside: np.ndarray, depth: np.ndarray) -> BeadMap:
    """Return maps of beads and bed."""
    kinds = np.zeros((len(Kind), *np.shape(inside)), np.float32)
    kinds[1], kinds[0] = inside, 1 - np.asarray(inside)
    return BeadMap(
        inside=np.asarray(inside, np.float32),
        depth=np.asarray(depth, np.float32),
        kinds=kinds,
        bed=np.ones(np.shape(inside), dtype=bool),
    )


def disc(x: float, y: float, d: float) -> Oval:
    return Oval(x, y, d, d)


def depth_of(mine: np.ndarray) -> np.ndarray:
    """Return distances from the outline over the largest: what the network learns for each bead."""
    deep = cv2.distanceTransform(np.pad(mine, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    return np.asarray(deep / deep.max(), dtype=np.float32)


def maps_of(*masks: np.ndarray, inside: float = 0.98) -> BeadMap:
    """Return the maps of beads that lie on each other in order, the last one on top."""
    owner = np.zeros(SHAPE, int)
    for number, mask in enumerate(masks, start=1):
        owner[mask] = number
    depth = np.zeros(SHAPE, np.float32)
    for number in range(1, len(masks) + 1):
        mine = owner == number
        depth[mine] = depth_of(mine)[mine]
    return bead_map(np.where(owner > 0, inside, 0.02), depth)


def laid(found: Fragment) -> np.ndarray:
    """Return a bead's cells in the whole map."""
    whole = np.zeros(SHAPE, dtype=bool)
    whole[window(found)] = found.mask
    return whole


def in_common(one: np.ndarray, other: np.ndarray) -> float:
    return float(np.sum(one & other) / np.sum(one | other))


def matched(found: list[Fragment], ovals: list[Oval]) -> list[Fragment]:
    """Return the beads found in the order of the ovals that they share most cells with."""
    assert len(found) == len(ovals)
    shares = np.array([[in_common(laid(f), o.cells()) for f in found] for o in ovals])
    assert sorted(shares.argmax(axis=1)) == list(range(len(ovals)))
    assert shares.max(axis=1).min() > IN_COMMON
    return [found[k] for k in shares.argmax(axis=1)]


@pytest.mark.parametrize(
    "ovals",
    [
        [disc(10, 10, 8), disc(40, 30, 3), disc(60, 20, 20)],
        [disc(10, 12, 8), disc(18, 12, 8), disc(14, 18.9, 8)],
        [disc(20, 20, 20), disc(31.2, 20, 2.6)],
        [Oval(20, 20, 14, 6), Oval(20, 26, 14, 6), Oval(34, 23, 14, 6, 90)],
        [Oval(15, 20, 16, 5, 30), Oval(45, 20, 10, 9, 60)],
        [disc(4, 4, 8), disc(69.5, 37.5, 8)],
    ],
    ids=["alone", "three touch", "large and small touch", "ovals touch", "turned", "at corners"],
)
def test_beads_are_separated_and_keep_their_cells(ovals: list[Oval]) -> None:
    found = possible_beads(maps_of(*(o.cells() for o in ovals)), per_mm=PER_MM)
    assert not any(f.unsure for f in matched(found, ovals))


def test_a_row_of_beads_is_separated_at_every_touch() -> None:
    row = [disc(5 + 6 * k, 20 + 0.5 * k, 6) for k in range(11)]
    found = matched(possible_beads(maps_of(*(o.cells() for o in row)), per_mm=PER_MM), row)
    middles = [np.add(f.corner, [np.nonzero(f.mask)[1].mean(), np.nonzero(f.mask)[0].mean()]) for f in found]
    assert np.array(middles) / PER_MM == pytest.approx(np.array([[o.x, o.y] for o in row]), abs=1 / PER_MM)


def test_a_bead_that_covers_part_of_another_is_another() -> None:
    lower, upper = disc(20, 20, 10), disc(27, 20, 10)
    found = possible_beads(maps_of(lower.cells(), upper.cells()), per_mm=PER_MM)
    assert len(found) == 2
    whole = max(found, key=lambda f: f.area)
    assert in_common(laid(whole), upper.cells()) > IN_COMMON


def with_saddle(saddle: float) -> BeadMap:
    """Return one long bead whose depth has two summits with so deep a saddle between them."""
    oval = Oval(35, 20, 16, 8)
    mask = oval.cells()
    columns = np.mgrid[: SHAPE[0], : SHAPE[1]][1] / PER_MM
    dip = 1 - saddle * np.exp(-0.5 * ((columns - oval.x) / 1.0) ** 2)
    depth = np.minimum(depth_of(mask) * 1.2, 1.0) * dip
    return bead_map(np.where(mask, 0.98, 0.02), depth)


@pytest.mark.parametrize(
    ("saddle", "count", "unsure"), [(0.0, 1, False), (0.1, 1, False), (0.3, 2, True), (0.6, 2, False)]
)
def test_a_shallow_saddle_separates_nothing_and_a_middling_one_not_surely(
    saddle: float, count: int, *, unsure: bool
) -> None:
    found = possible_beads(with_saddle(saddle), per_mm=PER_MM)
    assert len(found) == count
    assert any(f.unsure for f in found) is unsure


def test_a_bead_of_low_probability_is_unsure() -> None:
    cells = disc(20, 20, 8).cells()
    [probable] = possible_beads(maps_of(cells), per_mm=PER_MM)
    [faint] = possible_beads(maps_of(cells, inside=0.68), per_mm=PER_MM)
    assert (probable.unsure, faint.unsure) == (False, True)
    assert possible_beads(maps_of(cells, inside=0.4), per_mm=PER_MM) == []


def test_what_is_smaller_than_any_bead_is_dropped() -> None:
    # the smallest bead is 1.5 mm across
    assert possible_beads(maps_of(disc(20, 20, 1.0).cells()), per_mm=PER_MM) == []
    assert len(possible_beads(maps_of(disc(20, 20, 2.0).cells()), per_mm=PER_MM)) == 1


def test_what_is_nowhere_deep_is_not_a_bead() -> None:
    cells = disc(20, 20, 8).cells()
    flat = bead_map(np.where(cells, 0.9, 0.0), 0.3 * depth_of(cells))
    assert possible_beads(flat, per_mm=PER_MM) == []


def test_an_empty_map_has_no_beads() -> None:
    nothing = np.zeros(SHAPE, np.float32)
    assert possible_beads(bead_map(nothing, nothing), per_mm=PER_MM) == []


@pytest.mark.parametrize("per_mm", [2.5, 8.0])
def test_sizes_are_in_millimetres(per_mm: float) -> None:
    ovals = [disc(10, 12, 8), disc(18, 12, 8)]
    maps = maps_of(*(o.cells() for o in ovals))
    size = tuple(round(n * per_mm / PER_MM) for n in SHAPE[::-1])
    inside, depth = (cv2.resize(m, size, interpolation=cv2.INTER_LINEAR) for m in (maps.inside, maps.depth))
    found = possible_beads(bead_map(inside, depth), per_mm=per_mm)
    assert len(found) == 2
    assert [f.area / per_mm**2 for f in found] == pytest.approx([np.pi * 4**2] * 2, rel=1 - IN_COMMON)
