"""What to string, in words."""

import pytest

from sizing.piece.cut_list import Purchase
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.piece.stringing import Layout, strung
from sizing.report.sentences.plan import (
    plan_headline,
    plan_notes,
    plan_outcomes,
    plan_title,
    size_name,
    strands_phrase,
    stringing,
    weight_notes,
)

BLUE = BeadPart(along_mm=6, across_mm=6, name="blue")
SPACER = BeadPart(along_mm=2, across_mm=3)


def test_a_mixed_piece_names_every_kind() -> None:
    piece = Piece(
        beads=(BLUE, BLUE, SPACER), layout=Layout(symmetric=True), target_mm={"strung": 166.0}, findings=()
    )
    assert plan_headline(make_plan(piece)) == (
        "String 24 x blue, 6 mm; 11 x bead 2 mm long, 3 mm thick (35 beads): 166.0 mm (6 9/16 in)."
    )


def test_the_next_best_number_is_named() -> None:
    plan = make_plan(Piece(beads=(BLUE,), target_mm={"strung": 100.0}, findings=()))
    assert plan_outcomes(plan) == [
        "Result: 2.0 mm (1/16 in) over the target.",  # 17 x 6 = 102 mm
        "Next best: 16 beads. Result: finished 96.0 mm (3 3/4 in), 4.0 mm (3/16 in) under the target.",
    ]


@pytest.mark.parametrize(
    ("beads", "layout", "step", "words"),
    [
        ((BLUE,), Layout(), 20, "20 x blue"),
        ((BLUE, BLUE, SPACER), Layout(), 4, "4 times (2 x blue, 1 x 2 mm)"),
        ((BLUE, BLUE, SPACER), Layout(symmetric=True), 4, "4 times (2 x blue, 1 x 2 mm), then 2 x blue"),
        ((BLUE, SPACER), Layout(graduated=True), 4, "2 x 2 mm, 3 x blue, 2 x 2 mm"),
    ],
)
def test_a_repeat_is_written_once(beads: tuple[BeadPart, ...], layout: Layout, step: int, words: str) -> None:
    assert stringing(strung(beads, layout, step=step)) == words


def test_a_piece_that_does_not_close_is_noted() -> None:
    # 41 rounds of 4 mm come to 151.6 mm inside (regular polygon), under a bare wrist of 6 in, 152.4 mm.
    piece = Piece(
        beads=(BeadPart(along_mm=4, across_mm=4),), target_mm={"wrist": 152.4}, ease_mm=0.0, findings=()
    )
    plan = make_plan(piece)
    assert plan_title(plan) == "Piece for a wrist of 152.4 mm (6 in)"
    assert "The inside is shorter than the bare wrist: string 42 to be sure" in plan_notes(plan)[0]


def test_a_size_run_names_who_is_smaller() -> None:
    assert size_name("women P5") == "women: 5 in 100 are smaller"
    assert size_name("6 1/2 in") == "6 1/2 in"


def test_strands_do_not_read_as_a_price() -> None:
    bought = Purchase(bead=BLUE, strung=200, to_buy=210, per_strand=203, strands=2)
    assert strands_phrase(bought) == "2 strands of 16 in (about 203 beads on a strand)"


@pytest.mark.parametrize(
    ("material", "said"),
    [
        ("", "Give their material, or their density in g/cm3, in the piece file."),
        ("wood", "Wood is of many densities. Write ebony, or give the density in g/cm3."),
        (
            "rose quarts",
            "Rose quarts is not among the known materials. Write rose quartz, or give the density in g/cm3.",
        ),
        ("driftwood", "Driftwood is not among the known materials. Give the density in g/cm3."),
    ],
)
def test_a_weight_that_is_not_known_is_asked_for(material: str, said: str) -> None:
    bead = BeadPart(along_mm=6, across_mm=6, material=material)
    plan = make_plan(Piece(beads=(bead,), target_mm={"strung": 100.0}))
    assert weight_notes(plan.mass) == [f"Not known: bead 6 mm. {said}"]


def test_metal_may_be_hollow() -> None:
    bead = BeadPart(along_mm=6, across_mm=6, material="silver")
    plan = make_plan(Piece(beads=(bead,), target_mm={"strung": 100.0}))
    assert weight_notes(plan.mass) == ["Beads of silver are taken as solid; hollow ones weigh less."]
