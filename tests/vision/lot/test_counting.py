"""Which pieces count as beads, and when their number is certain."""

import math

import numpy as np
import pytest

from vision.lot.counting import (
    CERTAIN,
    count_probability,
    less_certain,
    weighed,
)
from vision.lot.likeness import Shown
from vision.topview.region import PROBABLE, Fragment

PER_MM = 5.0
BEAD = 0.9
"""What the map of beads says of a bead that is seen well."""


def piece(diameter_mm: float, probability: float = BEAD) -> Fragment:
    """Return a piece of a disc's area."""
    cells = round(math.pi * (diameter_mm * PER_MM / 2) ** 2)
    return Fragment(mask=np.ones((1, cells), dtype=bool), corner=(0, 0), probability=probability)


def alike(count: int) -> Shown:
    """Return that so many pieces lie on one bed, and none looks foreign."""
    return Shown(foreign=np.zeros(count), beds=np.zeros((count, 3)), view=np.zeros((1, 3)))


def chance(lot: list[Fragment]) -> float:
    """Return the probability of the last piece."""
    return weighed(lot, per_mm=PER_MM, shown=alike(len(lot)))[-1].probability


def certain(lot: list[Fragment]) -> tuple[int, bool]:
    """Return how many pieces count, and whether that is certain."""
    chances = np.array([p.probability for p in weighed(lot, per_mm=PER_MM, shown=alike(len(lot)))])
    counted = chances[chances > PROBABLE]
    return len(counted), (
        count_probability(counted, [True] * len(counted), besides=chances[chances <= PROBABLE]) > CERTAIN
    )


@pytest.mark.parametrize(
    "sizes", [[8.0] * 30, [2.0] * 12 + [12.0] * 8, [4.0, 5.0, 6.0, 8.0, 10.0] * 3, [8.0]]
)
def test_beads_seen_well_count_in_one_size_or_in_many(sizes: list[float]) -> None:
    assert certain([piece(size) for size in sizes]) == (len(sizes), True)


@pytest.mark.parametrize("looks", [0.2, 0.3, 0.42])
def test_specks_beside_a_lot_of_one_size_neither_count_nor_raise_doubt(looks: float) -> None:
    specks = [piece(size, looks) for size in (1.6, 2.1, 2.9)]
    assert certain([piece(12.0)] * 30 + specks) == (30, True)


def test_a_speck_that_looks_half_like_a_bead_raises_doubt() -> None:
    assert not certain([*[piece(12.0)] * 30, piece(3.0, 0.7)])[1]


def test_a_faint_piece_of_the_size_of_the_others_is_a_bead_and_a_small_one_is_not() -> None:
    lot = [piece(8.0)] * 30
    assert chance([*lot, piece(8.0, 0.4)]) > PROBABLE
    assert chance([*lot, piece(3.0, 0.4)]) < 1 - CERTAIN


def test_beads_of_a_size_support_each_other() -> None:
    lot = [piece(12.0)] * 10
    few, many = (chance([*lot, *[piece(2.0, 0.64)] * count]) for count in (1, 12))
    assert few < PROBABLE < CERTAIN < many


def test_the_more_flecks_there_are_the_sooner_a_piece_is_one() -> None:
    lot, flecks = [piece(12.0)] * 10, [piece(1.5 * 1.05**k, 0.45) for k in range(20)]
    assert chance([*lot, *flecks, piece(7.0, 0.7)]) < 0.5 * chance([*lot, piece(7.0, 0.7)])


@pytest.mark.parametrize("diameter_mm", [20.0, 25.75, 40.0])
def test_a_coin_or_a_finger_among_beads_raises_doubt(diameter_mm: float) -> None:
    """A 2 euro coin is 25.75 mm wide (Council Regulation (EC) No 975/98)."""
    assert chance([*[piece(8.0)] * 30, piece(diameter_mm, 0.95)]) < CERTAIN
    assert not certain([*[piece(8.0)] * 30, piece(diameter_mm, 0.95)])[1]


def test_large_beads_alike_are_beads() -> None:
    assert certain([piece(size) for size in (18.0, 18.5, 19.0, 18.2, 18.8, 19.2)])[1]


def test_a_bead_that_is_not_clearly_whole_leaves_its_count_less_certain() -> None:
    """Nine in ten whole ones are one bead; where 11 times as many are none, 9 of 20 (Bayes' rule)."""
    beads = np.array([1.0, 1.0, 0.9])
    assert count_probability(beads, [True] * 3, besides=np.zeros(2)) == pytest.approx(0.9)
    assert count_probability(beads, [False] * 3, besides=np.zeros(2)) == pytest.approx(9 / 20)


def block(rows: int, columns: int, probability: float = 0.9) -> Fragment:
    """Return a piece of that form."""
    return Fragment(mask=np.ones((rows, columns), dtype=bool), corner=(0, 0), probability=probability)


def chances(lot: list[Fragment]) -> list[float]:
    """Return the probabilities of pieces to be one bead, compared with each other."""
    return [bead.probability for bead in less_certain(lot)]


@pytest.mark.parametrize(
    ("width", "length", "doubted"), [(40, 40, False), (42, 46, False), (40, 52, True), (30, 30, True)]
)
def test_a_piece_unlike_all_others_is_one_bead_less_certainly(
    width: int, length: int, *, doubted: bool
) -> None:
    lot, piece = [block(40, 40)] * 5, block(width, length)
    assert chances([*lot, piece]) == pytest.approx([0.9] * 5 + [9 / 20 if doubted else 0.9])
    assert chances([*lot, piece, piece]) == pytest.approx([0.9] * 7)
    assert chances([piece]) == [0.9]


def test_a_bead_of_a_size_of_its_own_is_certain_if_it_is_seen_well() -> None:
    for likely, sure in ((0.999, True), (0.99, False)):
        lot = np.array(chances([*[block(40, 40, 1.0)] * 9, block(40, 60, likely)]))
        assert (count_probability(lot, [True] * 10, besides=np.zeros(0)) > CERTAIN) == sure


def test_no_pieces_are_no_beads_for_certain() -> None:
    assert certain([]) == (0, True)
