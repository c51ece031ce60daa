"""What to do with a strand, in words."""

from dataclasses import replace

import pytest

from sizing.base.loop import Link
from sizing.base.target import Target, make_target
from sizing.report.sentences.strand import parts_left, strand_headline, strand_notes, strand_outcomes
from sizing.strand.advice import Advice, advise
from tests.helpers.strands import make_strand
from vision.common.records import PartKind

FINDINGS = [Link(along_mm=22.0)]


def target_of(given_mm: dict[str, float], **how: object) -> Target:
    target = make_target(given_mm, **how)  # type: ignore[arg-type]
    assert target is not None
    return target


def advice_on(along_mm: list[float], given_mm: dict[str, float], **how: object) -> Advice:
    strand = make_strand(along_mm, **how)  # type: ignore[arg-type]
    return advise(strand, target_of(given_mm, findings=FINDINGS))


def test_one_sentence_says_what_to_do() -> None:
    advice = advice_on([5.864] * 40, {"finished": 250.0})
    assert strand_headline(advice) == "Remove 1 bead to finish at 250.0 mm (9 13/16 in)."
    best, other = strand_outcomes(advice)
    # 39 x 5.864 = 228.7 mm, with 22 mm of findings 250.7 mm.
    assert best.startswith("Result: strung 228.7 mm (9 in), finished 250.7 mm (9 7/8 in), inside ")
    assert best.endswith(", 0.7 mm over the target.")
    assert other.startswith("Next best: remove 2 beads. Result: strung 222.8 mm")


@pytest.mark.parametrize(
    ("along_mm", "strung_mm", "sentence"),
    [
        ([8.0] * 20, 160.0, "Leave the strand as it is: no other number of beads comes nearer to"),
        ([8.0] * 20, 168.0, "Add 1 bead (8.0 mm at the right end) for a strung length of 168.0 mm"),
        ([8.0] * 20, 184.0, "Add 3 beads (8.0 mm at the right end) for"),
        ([6.0, 7, 8, 7, 6], 58.0, "Add 4 beads (2 of 6.0 mm at the left end, 2 of 6.0 mm at the right end)"),
        ([4.0, 4, 8] * 8, 112.0, "Remove 3 beads (numbers 22-24) for"),
        ([4.0, 5, 8] * 8, 153.0, "Add 3 beads (4.0, 5.0, 8.0 mm at the right end) for"),
        ([6.0, 7, 8, 9, 8, 7, 6], 63.0, "Add 2 beads (6.0 mm at the left end, 6.0 mm at the right end) for"),
        ([9.8, 5.9, 9.8, 7.9, 5.9, 7.9], 37.4, "Remove 1 bead (number 1) for"),
    ],
)
def test_the_beads_are_named(along_mm: list[float], strung_mm: float, sentence: str) -> None:
    assert strand_headline(advice_on(along_mm, {"strung": strung_mm})).startswith(sentence)


@pytest.mark.parametrize(
    ("note", "given", "how"),
    [
        # 156.3 mm lies 0.3 mm nearer to 19 beads than to 20, the uncertainty is 0.4 mm.
        ("A close call: the measured length may be off by 0.4 mm, and 0.3 mm is enough", 156.3, {}),
        ("Count the beads by eye", 160.0, {"flags": {4: ("unsure-split",)}}),
        ("On the photo the gaps between the beads add up to 7.0 mm.", 160.0, {"gap_mm": 7.0}),
    ],
)
def test_what_may_be_wrong_is_noted(note: str, given: float, how: dict[str, object]) -> None:
    assert note in " ".join(strand_notes(advice_on([8.0] * 20, {"strung": given}, **how)))


def test_a_bent_strand_of_flat_beads_is_to_be_laid_straight() -> None:
    strand = replace(make_strand([8.0] * 20), length_u95_mm=0.3, closed_up_u95_mm=0.5)  # 3, 4 and 5
    notes = " ".join(strand_notes(advise(strand, target_of({"strung": 156.3}))))
    assert "beads gape on the outer side. How much is known to 0.4 mm here, and 0.3 mm is enough" in notes
    assert "Lay it straight" in notes


def test_odd_beads_are_named() -> None:
    [note] = strand_notes(advice_on([8.0] * 20 + [5.0], {"strung": 165.0}))
    assert note == "Bead 21 differs in size from the rest: add or remove only beads of the usual size."


def test_assumptions_and_thickness_are_noted() -> None:
    notes = " ".join(strand_notes(advise(make_strand([8.0] * 30), target_of({"wrist": 160.0}))))
    assert "Clasp and findings are assumed to take 25.4 mm (1 in)" in notes
    assert "The inside is meant to be 6.4 mm (1/4 in) longer than the bare wrist" in notes
    assert "Beads 8.0 mm thick make the inside" in notes
    assert "the usual rule of adding three gives" in notes


def test_a_piece_that_does_not_close_is_noted() -> None:
    # 41 rounds of 4 mm come to 151.6 mm inside (regular polygon), under a bare wrist of 6 in, 152.4 mm.
    advice = advise(make_strand([4.0] * 41), target_of({"wrist": 152.4}, ease_mm=0.0, findings=[]))
    assert advice.change_beads == 0
    notes = " ".join(strand_notes(advice))
    assert "shorter than the bare wrist: add 1 bead (4.0 mm at the right end) to be sure" in notes


def test_what_closes_is_the_fewest_beads_that_are_offered() -> None:
    # Repeats of 26 mm: 24 beads are too tight, 28 come to 180.8 mm inside, 25 to 162.9 mm.
    strand = make_strand([8.0, 8, 8, 2] * 8)
    advice = advise(strand, target_of({"wrist": 160.0}, ease_mm=3.0, findings=FINDINGS))
    assert advice.beyond is not None
    assert advice.finer is not None
    assert (advice.best.count, advice.beyond.count, advice.finer.count) == (24, 28, 25)
    remedy = "remove 7 beads (numbers 26-32)"
    assert any("Nearer, but" in line and remedy in line for line in strand_outcomes(advice))
    assert f"shorter than the bare wrist: {remedy} to be sure" in " ".join(strand_notes(advice))


KINDS: list[PartKind] = ["spacer", *["bead"] * 6, "spacer"]
MIXED = make_strand([2.0, 6, 9, 7, 8, 10, 5, 2], kinds=KINDS)


def test_spacers_to_remove_are_told_from_beads() -> None:
    # 49 mm: without bead 7 and spacer 8, 42 mm; without spacer 8 alone, 47 mm.
    both = advise(MIXED, target_of({"strung": 42.1}, findings=[]))
    assert strand_headline(both).startswith("Remove 1 bead (number 7) and 1 spacer (number 8) for")
    assert parts_left(both.best) == "5 beads, 1 spacer"
    alone = advise(MIXED, target_of({"strung": 47.1}, findings=[]))
    assert strand_headline(alone).startswith("Remove 1 spacer (number ")
    assert parts_left(alone.best) == "6 beads, 1 spacer"
    assert "leave it as it is" in strand_outcomes(alone)[1]
