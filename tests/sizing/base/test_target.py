"""Targets as makers give them."""

import math

import pytest

from sizing.base.errors import TargetError
from sizing.base.loop import Link
from sizing.base.target import EASE_MM, Target, TargetKind, make_target

INCH_MM = 25.4
GEOMETRY_MM = 1e-6
TABLE_MM = 5e-4  # half a unit of the table's last place
EIGHT = [Link(along_mm=8, across_mm=8)] * 22


def given(name: str, length_mm: float, **how: object) -> Target:
    target = make_target({name: length_mm}, **how)  # type: ignore[arg-type]
    assert target is not None
    return target


def test_finished_length_less_findings_is_the_strung_length() -> None:
    # The Spruce Crafts, "How to string beads with beading wire": a 16 in necklace with a 0.75 in clasp
    # assembly takes 15.25 in of beads.
    target = given("finished", 16 * INCH_MM, findings=[Link(along_mm=0.75 * INCH_MM)])
    assert target.goal_mm == pytest.approx(15.25 * INCH_MM, abs=GEOMETRY_MM)


def test_an_inch_of_findings_is_usual() -> None:
    # 5 1/2 in of beads finish at 6 1/2 in: common practice, no source.
    target = given("finished", 6.5 * INCH_MM)
    assert target.findings_assumed
    assert target.goal_mm == pytest.approx(5.5 * INCH_MM, abs=GEOMETRY_MM)


def test_strung_length_is_what_it_says() -> None:
    target = given("strung", 176.0)
    assert target.kind is TargetKind.STRUNG
    assert target.goal_mm == 176.0
    assert target.reached_mm(EIGHT) == pytest.approx(176.0, abs=GEOMETRY_MM)


def test_a_girth_is_compared_inside_the_closed_loop() -> None:
    target = given("wrist", 150.0, ease_mm=1.467, findings=[])
    assert (target.kind, target.body) == (TargetKind.GIRTH, "wrist")
    assert target.goal_mm == pytest.approx(151.467, abs=GEOMETRY_MM)
    # 22 beads of 8 mm: 151.467 inside (regular polygon).
    assert target.reached_mm(EIGHT) == pytest.approx(151.467, abs=TABLE_MM)


def test_ease_is_usual_unless_given() -> None:
    # A bracelet finishes half an inch (snug) to an inch (comfortable) over the wrist: common practice, no
    # source. Between them, the thickness of 4 mm beads (pi d, half an inch) leaves a quarter inch inside.
    snug, usual, loose = EASE_MM["wrist"]
    thickness_mm = math.pi * 4
    assert (snug + thickness_mm, loose + thickness_mm) == pytest.approx((INCH_MM / 2, INCH_MM), abs=0.2)
    assert usual == (snug + loose) / 2
    assert given("wrist", 150.0).goal_mm == pytest.approx(150 + INCH_MM / 4)
    assert given("wrist", 150.0).ease_assumed
    assert given("ankle", 220.0, ease_mm=0.0).goal_mm == 220.0
    assert not given("ankle", 220.0, ease_mm=0.0).ease_assumed


def test_findings_without_length_are_no_part_of_the_loop() -> None:
    assert given("wrist", 150.0, findings=[Link(along_mm=0.0)]).findings == ()


def test_nothing_given_is_no_target() -> None:
    assert make_target({}) is None


@pytest.mark.parametrize(
    ("given_mm", "ease_mm", "message"),
    [
        ({"wrist": 150.0, "finished": 180.0}, None, "wrist and finished are different targets"),
        ({"strung": 150.0}, 5.0, "ease was given without a body size: add a wrist, ankle or neck size"),
        ({}, 5.0, "ease was given without a body size"),
        ({"finished": 20.0}, None, r"20\.0 mm \(13/16 in\) leaves no room for beads"),
    ],
)
def test_refuses_what_does_not_add_up(
    given_mm: dict[str, float], ease_mm: float | None, message: str
) -> None:
    with pytest.raises(TargetError, match=message):
        make_target(given_mm, ease_mm=ease_mm)


@pytest.mark.parametrize(
    ("inside_mm", "too_tight"), [(149.85, True), (149.95, False), (150.0, False), (170.0, False)]
)
def test_a_piece_tighter_than_the_bare_girth_is_too_tight(inside_mm: float, too_tight: bool) -> None:  # noqa: FBT001
    # No tape is read finer than 0.1 mm.
    assert given("wrist", 150.0, ease_mm=10.0).too_tight(inside_mm) is too_tight
    assert not given("strung", 150.0).too_tight(inside_mm)


def test_describes_itself_in_both_units() -> None:
    assert given("finished", 250.0).describe() == "finished length 250.0 mm (9 13/16 in)"
    assert given("wrist", 165.1).describe() == "wrist 165.1 mm (6 1/2 in), worn 6.4 mm (1/4 in) loose"
