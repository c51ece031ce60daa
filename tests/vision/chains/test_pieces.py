"""Pieces, what leaves them, and what lies between them, on views laid by hand."""

import math

import numpy as np
import pytest

from tests.vision.chains.laid import View, row
from vision.chains.ends import ends_of
from vision.chains.links import Link, links_of
from vision.chains.pieces import strung_pieces
from vision.topview.kinds import Kind

CELL_MM = 0.2
WAY = 0.99
"""Cosine of 8 degrees."""


def links(view: View) -> dict[tuple[int, int], Link]:
    return {link.pieces: link for link in links_of(strung_pieces(view.fragments, view.seen), view.seen)}


@pytest.mark.parametrize("turn", [0.0, 0.4, 1.3, 2.6])
def test_size_place_and_direction_of_an_oval(turn: float) -> None:
    view = View().piece((70.0, 50.0), (12.0, 5.0), turn=turn)
    (piece,) = strung_pieces(view.fragments, view.seen)
    assert piece.centre_mm == pytest.approx([70.0, 50.0], abs=CELL_MM)
    assert (piece.long_mm, piece.wide_mm) == pytest.approx((12.0, 5.0), abs=2 * CELL_MM)
    assert piece.size_mm == pytest.approx(math.sqrt(60.0), abs=3 * CELL_MM)
    assert abs(piece.direction @ (math.cos(turn), math.sin(turn))) > WAY


def test_what_leaves_a_piece_has_its_kind_and_way() -> None:
    view = View().line(Kind.STRING, (70, 50), (90, 50)).line(Kind.FINDING, (70, 50), (70, 60), wide_mm=2.0)
    view.discs((70, 50))
    ends = ends_of(strung_pieces(view.fragments, view.seen), view.seen)
    ways = {end.kind: end.way for end in ends}
    assert len(ends) == 2
    assert ways[Kind.STRING] @ (1, 0) > WAY
    assert ways[Kind.FINDING] @ (0, 1) > WAY


def test_the_view_ends_beside_a_piece() -> None:
    view = View().discs((3.5, 50))
    (end,) = ends_of(strung_pieces(view.fragments, view.seen), view.seen)
    assert end.kind == Kind.BED
    assert end.way @ (-1, 0) > WAY


def test_a_gap_is_in_sizes_and_its_string_is_seen() -> None:
    bare = links(View().discs(*row(2, (50, 50), step_mm=12.5)))[0, 1]
    strung = links(View().line(Kind.STRING, (50, 50), (62, 50)).discs(*row(2, (50, 50), step_mm=12.5)))[0, 1]
    assert bare.gap == strung.gap == pytest.approx(1.0, abs=CELL_MM / 3)
    assert (bare.bridged, strung.bridged) == (0.0, pytest.approx(1.0))
    assert bare.ways == pytest.approx(np.array([[1.0, 0.0], [-1.0, 0.0]]), abs=0.01)


def test_a_string_is_followed_where_it_lies_in_an_arc() -> None:
    """Two pieces a quarter of a circle apart: it leaves each at 45 degrees to the straight way."""
    turns = np.linspace(-0.75 * math.pi, -0.25 * math.pi, 30)
    arc = [(80 + 25 * math.cos(t), 70 + 25 * math.sin(t)) for t in turns]
    link = links(View().line(Kind.STRING, *arc).discs(arc[0], arc[-1]))[0, 1]
    assert link.bridged == pytest.approx(1.0, abs=0.05)
    assert link.ways[0] @ (math.sqrt(0.5), -math.sqrt(0.5)) > 0.95
    assert link.ways[1] @ (-math.sqrt(0.5), -math.sqrt(0.5)) > 0.95


def test_neither_a_third_piece_nor_a_stopper_lies_in_a_link() -> None:
    places = row(3, (40, 50), step_mm=10.0)
    assert set(links(View().discs(*places))) == {(0, 1), (1, 2)}
    stopped = View().line(Kind.STOPPER, (44, 50), (46, 50), wide_mm=3.0).discs(*places)
    assert set(links(stopped)) == {(1, 2)}


def test_a_piece_in_the_middle_of_another_is_linked_to_none() -> None:
    view = View().discs((50, 50), wide_mm=12.0).discs((50, 50), wide_mm=5.0)
    assert links(view) == {}


def test_pieces_that_touch_are_linked_without_a_gap() -> None:
    (link,) = links(View().discs(*row(2, (50, 50)))).values()
    assert link.touches
    assert link.bridged == 0.0
