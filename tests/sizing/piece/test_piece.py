"""A piece as a target, and what is typed over it."""

import pytest

from sizing.base.errors import TargetError
from sizing.base.target import TargetKind
from sizing.piece.piece import Piece, Wish, target_from_piece, with_wish
from sizing.piece.toml.read import PIECE_HELP, read_piece

INCH_MM = 25.4


def test_a_piece_is_a_target() -> None:
    target = target_from_piece(read_piece(PIECE_HELP))
    assert target is not None
    assert (target.kind, target.body, target.findings_mm) == (TargetKind.GIRTH, "ankle", 12.0)
    assert target.goal_mm == pytest.approx(8.75 * INCH_MM)
    assert target_from_piece(Piece()) is None


def test_what_is_typed_comes_before_what_the_piece_says() -> None:
    piece = read_piece(PIECE_HELP)
    typed = target_from_piece(with_wish(piece, Wish(target_mm={"finished": 200.0}, findings_mm=30.0)))
    assert typed is not None
    assert (typed.kind, typed.goal_mm) == (TargetKind.FINISHED, pytest.approx(170.0))
    wider = target_from_piece(with_wish(piece, Wish(ease_mm=0.0)))
    assert wider is not None
    assert wider.goal_mm == pytest.approx(8.5 * INCH_MM)
    with pytest.raises(TargetError, match="ease was given without a body size"):
        target_from_piece(with_wish(piece, Wish(target_mm={"strung": 200.0}, ease_mm=0.0)))


def test_sizes_of_people_have_no_say_in_a_length() -> None:
    piece = read_piece(PIECE_HELP)
    assert with_wish(piece, Wish()).sizes == "women"
    assert with_wish(piece, Wish(target_mm={"wrist": 150.0})).sizes == "women"
    assert with_wish(piece, Wish(target_mm={"strung": 150.0})).sizes == ""
