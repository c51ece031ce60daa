"""Pieces of one bead are joined where the rest of the lot shows what a whole one is."""

import numpy as np
import pytest

from vision.pieces.merge import join_pieces
from vision.topview.region import Fragment

PER_MM = 5.0
LONG, WIDE = 30, 18
BY = 40
"""Cells from one bead to the next."""


def block(left: int, top: int, width: int = LONG, height: int = WIDE) -> Fragment:
    return Fragment(mask=np.ones((height, width), dtype=bool), corner=(left, top), probability=0.9)


def lot(count: int = 8) -> list[Fragment]:
    return [block(BY * k, 3 * k, LONG + k % 2) for k in range(count)]


def corners(beads: list[Fragment]) -> set[tuple[int, int]]:
    return {bead.corner for bead in beads}


@pytest.mark.parametrize("first", [10, 15, 22])
def test_two_pieces_that_make_up_a_bead_are_one(first: int) -> None:
    pieces = [block(50, 100, first), block(50 + first + 1, 100, LONG - first - 1)]
    found = join_pieces([*lot(), *pieces], per_mm=PER_MM)
    assert len(found) == len(lot()) + 1
    assert found[-1].corner == (50, 100)
    assert found[-1].mask.shape == (WIDE, LONG)
    assert found[-1].area == LONG * WIDE


@pytest.mark.parametrize(
    "second",
    [block(80, 100, LONG // 2), block(50, 119, LONG // 2), block(66, 100, LONG)],
    ids=["apart", "another shape", "too large"],
)
def test_other_neighbours_stay_two(second: Fragment) -> None:
    pieces = [block(50, 100, LONG // 2), second]
    assert corners(join_pieces([*lot(), *pieces], per_mm=PER_MM)) == corners([*lot(), *pieces])


def test_a_piece_is_part_of_one_bead_only() -> None:
    row = [block(50 + 15 * k, 100, 15) for k in range(3)]
    assert len(join_pieces([*lot(), *row], per_mm=PER_MM)) == len(lot()) + 2


@pytest.mark.parametrize("others", [lot(3), [block(BY * k, 0, 12 + 5 * k, 12 + 4 * k) for k in range(8)]])
def test_among_few_beads_or_beads_of_many_sizes_nothing_is_joined(others: list[Fragment]) -> None:
    pieces = [block(50, 100, LONG // 2), block(65, 100, LONG // 2)]
    assert join_pieces([*others, *pieces], per_mm=PER_MM) == [*others, *pieces]


def test_three_pieces_that_make_up_a_bead_are_one() -> None:
    pieces = [block(50, 100, 12), block(62, 100, 7), block(69, 100, LONG - 19)]
    found = join_pieces([*lot(), *pieces], per_mm=PER_MM)
    assert (len(found), found[-1].area) == (len(lot()) + 1, LONG * WIDE)


def test_two_round_beads_that_touch_stay_two_among_longer_ones() -> None:
    """Two discs that touch fill pi / (2 + pi / 2) = 0.88 of their hull."""
    rows, columns = np.ogrid[:17, :17]
    round_one = (rows - 8) ** 2 + (columns - 8) ** 2 <= 72
    rounds = [Fragment(mask=round_one, corner=(50 + 17 * k, 100), probability=0.9) for k in range(2)]
    assert corners(join_pieces([*lot(), *rounds], per_mm=PER_MM)) == corners([*lot(), *rounds])


def test_pieces_stay_two_where_more_of_their_like_lie_alone_than_whole_beads() -> None:
    cubes = [block(BY * k, 200 + 3 * k, LONG // 2) for k in range(12)]
    touching = [block(50, 100, LONG // 2), block(65, 100, LONG // 2)]
    everything = [*lot(), *cubes, *touching]
    assert corners(join_pieces(everything, per_mm=PER_MM)) == corners(everything)


def test_where_beads_are_cut_in_two_or_three_no_part_of_one_is_taken_for_whole() -> None:
    """Two of three pieces are convex together as well, and have the form of the larger of two."""
    three = [block(BY * k + 10 * part, 200 + 4 * k, 10) for k in range(4) for part in range(3)]
    two = [block(BY * k + at, 300 + 4 * k, width) for k in range(8) for at, width in ((0, 20), (20, 10))]
    found = join_pieces([*lot(6), *three, *two], per_mm=PER_MM)
    assert [one.area for one in found[6:]] == [LONG * WIDE] * 12


def halves(count: int, aside: int = 0) -> list[Fragment]:
    """Return pairs of pieces end to end, one of each so many cells aside."""
    each = [(BY * k, 5 * k) for k in range(count)]
    return [block(x + at, y + aside * (at > 0), LONG // 2) for x, y in each for at in (0, LONG // 2)]


ROUND = np.hypot(*np.mgrid[-9:10, -9:10]) <= 9.5


@pytest.mark.parametrize(
    "pieces",
    [
        halves(9, aside=4),
        halves(5),
        [*halves(9), *(block(BY * k, 200, LONG // 2) for k in range(10))],
        [block(60 * k + 15 * at, 5 * k, 15) for k in range(8) for at in range(3)],
        [Fragment(mask=ROUND, corner=(BY * k + 19 * at, 5 * k)) for k in range(9) for at in range(2)],
    ],
    ids=["not in line", "too few", "as many alone", "rows of three", "rounds"],
)
def test_pairs_of_whole_beads_stay_two(pieces: list[Fragment]) -> None:
    assert len(join_pieces(pieces, per_mm=PER_MM)) == len(pieces)
