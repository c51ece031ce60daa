"""The report on a plan."""

from sizing.piece.parts import BeadPart, Finding, Kind
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.piece.toml.read import PIECE_HELP, read_piece
from sizing.report.text.plan import plan_text

BLUE = BeadPart(along_mm=6, across_mm=6, name="blue")


def test_the_report_answers_in_order() -> None:
    report = plan_text(make_plan(read_piece(PIECE_HELP)))
    headings = [line for line in report.splitlines() if line and not line.startswith(" ")]
    assert headings == [
        "Blue glass anklet for an ankle of 215.9 mm (8 1/2 in), worn 6.4 mm (1/4 in) loose",
        "String 38 x blue glass, 6 mm: 228.0 mm (9 in).",
        "Finished",
        "Order of stringing",
        "Cut",
        "Buy",
        "Does the wire fit",
        "Weight",
        "Cost",
        "Sizes",
        "Take care",
    ]
    for words in (
        "Next best: 39 beads. Result: finished 246.0 mm (9 11/16 in), 5.3 mm (3/16 in) over the target.",
        "the usual rule of adding three gives 38",
        "1 x wire, 342.3 mm (13 1/2 in)",
        "40 x blue glass, 6 mm (38 and 2 spare): 1 strand of 16 in (about 67 beads on a strand)",
        "soda-lime glass: 10.3 g",
        "27.68 USD",
        "women: 50 in 100 are smaller",
    ):
        assert words in " ".join(report.split()), words


def test_what_was_not_asked_for_is_left_out() -> None:
    report = plan_text(make_plan(Piece(beads=(BLUE,), target_mm={"wrist": 160.0})))
    assert "Cost" not in report
    assert "Sizes" not in report
    assert "Clasp and findings are assumed to take 25.4 mm (1 in)" in report


def test_an_extender_has_two_lengths() -> None:
    piece = Piece(
        beads=(BLUE,),
        target_mm={"wrist": 154.0},
        findings=(Finding(kind=Kind.EXTENDER, length_mm=50.8, link_mm=4.0),),
    )
    report = plan_text(make_plan(piece))
    assert report.count("on the extender's last link") == 2
    assert "1 x extender, 50.8 mm (2 in): the whole chain" in report


def test_measured_beads_are_counted_before_any_are_bought() -> None:
    beads = tuple(
        BeadPart(along_mm=size, across_mm=size, name=f"{size:g} mm", have=have, rel_u95=0.01)
        for size, have in ((6.0, 14), (8.0, 30))
    )
    report = " ".join(
        plan_text(make_plan(Piece(beads=beads, target_mm={"strung": 280.0}, findings=()))).split()
    )
    for words in (
        "String 20 x 6 mm (measured 6 mm); 20 x 8 mm (measured 8 mm) (40 beads): 280.0 ± 2.8 mm (11 in).",
        "6 mm (measured 6 mm): you have 14 and need 20, 6 are lacking; buy 7 (6 and 1 spare): 1 strand of",
        "8 mm (measured 8 mm): you have 30 and need 20; nothing to buy",
        "length 280.0 ± 2.8 mm (11 in)",
    ):
        assert words in report, words
