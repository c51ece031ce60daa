"""What reports say of a finished piece."""

from dataclasses import replace

import pytest

from sizing.base.target import make_target
from sizing.report.sentences.loop import fit_headline, fit_notes, length_marked, loop_said
from sizing.strand.loop_fit import LoopFit, compare_loop
from tests.helpers.strands import make_loop, make_strand
from vision.common.flags import UNSURE_COUNT
from vision.common.records import Strand

# 176 mm strung, 188 mm all round with its clasp, 8 pi mm less inside: 162.9 mm.
LOOP = make_loop([8.0] * 22)


def fit(given_mm: dict[str, float], strand: Strand = LOOP) -> LoopFit:
    target = make_target(given_mm)
    assert target is not None
    assert strand.loop is not None
    return compare_loop(strand, strand.loop, target)


def test_a_loop_says_all_its_lengths() -> None:
    assert LOOP.loop is not None
    assert loop_said(LOOP, LOOP.loop) == (
        "Closed loop: 22 beads, strung 176.0 ± 0.4 mm (6 15/16 in), all round 188.0 ± 0.6 mm (7 3/8 in), "
        "inside 162.9 ± 0.6 mm (6 7/16 in)"
    )
    assert length_marked(LOOP) == "inside 162.9 ± 0.6 mm (6 7/16 in)"
    assert length_marked(make_strand([8.0] * 22)) == "176.0 ± 0.4 mm (6 15/16 in)"


@pytest.mark.parametrize(
    ("given_mm", "what", "then"),
    [
        (
            {"finished": 173.0},
            "15.0 mm (9/16 in) too long for a finished length of 173.0 mm (6 13/16 in)",
            "that is about 2 beads",
        ),
        (
            {"strung": 184.0},
            "8.0 mm (5/16 in) too short for a strung length of 184.0 mm (7 1/4 in)",
            "that is about 1 bead",
        ),
        (
            {"strung": 178.0},
            "right for a strung length of 178.0 mm (7 in)",
            "no other number of beads comes nearer",
        ),
    ],
)
def test_the_headline_counts_the_difference_in_beads(
    given_mm: dict[str, float], what: str, then: str
) -> None:
    assert fit_headline(fit(given_mm)) == f"The finished piece is {what}: {then}."


def test_the_notes_say_what_compares_and_how_sure_it_is() -> None:
    first, second, *rest = fit_notes(fit({"finished": 173.0}))
    assert first == "It measures 188.0 ± 0.6 mm (7 3/8 in) all round, 15.0 mm (9/16 in) over the target."
    assert second == "Restring it with 2 beads fewer to come nearest."
    assert rest == []
    assert fit_notes(fit({"wrist": 170.0}))[0].startswith("It measures 162.9 ± 0.6 mm (6 7/16 in) inside")
    tight = " ".join(fit_notes(fit({"wrist": 170.0})))
    assert "The inside is shorter than the bare wrist: restring it to be sure that it closes." in tight


def test_what_comes_nearest_and_does_not_close_takes_one_bead_more() -> None:
    """162.9 mm inside: 1.1 mm less than a wrist without ease, and a bead more is 6.9 mm more than that."""
    target = make_target({"wrist": 164.0}, ease_mm=0.0)
    assert target is not None
    assert LOOP.loop is not None
    found = compare_loop(LOOP, LOOP.loop, target)
    assert found.change_beads == 0
    assert fit_headline(found).startswith("The finished piece comes as near as it can to a wrist of 164.0 mm")
    tight = " ".join(fit_notes(found))
    assert "shorter than the bare wrist: restring it with 1 bead more to be sure that it closes." in tight


@pytest.mark.parametrize(
    ("strand", "beginning"),
    [
        (replace(LOOP, flags=(UNSURE_COUNT,)), "Count the beads by eye"),
        (
            replace(LOOP, conditions=replace(LOOP.conditions, check_length_given=False)),
            "That is not certain until the scale is checked.",
        ),
        (LOOP, "A close call: the measured length may be off by 0.4 mm, and 0.1 mm is enough"),
    ],
)
def test_what_is_not_certain_is_said(strand: Strand, beginning: str) -> None:
    # 3.9 mm over, 0.1 mm less than half a bead.
    assert fit_notes(fit({"strung": 172.1}, strand))[1].startswith(beginning)
