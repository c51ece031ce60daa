"""Stoppers and scraps at the ends of strands painted by hand."""

import numpy as np
import pytest

from tests.helpers.handmade import cylinder_widths, painted, round_widths
from vision.strand.axis import STEP_MM
from vision.strand.stoppers import Pieces, bead_range, beads_and_stoppers, doubtful_stoppers
from vision.strand.strip import Segment

HARDLY = 0.3
BLUE, BLACK, RED, GREEN = (40, 60, 150), (30, 30, 32), (150, 50, 60), (40, 130, 70)


ROD_MM = 1.2
STEP_TOLERANCE_MM = 0.21
"""Two steps along the axis."""


def beads_of(
    width: np.ndarray, places: np.ndarray, colours: list, *, rod: bool, unlikely: tuple[int, ...] = ()
) -> tuple[int, int]:
    """Divide a painted strand; all of it shows beads, as the network sees it, but for `unlikely` pieces."""
    likely = np.ones(len(width))
    for k in unlikely:
        likely[round(places[k, 0] / STEP_MM) : round(places[k, 1] / STEP_MM)] = HARDLY
    beads = bead_range(pieces_of(width, places, likely, colours=colours, rod=rod))
    return beads.start, beads.stop


def pieces_of(
    width: np.ndarray, places: np.ndarray, likely: np.ndarray, *, colours: list, rod: bool = True
) -> Pieces:
    """Paint a strand with these pieces."""
    return Pieces(
        segments=[Segment(start_mm=float(a), end_mm=float(b)) for a, b in places],
        strip=painted(width, places, colours=colours),
        width_mm=width,
        likely=likely,
        rod=rod,
    )


def with_stoppers(lengths: list[float], d: float, *, stoppers: tuple[float, ...]) -> tuple:
    """Lay rounds between two tubes: (width, places)."""
    sizes = [5.0, *lengths, 6.0] if stoppers else lengths
    width, places = round_widths(sizes)
    for (a, b), thick in zip(places[[0, -1]], stoppers, strict=True):
        s = np.arange(len(width)) * 0.1
        width[(s >= a) & (s < b)] = thick
    width[width > d] = d
    return width, places


@pytest.mark.parametrize("rod", [True, False])
def test_plain_strand_is_all_beads(rod: bool) -> None:  # noqa: FBT001
    width, places = round_widths([8.0] * 10)
    assert beads_of(width, places, [BLUE], rod=rod) == (0, 10)


def test_black_tubes_at_both_ends_of_a_rod_are_stoppers() -> None:
    width, places = with_stoppers([8.0] * 8, 8.0, stoppers=(4.5, 4.5))
    assert beads_of(width, places, [BLACK, *[BLUE] * 8, BLACK], rod=True) == (1, 9)


def test_a_single_stopper_leaves_the_other_end_alone() -> None:
    width, places = round_widths([8.0] * 9)
    width[: round(places[0, 1] / 0.1)] = np.minimum(width[: round(places[0, 1] / 0.1)], 3.0)
    assert beads_of(width, places, [BLACK, *[BLUE] * 8], rod=True) == (1, 9)


@pytest.mark.parametrize("rod", [True, False])
def test_beads_of_a_mixed_strand_are_no_stoppers(rod: bool) -> None:  # noqa: FBT001
    width, places = round_widths([6.0, 8.0, 10.0, 8.0, 6.0, 8.0, 10.0, 8.0, 6.0])
    assert beads_of(width, places, [RED, BLUE, GREEN, BLUE], rod=rod) == (0, 9)


def test_the_only_like_of_an_end_bead_may_be_near_the_other_end() -> None:
    sizes = [5.0, 4.0, 6.0, 6.5, 8.0, 6.0, 7.0, 8.0, 6.5, 7.0, 4.0, 8.0, 6.0]
    width, places = round_widths(sizes)
    for a, b in places[[0, -1]]:
        s = np.arange(len(width)) * 0.1
        width[(s >= a) & (s < b)] = 2.5
    assert beads_of(width, places, [BLACK, *[BLUE] * 11, BLACK], rod=True) == (1, 12)


def test_an_end_bead_of_its_own_colour_is_a_bead_by_its_shape() -> None:
    width, places = cylinder_widths([4.0, *[12.0] * 8, 4.0], 8.0)
    for a, b in places[[0, -1]]:
        s = np.arange(len(width)) * 0.1
        width[(s >= a) & (s < b)] = 4.0
    colours = [BLACK, (230, 210, 90), *[BLUE] * 7, BLACK]
    assert beads_of(width, places, colours, rod=True) == (1, 9)


@pytest.mark.parametrize(("rod", "unlikely"), [(True, (0, 9)), (False, (0,)), (False, (9,))])
def test_what_the_network_takes_for_no_bead_is_none_at_an_end(
    rod: bool,  # noqa: FBT001
    unlikely: tuple[int, ...],
) -> None:
    width, places = round_widths([8.0] * 10)
    first, last = int(0 in unlikely), 10 - int(9 in unlikely)
    assert beads_of(width, places, [BLUE], rod=rod, unlikely=unlikely) == (first, last)


