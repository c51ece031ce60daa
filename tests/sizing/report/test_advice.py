"""Advice in words."""

import json

import pytest

from sizing.base.loop import Link
from sizing.base.target import make_target
from sizing.report.advice import advice_fields, advice_lines, headline, notes
from sizing.strand.advice import advise
from tests.helpers.strands import make_strand

FINDINGS = [Link(along_mm=22.0)]


def lines(along_mm: list[float], given: dict[str, float], **how: object) -> str:
    target = make_target(given, findings=FINDINGS)
    assert target is not None
    return "\n".join(advice_lines(advise(make_strand(along_mm, **how), target)))  # type: ignore[arg-type]


def test_one_sentence_first() -> None:
    text = lines([5.864] * 40, {"finished": 250.0})
    assert text.splitlines()[0] == "Remove 1 bead for finished length 250.0 mm (9 13/16 in)."
    assert "finished 250.7 mm (9 7/8 in)" in text
    assert "0.7 mm over" in text
    assert "Next best: remove 2 beads:" in text


@pytest.mark.parametrize(
    ("along_mm", "strung_mm", "sentence"),
    [
        ([8.0] * 20, 160.0, "Leave the strand as it is"),
        ([8.0] * 20, 168.0, "Add 1 bead: 8.0 mm at the right end for"),
        ([8.0] * 20, 184.0, "Add 3 beads: 3 of 8.0 mm at the right end for"),
        ([4.0, 4, 8] * 8, 112.0, "Remove 3 beads (numbers 22-24) for"),
        ([4.0, 5, 8] * 8, 153.0, "Add 3 beads: 4.0, 5.0, 8.0 mm at the right end for"),
        ([6.0, 7, 8, 9, 8, 7, 6], 63.0, "Add 2 beads: 6.0 mm at the left end, 6.0 mm at the right end for"),
        ([9.8, 5.9, 9.8, 7.9, 5.9, 7.9], 37.4, "Remove 1 bead (number 1) for"),
    ],
)
def test_says_which_beads(along_mm: list[float], strung_mm: float, sentence: str) -> None:
    assert lines(along_mm, {"strung": strung_mm}).startswith(sentence)


def test_says_what_is_in_doubt() -> None:
    assert "A close call: the photo gives the length to ± 0.4 mm" in lines([8.0] * 20, {"strung": 156.3})
    assert "Count the beads" in lines([8.0] * 20, {"strung": 160}, flags={4: ("unsure-split",)})
    assert "The beads stood 7.0 mm apart in all" in lines([8.0] * 20, {"strung": 160.0}, gap_mm=7.0)
    assert "Bead 21 differs from the rest" in lines([8.0] * 20 + [5.0], {"strung": 160.0})


def test_says_what_was_assumed_and_what_thickness_takes() -> None:
    target = make_target({"wrist": 160.0})
    assert target is not None
    said = " ".join(notes(advise(make_strand([8.0] * 30), target)))
    assert "Findings taken as 25.4 mm (1 in)" in said
    assert "Ease taken as 6.4 mm (1/4 in)" in said
    assert "Beads 8.0 mm thick take" in said
    assert "by the rule of adding three" in said


def test_says_when_the_nearest_is_too_tight() -> None:
    # 41 rounds of 4 mm come to 151.6 mm inside (regular polygon), under a bare wrist of 6 in, 152.4 mm.
    target = make_target({"wrist": 152.4}, ease_mm=0.0, findings=[])
    assert target is not None
    advice = advise(make_strand([4.0] * 41), target)
    assert advice.change_beads == 0
    said = " ".join(notes(advice))
    assert "tighter than the bare wrist: add 1 bead: 4.0 mm at the right end to be sure" in said


def test_fields_are_json() -> None:
    target = make_target({"strung": 144.0})
    assert target is not None
    advice = advise(make_strand([8.0] * 20), target)
    fields = json.loads(json.dumps(advice_fields(advice), allow_nan=False))
    assert fields["change_beads"] == -2
    assert fields["best"]["strung_mm"] == pytest.approx(144.0)
    assert fields["sentence"] == headline(advice)
    assert json.dumps(advice_fields(advise(make_strand([8.0]), target)), allow_nan=False)
