"""A plan in words and as JSON."""

import json

import pytest

from sizing.piece.file import PIECE_HELP, read_piece
from sizing.piece.parts import BeadPart, Finding, Kind
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.piece.stringing import Layout, strung
from sizing.report.json_strand import to_json
from sizing.report.text_plan import headline, plan_fields, plan_report, stringing

BLUE = BeadPart(along_mm=6, across_mm=6, name="blue")
SPACER = BeadPart(along_mm=2, across_mm=3)


def test_the_report_answers_in_order() -> None:
    report = plan_report(make_plan(read_piece(PIECE_HELP)))
    headings = [line for line in report.splitlines() if line and not line.startswith(" ")]
    assert headings == [
        "Blue glass anklet: ankle 215.9 mm (8 1/2 in), worn 6.4 mm (1/4 in) loose",
        "String 38 x blue glass, 6 mm: 228.0 mm (9 in).",
        "Finished",
        "Order of stringing",
        "Cut",
        "Buy",
        "Does it go through",
        "Mass",
        "Cost",
        "Sizes",
        "Take care",
    ]
    for said in (
        "with 39 it would be 5.3 mm (3/16 in) over",
        "by the rule of adding three 38",
        "1 x wire, 342.3 mm (13 1/2 in)",
        "40 x blue glass, 6 mm (38 and 2 spare): 1 strand of 16 in at about 67 each",
        "blue glass, 6 mm: the wire goes through twice: fits",
        "soda-lime glass: 10.3 g",
        "27.69 USD",
        "women P50",
    ):
        assert said in report, said


def test_what_nobody_asked_for_is_left_out() -> None:
    report = plan_report(make_plan(Piece(beads=(BLUE,), target_mm={"wrist": 160.0})))
    assert "Cost" not in report
    assert "Sizes" not in report
    assert "Findings taken as 25.4 mm (1 in)" in report
    assert "Ease taken as 6.4 mm (1/4 in)" in report


def test_a_mixed_piece_names_every_kind() -> None:
    piece = Piece(
        beads=(BLUE, BLUE, SPACER), layout=Layout(symmetric=True), target_mm={"strung": 166.0}, findings=()
    )
    assert headline(make_plan(piece)) == (
        "String 24 x blue, 6 mm; 11 x bead 2 mm long, 3 mm thick (35 beads): 166.0 mm (6 9/16 in)."
    )


@pytest.mark.parametrize(
    ("beads", "layout", "rung", "said"),
    [
        ((BLUE,), Layout(), 20, "20 x blue"),
        ((BLUE, BLUE, SPACER), Layout(), 4, "4 times (2 x blue, 1 x 2 mm)"),
        ((BLUE, BLUE, SPACER), Layout(symmetric=True), 4, "4 times (2 x blue, 1 x 2 mm), then 2 x blue"),
        ((BLUE, SPACER), Layout(graduated=True), 4, "2 x 2 mm, 3 x blue, 2 x 2 mm"),
    ],
)
def test_a_repeat_is_said_once(beads: tuple[BeadPart, ...], layout: Layout, rung: int, said: str) -> None:
    assert stringing(strung(beads, layout, rung)) == said


def test_an_extender_is_said_with_both_its_ends() -> None:
    piece = Piece(
        beads=(BLUE,),
        target_mm={"wrist": 154.0},
        findings=(Finding(kind=Kind.EXTENDER, length_mm=50.8, link_mm=4.0),),
    )
    report = plan_report(make_plan(piece))
    assert "on the extender's last link" in report
    assert "1 x extender, 50.8 mm (2 in): the whole chain" in report


def test_says_when_the_nearest_is_too_tight() -> None:
    # 41 rounds of 4 mm come to 151.6 mm inside (regular polygon), under a bare wrist of 6 in, 152.4 mm.
    piece = Piece(
        beads=(BeadPart(along_mm=4, across_mm=4),), target_mm={"wrist": 152.4}, ease_mm=0.0, findings=()
    )
    assert "tighter than the bare wrist: string 42 to be sure" in plan_report(make_plan(piece))


def test_fields_are_json() -> None:
    plan = make_plan(read_piece(PIECE_HELP))
    fields = json.loads(to_json(plan_fields(plan)))
    assert (fields["kind"], fields["best"]["count"], fields["other"]["count"]) == ("plan", 38, 39)
    assert fields["best"]["order"] == ["blue glass, 6 mm"] * 38
    assert fields["target"]["findings_mm"] == 12.0
    assert [row["beads"] for row in fields["sizes"]] == [34, 36, 38, 40, 42]
    assert fields["cost"]["price"] == pytest.approx(27.695, abs=0.001)
    assert set(fields["fits"]["shares"]) == {"women", "men"}
