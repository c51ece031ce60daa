"""How many beads and how long, in words, where the photo leaves that open."""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest

from sizing.base.target import make_target
from sizing.report.front.strand import strand_facts
from sizing.report.sentences.count import count_notes, count_said, cut_notes, if_so, length_said
from sizing.report.sentences.strand import strand_headline, strand_notes, strand_outcomes
from sizing.strand.advice import advise
from sizing.strand.sized import SizedStrand
from tests.helpers.strands import make_loop, make_strand, with_doubts
from vision.common.records import Doubt, Strand

LEFT = Doubt(place="left end", number=1, beads=-1, length_mm=-8.0, closed_up_mm=-8.0)
RIGHT = replace(LEFT, place="right end", number=20)
LEFT_OUT = Doubt(place="right end", beads=1, length_mm=8.0, closed_up_mm=8.0)
BEYOND = replace(LEFT_OUT, number=20)
JOINT = Doubt(place="joint", number=5, beads=-1)
HIDDEN = Doubt(place="gap", number=5, beads=2, closed_up_mm=16.0)
OTHERWISE = Doubt(place="strand", beads=3)


def doubted(*doubts: Doubt, cut_by: tuple[str, ...] = ()) -> Strand:
    strand = with_doubts(make_strand([8.0] * 20), *doubts)
    return replace(strand, cut_by=cut_by, length_u95_mm=math.inf) if cut_by else strand


@pytest.mark.parametrize(
    ("doubts", "count", "length"),
    [
        ([], "20 beads", "160.0 ± 0.4 mm (6 5/16 in)"),
        ([LEFT], "19 or 20 beads", "152.0 ± 0.4 mm (6 in) or 160.0 ± 0.4 mm (6 5/16 in)"),
        ([LEFT, RIGHT], "18 to 20 beads", "144.0 ± 0.4 mm (5 11/16 in) to 160.0 ± 0.4 mm (6 5/16 in)"),
        ([LEFT, LEFT_OUT], "19 to 21 beads", "152.0 ± 0.4 mm (6 in) to 168.0 ± 0.4 mm (6 5/8 in)"),
        ([JOINT], "19 or 20 beads", "160.0 ± 0.4 mm (6 5/16 in)"),
        ([HIDDEN], "20 to 22 beads", "160.0 ± 0.4 mm (6 5/16 in)"),
    ],
)
def test_count_and_length_name_what_is_open(doubts: Sequence[Doubt], count: str, length: str) -> None:
    assert count_said(doubted(*doubts)) == count
    assert length_said(doubted(*doubts)) == length


@pytest.mark.parametrize(
    ("doubt", "condition"),
    [
        (LEFT, "if bead 1 is a stopper or a knot"),
        (LEFT_OUT, "if the piece left out at the right end is a bead"),
        (BEYOND, "if one more bead lies beyond bead 20"),
        (JOINT, "if beads 5, 6 are one"),
        (replace(JOINT, place="bead"), "if bead 5 is none"),
        (replace(JOINT, place="bead", beads=1), "if bead 5 is 2 beads"),
        (HIDDEN, "if the gap after bead 5 hides 2 beads"),
    ],
)
def test_each_doubt_is_a_condition(doubt: Doubt, condition: str) -> None:
    assert if_so(doubt) == condition


def test_the_ends_of_a_loop_may_be_of_its_clasp() -> None:
    assert if_so(LEFT, closed=True) == "if bead 1 is part of the clasp"
    assert if_so(BEYOND, closed=True) == "if one more bead lies between bead 20 and the clasp"
    assert if_so(LEFT_OUT, closed=True) == "if the piece left out at the clasp is a bead"
    loop = replace(make_loop([8.0] * 20), doubts=(LEFT,))
    [note] = count_notes(loop)
    assert note.startswith("If bead 1 is part of the clasp: 1 bead fewer")


def test_what_would_be_otherwise_is_listed() -> None:
    assert count_notes(doubted(LEFT, HIDDEN, OTHERWISE)) == [
        "If bead 1 is a stopper or a knot: 1 bead fewer, the strand is 8.0 mm (5/16 in) shorter.",
        "If the gap after bead 5 hides 2 beads: 2 beads more, the length stays.",
        "Counted in two ways, the numbers of beads differ: count them by eye.",
    ]
    assert count_notes(doubted(*[JOINT] * 8))[6:] == ["2 more places like these."]
    assert count_notes(doubted()) == []


@pytest.mark.parametrize(
    ("doubts", "sentence"),
    [
        ([], "Remove 2 beads for a strung length of 144.0 mm (5 11/16 in)."),
        ([LEFT], " (5 11/16 in), or remove 1 if bead 1 is a stopper or a knot."),
        ([LEFT, LEFT_OUT], ", or remove 3 if the piece left out at the right end is a bead."),
        (
            [LEFT, RIGHT],
            "; depending on the beads in doubt, anything from removing 2 to leaving it as it is.",
        ),
    ],
)
def test_the_advice_says_what_to_do_otherwise(doubts: Sequence[Doubt], sentence: str) -> None:
    target = make_target({"strung": 144.0})
    assert target is not None
    advice = advise(doubted(*doubts), target)
    assert strand_headline(advice).endswith(sentence)


def test_of_a_strand_cut_off_only_the_least_is_said() -> None:
    strand = doubted(cut_by=("left", "tags"))
    assert count_said(strand) == "at least 20 beads"
    assert length_said(strand) == "at least 159.7 mm (6 5/16 in)"  # 160 mm, less 2 x 0.1 % of its scale
    leaves, hides = cut_notes(strand.cut_by)
    assert leaves.startswith(
        "The strand runs out of the picture at the left: take the photo from farther away"
    )
    assert hides == "The strand runs over the tags, or under them: lay it clear of them."
    assert cut_notes(("glare",)) == [
        "Glare hides what may follow at an end of the strand: move the lamp until no patch is bare white."
    ]
    assert cut_notes(("thing",)) == [
        "Something may lie over an end of the strand: take all but the strand off the sheet."
    ]
    target = make_target({"strung": 144.0})
    assert target is not None
    advice = advise(strand, target)
    assert "cannot be said" in strand_headline(advice)
    assert strand_notes(advice) == strand_outcomes(advice) == []


def test_large_figures_tell_both_lengths_with_their_uncertainty() -> None:
    facts = strand_facts(SizedStrand(strand=doubted(LEFT), advice=None))
    assert {fact.label: fact.value for fact in facts}["Strung length"] == "152.0 to 160.0 ± 0.4 mm"
