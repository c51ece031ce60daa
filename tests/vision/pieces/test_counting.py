"""Which pieces count as beads, and when their number is certain."""

import math

import numpy as np
import pytest

from vision.pieces.counting import CERTAIN, count_probability, weighed
from vision.pieces.likeness import Shown
from vision.topview.region import PROBABLE, SURE, Fragment

PER_MM = 5.0
BEAD = 0.999
"""What a second look says of a bead that is seen well."""


def piece(diameter_mm: float, probability: float = BEAD) -> Fragment:
    """Return a piece of a disc's area."""
    cells = round(math.pi * (diameter_mm * PER_MM / 2) ** 2)
    return Fragment(mask=np.ones((1, cells), dtype=bool), corner=(0, 0), probability=probability)


def alike(count: int) -> Shown:
    """Return that so many pieces lie on one bed."""
    return Shown(beds=np.zeros((count, 3)), view=np.zeros((1, 3)))


def chance(lot: list[Fragment]) -> float:
    """Return the probability of the last piece."""
    return weighed(lot, per_mm=PER_MM, shown=alike(len(lot)))[-1].probability


def certain(lot: list[Fragment]) -> tuple[int, bool]:
    """Return how many pieces count, and whether that is certain."""
    chances = np.array([p.probability for p in weighed(lot, per_mm=PER_MM, shown=alike(len(lot)))])
    counted = chances[chances > PROBABLE]
    return len(counted), (
        count_probability(counted, np.ones(len(counted)), besides=chances[chances <= PROBABLE]) > CERTAIN
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
    few, many = (chance([*lot, *[piece(2.0, 0.8)] * count]) for count in (1, 12))
    assert few < PROBABLE < CERTAIN < many


def test_the_more_flecks_there_are_the_sooner_a_piece_is_one() -> None:
    lot, flecks = [piece(12.0)] * 10, [piece(1.5 * 1.05**k, 0.45) for k in range(20)]
    assert chance([*lot, *flecks, piece(7.0, 0.7)]) < 0.5 * chance([*lot, piece(7.0, 0.7)])


def test_large_beads_alike_are_beads() -> None:
    assert certain([piece(size) for size in (18.0, 18.5, 19.0, 18.2, 18.8, 19.2)])[1]


def test_a_count_is_as_certain_as_every_bead_that_may_be_none_or_several() -> None:
    """Independent events: three beads of 0.9 are all beads with 0.9 ** 3, one of them two with 0.4 more."""
    beads, none = np.full(3, 0.9), np.zeros(0)
    assert count_probability(beads, np.ones(3), besides=none) == pytest.approx(0.9**3)
    assert count_probability(beads, np.array([1, 1, 0.6]), besides=none) == pytest.approx(0.6 * 0.9**3)
    assert count_probability(beads, np.full(3, SURE), besides=np.array([0.2])) == pytest.approx(0.8 * 0.9**3)


def test_no_pieces_are_no_beads_for_certain() -> None:
    assert certain([]) == (0, True)
