"""Strings of views laid by hand, where it is plain what hangs on what."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.vision.chains.laid import View, ring, row
from vision.chains.strings import StringOfPieces, strings_of
from vision.topview.kinds import Kind


def strings(view: View) -> list[StringOfPieces]:
    return strings_of(view.fragments, view.seen)[1]


def rod(count: int, y: float, *, x: float = 40.0) -> View:
    """Return beads on a rod between two stoppers."""
    return on_rod(View(), count, y, x=x)


def on_rod(view: View, count: int, y: float, *, x: float = 40.0) -> View:
    last = x + 6.0 * (count - 1)
    view.line(Kind.STRING, (x - 20, y), (last + 20, y))
    view.line(Kind.STOPPER, (x - 6, y), (x - 5, y), wide_mm=4.0)
    view.line(Kind.STOPPER, (last + 5, y), (last + 6, y), wide_mm=4.0)
    return view.discs(*row(count, (x, y)))


def test_a_straight_row_between_stoppers_is_one_string_from_left_to_right() -> None:
    (found,) = strings(rod(9, 60.0))
    assert found.pieces == tuple(range(9))
    assert not found.closed


def test_an_upright_row_is_read_from_above() -> None:
    view = View().line(Kind.STRING, (80, 10), (80, 120)).discs(*row(7, (80, 90), heading=-math.pi / 2))
    (found,) = strings(view)
    assert found.pieces == tuple(range(6, -1, -1))


@pytest.mark.parametrize("count", [8, 13, 24, 40])
def test_a_circle_of_touching_pieces_is_closed_and_read_clockwise_from_the_top(count: int) -> None:
    wide = 2 * math.sin(math.pi / count) * 40
    (found,) = strings(View().discs(*ring(count, (90, 65), step_mm=wide)[::-1], wide_mm=wide))
    assert found.closed
    assert not found.clasp
    assert found.pieces == tuple(range(count - 1, -1, -1))


@pytest.mark.parametrize("missing", [2, 3, 5])
def test_a_loop_that_a_clasp_closes_begins_at_the_clasp(missing: int) -> None:
    whole = ring(24, (90, 65))
    there = whole[missing:]
    middle = whole[missing // 2]
    view = View().line(Kind.STRING, there[-1], *whole[:missing], there[0])
    view.blot(middle, 3.0 * missing, Kind.FINDING).discs(*there)
    (found,) = strings(view)
    assert found.closed
    assert found.clasp
    assert found.pieces == tuple(range(24 - missing))


@pytest.mark.parametrize("heading", [-2.6, -2.0, -1.5, -1.0])
def test_a_chain_that_hangs_from_the_ring_of_a_clasp_leaves_the_loop_closed(heading: float) -> None:
    """A network may take rings and links for beads: three things that touch meet at the ring."""
    whole = ring(24, (90, 75))
    beads = whole[4:]
    view = View().line(Kind.FINDING, beads[-1], *whole[:5], wide_mm=1.2).blot(whole[2], 6.0, Kind.FINDING)
    view.discs(*beads, whole[0])
    first = (whole[0][0] + 5.0 * math.cos(heading), whole[0][1] + 5.0 * math.sin(heading))
    view.discs(*row(8, first, step_mm=4.0, heading=heading), wide_mm=4.0)
    chain, loop = sorted(strings(view), key=lambda string: string.closed)
    assert (loop.closed, loop.clasp) == (True, True)
    assert (loop.pieces, loop.clasp_pieces) == (tuple(range(20)), (20,))
    assert (chain.closed, sorted(chain.pieces)) == (False, list(range(21, 29)))


@pytest.mark.parametrize("turn", [-0.8, -0.4, 0.0])
def test_where_a_chain_goes_straight_on_and_the_clasp_turns_the_loop_is_closed_by_the_clasp(
    turn: float,
) -> None:
    """Rings and hooks of a clasp turn freely: the straightest way is no likelier there."""
    whole = ring(24, (80, 80), step_mm=6.4)
    beads, here, there = whole[5:], whole[0], whole[4]
    heading = math.atan2(here[1] - beads[-1][1], here[0] - beads[-1][0]) + turn

    def on(mm: float) -> tuple[float, float]:
        return here[0] + mm * math.cos(heading), here[1] + mm * math.sin(heading)

    view = View().line(Kind.FINDING, here, on(11.0), wide_mm=1.5)
    view.line(Kind.FINDING, on(11.0), there, wide_mm=2.5).discs(*beads)
    view.discs(here, there, wide_mm=4.6).discs(on(11.0), wide_mm=5.0)
    view.discs(*row(7, on(15.4), step_mm=3.6, heading=heading), wide_mm=3.6)
    chain, loop = sorted(strings(view), key=lambda string: string.closed)
    assert (loop.closed, loop.clasp) == (True, True)
    assert set(range(len(beads))) < {*loop.pieces}
    assert (chain.closed, len(chain.pieces)) == (False, 7)


@pytest.mark.parametrize("heading", [0.0, 0.3, 0.6])
def test_a_loop_does_not_run_out_to_the_end_of_an_extender_and_back(heading: float) -> None:
    """A chain is a way on from both parts that it begins between, but no string turns back at its end."""
    whole = ring(24, (80, 80), step_mm=6.4)
    beads, cover = whole[4:], whole[3]
    last = (cover[0] + 24 * math.cos(heading), cover[1] + 24 * math.sin(heading))
    view = View().line(Kind.FINDING, beads[-1], *whole[:3], cover, wide_mm=2.0)
    view.line(Kind.CHAIN, cover, last, wide_mm=3.0).discs(*beads)
    view.discs(cover, wide_mm=3.6).discs(last, wide_mm=6.5)
    (loop,) = (string for string in strings(view) if string.closed)
    assert set(range(len(beads))) <= {*loop.pieces}
    assert len(beads) + 1 not in loop.pieces + loop.clasp_pieces


@pytest.mark.parametrize("seen_between", [True, False])
def test_rings_beside_the_clasp_are_parts_of_it(seen_between: bool) -> None:  # noqa: FBT001
    """The network of beads takes the rings for beads; a clasp between them may be taken for one as well."""
    whole = ring(24, (90, 75))
    first, clasp, last, beads = whole[0], whole[1], whole[2], whole[3:]
    view = View().line(Kind.STRING, beads[-1], *whole[:3], beads[0]).discs(*beads)
    for at in (first, last):
        view.piece(at, (5.6, 5.6), kind=Kind.FINDING)
    if seen_between:
        view.blot(clasp, 6.0, Kind.FINDING)
    else:
        view.piece(clasp, (6.0, 6.0), kind=Kind.FINDING)
    view.bead_chances[len(beads) :] = [1.0] * (len(view.bead_chances) - len(beads))
    fragments, seen = view.fragments, view.seen
    seen = replace(seen, kinds=0.5 * seen.kinds + 0.5 * undecided(seen.kinds))
    (found,) = strings_of(fragments, seen)[1]
    assert (found.closed, found.clasp) == (True, True)
    assert found.pieces == tuple(range(21))
    assert set(found.clasp_pieces) == set(range(21, len(fragments)))


def undecided(kinds: np.ndarray) -> np.ndarray:
    """Return the kinds of a network that is undecided about what else than bed it sees."""
    bed = kinds[:1]
    return np.concatenate([bed, np.broadcast_to((1 - bed) / 8, (8, *bed.shape[1:]))])


def test_an_open_clasp_leaves_a_piece_open() -> None:
    there = ring(24, (90, 65), missing=8)
    view = View()
    for at, heading in ((there[0], 0.6), (there[-1], 0.0)):
        view.line(Kind.STRING, at, (at[0] + 6 * math.cos(heading), at[1] - 6 * math.sin(heading)))
    view.discs(*there)
    (found,) = strings(view)
    assert not found.closed
    assert len(found.pieces) == 16


def test_two_rows_three_widths_apart_are_two_strings_read_from_above() -> None:
    first, second = strings(on_rod(rod(9, 78.0), 8, 60.0))
    assert first.pieces == tuple(range(9, 17))
    assert second.pieces == tuple(range(9))


def test_two_rows_on_one_line_with_stoppers_between_are_two_strings() -> None:
    found = strings(on_rod(rod(6, 60.0, x=30.0), 6, 60.0, x=100.0))
    assert [string.pieces for string in found] == [tuple(range(6)), tuple(range(6, 12))]


def test_spaced_beads_are_a_string_where_it_is_seen_between_them_and_loose_where_not() -> None:
    places = row(7, (30, 60), step_mm=18.0)
    bare = View().discs(*places)
    strung = View().line(Kind.STRING, (12, 60), (160, 60)).discs(*places)
    assert strings(bare) == []
    assert [string.pieces for string in strings(strung)] == [tuple(range(7))]


def test_a_heap_has_no_strings() -> None:
    places = [(60 + 6.2 * (c + 0.5 * (r % 2)), 40 + 5.4 * r) for r in range(5) for c in range(7)]
    assert strings(View().discs(*places)) == []


def test_three_in_a_row_by_chance_are_loose() -> None:
    assert strings(View().discs(*row(3, (60, 60)), (100, 80), (50, 30))) == []


def test_few_pieces_are_a_string_where_it_is_seen() -> None:
    (found,) = strings(rod(2, 60.0))
    assert found.pieces == (0, 1)


def test_a_string_that_leaves_the_view_ends_there() -> None:
    view = View().line(Kind.STRING, (60, 60), (180, 60)).discs(*row(12, (111, 60)))
    (found,) = strings(view)
    assert found.pieces == tuple(range(12))
    assert not found.closed


def test_spacers_are_pieces_of_a_string() -> None:
    view = View().line(Kind.STRING, (20, 60), (150, 60))
    for k in range(6):
        view.piece((40 + 10 * k, 60), (8, 8)).piece((45 + 10 * k, 60), (2, 5), kind=Kind.SPACER)
    (found,) = strings(view)
    assert found.pieces == tuple(range(12))


def test_what_shows_no_strung_part_is_no_piece() -> None:
    view = rod(5, 60.0)
    view.piece((90, 100), (14, 14), kind=Kind.OTHER)
    pieces, (found,) = strings_of(view.fragments, view.seen)
    assert len(pieces) == len(found.pieces) == 5


def test_nothing_has_no_strings() -> None:
    assert strings(View()) == []


def test_the_order_in_which_pieces_are_given_does_not_matter() -> None:
    view = on_rod(rod(9, 78.0), 8, 60.0)
    order = np.random.default_rng(3).permutation(17)
    fragments = [view.fragments[k] for k in order]
    found = strings_of(fragments, view.seen)[1]
    again = [tuple(int(order[k]) for k in string.pieces) for string in found]
    assert again == [string.pieces for string in strings(view)]


@pytest.mark.parametrize("heading", [-2.3, -1.6, -0.9])
def test_a_tassel_that_hangs_from_a_bead_leaves_the_loop_closed(heading: float) -> None:
    """The string of a tassel goes on as straight as the loop itself, and none of its ends is seen."""
    beads = ring(24, (90, 80), step_mm=6.2)
    view = View().discs(*beads)
    first = (beads[0][0] + 5.6 * math.cos(heading), beads[0][1] + 5.6 * math.sin(heading))
    view.discs(*row(7, first, step_mm=5.0, heading=heading), wide_mm=5.0)
    tassel, loop = sorted(strings(view), key=lambda string: string.closed)
    assert (loop.closed, loop.clasp, loop.clasp_pieces) == (True, False, ())
    assert loop.pieces == tuple(range(24))
    assert (tassel.closed, len(tassel.pieces)) == (False, 7)