def test_what_lies_between_beads_is_one_however_unlikely() -> None:
    width, places = round_widths([8.0] * 10)
    assert beads_of(width, places, [BLUE], rod=False, unlikely=(4, 5)) == (0, 10)


def test_graduated_strand_keeps_its_small_ends() -> None:
    sizes = [6.0, 6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 8.0, 7.5, 7.0, 6.5, 6.0, 6.0]
    width, places = round_widths(sizes)
    assert beads_of(width, places, [BLUE], rod=False) == (0, 13)


def test_scrap_of_wire_at_an_end_is_no_bead() -> None:
    width, places = round_widths([1.2, *[8.0] * 8])
    assert beads_of(width, places, [(90, 90, 92), *[BLUE] * 8], rod=False) == (1, 9)


@pytest.mark.parametrize(("size", "kept"), [(8.0, (0, 9)), (3.0, (1, 9))])
def test_a_far_piece_is_a_bead_only_if_it_is_of_their_size(size: float, kept: tuple[int, int]) -> None:
    width, places = round_widths([size, *[8.0] * 8], gaps=[14.0])
    assert beads_of(width, places, [BLUE], rod=False) == kept


@pytest.mark.parametrize("count", [1, 2])
def test_of_one_or_two_nothing_is_taken(count: int) -> None:
    width, places = cylinder_widths([6.0] * count, 6.0)
    assert beads_of(width, places, [BLUE, BLACK], rod=True) == (0, count)


@pytest.mark.parametrize("wide", [3.0, 6.0])
def test_stoppers_stand_right_beside_the_beads(wide: float) -> None:
    width = np.full(600, ROD_MM)
    width[100:150], width[150:400], width[400:470] = wide, 8.0, wide
    beads = [Segment(start_mm=15.0 + 5 * k, end_mm=20.0 + 5 * k) for k in range(5)]
    before, *between, after = beads_and_stoppers(beads, width)
    assert between == beads
    assert (before.start_mm, before.end_mm) == pytest.approx((10.0, 15.0), abs=STEP_TOLERANCE_MM)
    assert (after.start_mm, after.end_mm) == pytest.approx((40.0, 47.0), abs=STEP_TOLERANCE_MM)


def test_the_bare_rod_and_what_lies_farther_off_are_no_stoppers() -> None:
    width = np.full(800, ROD_MM)
    width[150:400], width[500:600] = 8.0, 6.0
    beads = [Segment(start_mm=15.0 + 5 * k, end_mm=20.0 + 5 * k) for k in range(5)]
    assert beads_and_stoppers(beads, width) == beads


def test_what_is_surely_a_bead_ends_no_wire() -> None:
    """A red bead, half as wide, on a wire of blue ones: unlike all, but a wire has no stoppers."""
    width, places = round_widths([8.0] * 8 + [5.0])
    colours = [BLUE] * 8 + [RED]
    assert beads_of(width, places, colours, rod=False) == (0, 9)
    assert beads_of(width, places, colours, rod=False, unlikely=(8,)) == (0, 8)


@pytest.mark.parametrize(
    ("kept", "doubtful"), [((1, 9), []), ((0, 9), [9]), ((1, 10), [0]), ((0, 10), []), ((2, 9), [1])]
)
def test_a_rod_with_one_stopper_may_have_none(kept: tuple[int, int], doubtful: list[int]) -> None:
    """Nine beads of 8 mm between pieces of 5 mm that look like beads."""
    width, places = round_widths([5.0, *[8.0] * 8, 5.0])
    likely = np.ones(len(width))
    pieces, unlikely = (pieces_of(width, places, share * likely, colours=[BLUE]) for share in (1.0, HARDLY))
    assert doubtful_stoppers(pieces, slice(*kept)) == doubtful
    assert doubtful_stoppers(unlikely, slice(*kept)) == []


def test_a_stopper_as_large_as_a_bead_may_be_one() -> None:
    width, places = round_widths([8.0] * 10)
    pieces = pieces_of(width, places, np.ones(len(width)), colours=[BLUE])
    assert doubtful_stoppers(pieces, slice(1, 9)) == [0, 9]


def test_behind_a_stopper_what_is_surely_a_bead_is_one() -> None:
    """A steel tube, then two red beads on a rod of larger blue ones: one piece at each end is a stopper."""
    width, places = round_widths([5.0, *[8.0] * 8, 6.0, 5.0])
    colours = [BLACK, *[BLUE] * 8, RED, BLACK]
    assert beads_of(width, places, colours, rod=True) == (1, 10)
    assert beads_of(width, places, colours, rod=True, unlikely=(9,)) == (1, 9)
