"""A piece as a target, and what is typed over it."""

import pytest

from sizing.base.errors import TargetError
from sizing.base.target import TargetKind
from sizing.base.units import parse_length
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


def test_a_step_stays_with_the_piece_whatever_target_is_typed() -> None:
    piece = Piece(target_mm={"wrist": 165.1}, step_mm=12.7)
    for wish, step_mm in (
        (Wish(), 12.7),
        (Wish(target_mm={"strung": 200.0}), 12.7),
        (Wish(step_mm=0.0), 0.0),
    ):
        target = target_from_piece(with_wish(piece, wish))
        assert target is not None
        assert target.step_mm == step_mm


def test_sizes_of_people_have_no_say_in_a_length() -> None:
    piece = read_piece(PIECE_HELP)
    assert with_wish(piece, Wish()).sizes == "women"
    assert with_wish(piece, Wish(target_mm={"wrist": 150.0})).sizes == "women"
    assert with_wish(piece, Wish(target_mm={"strung": 150.0})).sizes == ""


@pytest.mark.parametrize(
    ("target_mm", "findings_mm", "said"),
    [
        ({"wrist": 20.0}, 12.0, r"the wrist size 20.0 mm \(13/16 in\) is not between .*: check its unit"),
        ({"neck": 914.4}, 12.0, r"the neck size 914.4 mm .* or give the length of the piece with --finished"),
        (
            {"wrist": 152.4},
            200.0,
            r"the findings take 200.0 mm .* at the wrist size 152.4 mm .*: give shorter",
        ),
    ],
)
def test_what_nobody_wears_is_refused(target_mm: dict[str, float], findings_mm: float, said: str) -> None:
    with pytest.raises(TargetError, match=said):
        target_from_piece(with_wish(Piece(), Wish(target_mm=target_mm, findings_mm=findings_mm)))


def test_a_newborn_and_the_largest_man_of_the_survey_are_no_mistake() -> None:
    # A newborn's wrist: about 80 mm (common practice, no source). ANSUR II: men's wrists reach 191 mm at P95;
    # 3.3 standard deviations of 8.96 mm more are rarer than one in two thousand.
    for wrist_mm in (80.0, 191.0 + 3.3 * 8.96):
        assert target_from_piece(Piece(target_mm={"wrist": wrist_mm})) is not None


@pytest.mark.parametrize(
    ("target_mm", "said"),
    [
        ({"finished": parse_length("1/2 in")}, "a finished length of 1/2 in (12.7 mm) leaves no room"),
        ({"finished": parse_length("12.7 mm")}, "a finished length of 12.7 mm (1/2 in) leaves no room"),
        ({"wrist": parse_length("16 in")}, "the wrist size 16 in (406.4 mm) is not between"),
    ],
)
def test_a_refusal_keeps_the_unit_that_was_typed(target_mm: dict[str, float], said: str) -> None:
    with pytest.raises(TargetError) as refused:
        target_from_piece(Piece(target_mm=target_mm))
    assert said in str(refused.value)
