"""What to string, in words."""

from dataclasses import replace

import pytest

from sizing.piece.cut_list import Purchase
from sizing.piece.parts import BeadPart, Finding, Kind
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.piece.stringing import Layout, strung
from sizing.report.sentences.plan import (
    filled_size,
    plan_headline,
    plan_notes,
    plan_outcomes,
    plan_title,
    size_name,
    stock_phrase,
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


def test_one_name_of_several_sizes_is_told_apart() -> None:
    small, large = (
        BeadPart(along_mm=size, across_mm=size, name="brown", rel_u95=0.01, have=12) for size in (5.95, 7.91)
    )
    four, oval = BeadPart(along_mm=4, across_mm=4), BeadPart(along_mm=4, across_mm=6)
    assert stringing([small] * 3 + [large] * 7 + [small] * 3) == "3 x 5.95 mm, 7 x 7.91 mm, 3 x 5.95 mm"
    assert stringing([small, BLUE, large]) == "1 x brown 5.95 mm, 1 x blue, 1 x brown 7.91 mm"
    assert stringing([small, oval, four]) == "1 x brown, 1 x 4 mm by 6 mm, 1 x 4 mm by 4 mm"
    piece = Piece(beads=(small, large), layout=Layout(graduated=True), target_mm={"strung": 400.0})
    plan = make_plan(piece)
    needed = dict(plan.best.tally)
    lacking = [f"{needed[small] - 12} of 5.95 mm", f"{needed[large] - 12} of 7.91 mm"]
    assert any(f"lacking: {', '.join(lacking)}." in note for note in plan_notes(plan))


def test_a_piece_that_does_not_close_is_noted() -> None:
    # 41 rounds of 4 mm come to 151.6 mm inside (regular polygon), under a bare wrist of 6 in, 152.4 mm.
    piece = Piece(
        beads=(BeadPart(along_mm=4, across_mm=4),), target_mm={"wrist": 152.4}, ease_mm=0.0, findings=()
    )
    plan = make_plan(piece)
    assert plan_title(plan) == "Piece for a wrist of 152.4 mm (6 in)"
    assert "The inside is shorter than the bare wrist: string 42 to be sure" in plan_notes(plan)[0]


def test_a_piece_that_closes_on_its_extender_is_not_called_too_tight() -> None:
    chain = Finding(kind=Kind.EXTENDER, length_mm=50.0, link_mm=4.0)
    piece = Piece(beads=(BLUE,), target_mm={"wrist": 162.0}, ease_mm=0.0, findings=(chain,))
    plan = make_plan(piece)
    assert plan.best.inner_girth_mm < 162.0 < plan.best.inner_girth_longest_mm
    assert "shorter than the bare" not in " ".join(plan_notes(plan))
    tight = make_plan(replace(piece, findings=(replace(chain, length_mm=4.0),)))  # its one link
    assert "shorter than the bare" in " ".join(plan_notes(tight))


def test_what_closes_is_the_fewest_beads_that_are_offered() -> None:
    rounds, rondelle = BeadPart(along_mm=8, across_mm=8, count=2), BeadPart(along_mm=4, across_mm=6)
    plan = make_plan(Piece(beads=(rounds, rondelle), target_mm={"wrist": 184.15}))
    [filled] = plan.filled
    assert plan.best.inner_girth_mm < 184.15 < filled.fit.inner_girth_mm
    assert filled.fit.count == plan.best.count + 1
    remedy = f"string {filled.fit.count}, with 1 x 4 mm at each end, to be sure that it closes."
    assert f"The inside is shorter than the bare wrist: {remedy}" in plan_notes(plan)


@pytest.mark.parametrize(
    ("step_mm", "longer"), [(0.0, "by what their beads need"), (12.7, "12.7 mm (1/2 in)")]
)
def test_a_plan_is_of_the_innermost_strand(step_mm: float, longer: str) -> None:
    piece = Piece(beads=(BeadPart(along_mm=8, across_mm=8),), target_mm={"wrist": 160.0})
    [note] = [n for n in plan_notes(make_plan(replace(piece, step_mm=step_mm))) if "innermost" in n]
    assert longer in note
    assert not any("innermost" in note for note in plan_notes(make_plan(piece)))


def test_a_size_run_names_who_is_smaller() -> None:
    assert size_name("women P5") == "women: 5 in 100 are smaller"
    assert size_name("6 1/2 in") == "6 1/2 in"


def test_strands_do_not_read_as_a_price() -> None:
    bought = Purchase(bead=BLUE, strung=200, lacking=200, to_buy=210, per_strand=203, strands=2)
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


SIX = BeadPart(along_mm=5.95, across_mm=5.95, name="6 mm", have=14, rel_u95=0.0)
EIGHT = BeadPart(along_mm=7.91, across_mm=7.91, name="8 mm", have=19, rel_u95=0.0)


def test_what_is_there_and_what_is_lacking_is_said() -> None:
    # One of each is 13.86 mm: 400 mm take 29 of each (401.9 mm).
    piece = Piece(beads=(SIX, EIGHT), target_mm={"strung": 400.0}, findings=())
    plan = make_plan(piece)
    assert [bought.strung for bought in plan.purchases] == [29, 29]
    assert [stock_phrase(bought) for bought in plan.purchases] == [
        "you have 14 and need 29, 15 are lacking",
        "you have 19 and need 29, 10 are lacking",
    ]
    assert (
        "You have 33 of the 58 measured beads that it needs; lacking: 15 of 6 mm, 10 of 8 mm."
        in plan_notes(plan)
    )
    enough = make_plan(replace(piece, target_mm={"strung": 100.0}))
    assert "You have all 14 measured beads that it needs." in plan_notes(enough)


def test_an_uncertain_size_is_an_uncertain_number() -> None:
    # 5 % of 200 mm is 10 mm, more than half a bead of 8 mm.
    piece = Piece(
        beads=(BeadPart(along_mm=8, across_mm=8, rel_u95=0.05),), target_mm={"strung": 200.0}, findings=()
    )
    plan = make_plan(piece)
    assert plan_outcomes(plan)[0] == "Result: exactly on the target, give or take 10.0 mm (3/8 in)."
    assert any("it may take 24 to 26 beads" in note for note in plan_notes(plan))
    certain = replace(piece, beads=(BeadPart(along_mm=8, across_mm=8),))
    assert plan_outcomes(make_plan(certain))[0] == "Result: exactly on the target."


def test_filled_ends_are_offered_beside_whole_repeats() -> None:
    rounds = BeadPart(along_mm=8, across_mm=8, count=4)
    spacer = BeadPart(along_mm=2, across_mm=2)
    piece = Piece(beads=(rounds, spacer), target_mm={"strung": 142.0}, findings=(), sizes="142 mm, 170 mm")
    plan = make_plan(piece)
    # 3 x 34 + 4 x 8 + 4 x 2 = 142 mm; 4 x 34 + 2 = 138 mm.
    with_spacers, cut_short = plan_outcomes(plan)[2:]
    assert with_spacers.startswith("Nearer, with 2 x 2 mm at each end: 23 beads (2 x 2 mm, then 3 times (")
    assert with_spacers.endswith(
        "then 4 x 8 mm, 2 x 2 mm). Result: strung 142.0 mm (5 9/16 in), exactly on the target."
    )
    assert cut_short == (
        "Nearer, with the repeat cut short at both ends: 21 beads (4 times (1 x 2 mm, 4 x 8 mm), then 1 x 2 "
        "mm). Result: strung 138.0 mm (5 7/16 in), 4.0 mm (3/16 in) under the target."
    )
    size = "142 mm: 23 beads, with 2 x 2 mm at each end: finished 142.0 mm (5 9/16 in), "
    assert [filled_size(row) for row in plan.sizes] == [f"{size}exactly on the target", ""]
