"""Several strands taken together, in words."""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest

from sizing.base.loop import Link
from sizing.base.target import make_target
from sizing.report.sentences.several import (
    beads_in_all,
    changes_said,
    nest_said,
    notes_of,
    place_said,
    strand_name,
    strands_said,
)
from sizing.strand.sized import SizedStrand, size_strands
from tests.helpers.strands import make_loop, make_strand, numbered_on, with_doubts
from vision.common.records import Doubt, Strand

MAYBE_ONE_LESS = Doubt(place="left end", number=1, beads=-1, length_mm=-8.0, closed_up_mm=-8.0)


def test_counts_and_lengths_add_up() -> None:
    strands = numbered_on(make_strand([6.0] * 20), make_strand([8.0] * 10), make_strand([5.0]))
    # Scales add up (0.24 + 0.16 + 0.01 mm), the rest adds as squares (0.32, 0.37 and 0.40 mm): 0.75 mm.
    assert strands_said(strands) == "3 strands, 31 beads, strung 205.0 ± 0.8 mm (8 1/16 in) in all"
    names = [strand_name(strand, 3) for strand in strands]
    assert names == [
        "Strand 1 of 3, beads 1 to 20",
        "Strand 2 of 3, beads 21 to 30",
        "Strand 3 of 3, bead 31",
    ]


def test_what_one_count_leaves_open_all_together_leave_open() -> None:
    """Their scales add up (0.16 mm each), the rest adds as squares (0.37 mm each): 0.61 mm."""
    sure, unsure = make_strand([8.0] * 10), with_doubts(make_strand([8.0] * 10), MAYBE_ONE_LESS)
    assert strands_said([sure, unsure]) == (
        "2 strands, 19 to 20 beads, strung 152.0 ± 0.6 mm (6 in) to 160.0 ± 0.6 mm (6 5/16 in) in all"
    )


def test_changes_of_all_strands_add_up_each_way() -> None:
    """20, 23 and 21 beads of 8 mm, for 21 of them."""
    strands = numbered_on(*(make_strand([8.0] * count) for count in (20, 23, 21)))
    target = make_target({"strung": 168.0})
    assert changes_said(size_strands(strands, target)) == "In all: add 1 bead and remove 2 beads."
    assert changes_said(size_strands(strands[2:], target)) == ""
    assert changes_said(size_strands([*strands, make_loop([8.0] * 20)], target)) == ""


def test_of_a_strand_that_is_cut_off_only_the_least_is_known() -> None:
    cut = replace(make_strand([8.0] * 10), cut_by=("left",), length_u95_mm=math.inf)
    assert beads_in_all([cut, make_strand([8.0] * 10)]) == "at least 20 beads"
    # 160 mm, less 2 x 0.1 % of its sheet's scale
    assert strands_said([cut, cut]).endswith("strung at least 159.7 mm (6 5/16 in) in all")


EIGHTS, SIXES = make_strand([8.0] * 20), make_strand([6.0] * 32)


def nested(strands: Sequence[Strand], step_mm: float) -> tuple[SizedStrand, ...]:
    """Return strands one around the other, the innermost strung to 160 mm."""
    target = make_target({"strung": 160.0}, findings=(Link(along_mm=20.0),))
    assert target is not None
    return size_strands(strands, replace(target, step_mm=step_mm))


def test_strands_one_around_the_other_are_told_from_the_inside_out() -> None:
    """Beads of 6 mm around beads of 8 mm: 2 pi 7 mm longer, 204.0 mm, 34 beads."""
    sized = nested(numbered_on(SIXES, EIGHTS), 0.0)
    assert place_said(sized[1]) == "160.0 mm (6 5/16 in), the innermost"
    order, in_all, clasp, ends = nest_said(sized)
    assert order == (
        "One lies around the other, the shortest inside: strand 2, then 1, each touching the one inside it."
    )
    assert in_all.startswith("Changed so, they have 54 beads, strung 364.0 ")
    assert (
        clasp == "One clasp closes all of them, and with the other findings takes 20.0 mm (13/16 in) of each."
    )
    assert ends.endswith("there are 4 ends.")
    assert place_said(sized[0]) == (
        "203.98 \N{PLUS-MINUS SIGN} 0.27 mm (8 in), 44.0 mm (1 3/4 in) longer than strand 2 inside it"
    )


def test_a_step_too_small_for_the_beads_is_cautioned_of() -> None:
    order, caution, *_ = nest_said(nested(numbered_on(EIGHTS, SIXES), 12.7))
    assert order.endswith("strand 1, then 2, each 12.7 mm (1/2 in) longer than the one inside it.")
    assert caution == (
        "The step of 12.7 mm (1/2 in) is less than the 44.0 mm (1 3/4 in) that the beads of strands 1 and 2 "
        "need to lie beside each other: they will ride up on each other."
    )
    assert not any("ride up" in note for note in nest_said(nested(numbered_on(EIGHTS, SIXES), 50.8)))


def test_an_order_that_a_doubt_may_change_is_said() -> None:
    doubted = replace(EIGHTS, doubts=(MAYBE_ONE_LESS,))
    order, doubt, *_ = nest_said(nested(numbered_on(doubted, make_strand([6.0] * 26)), 0.0))
    assert order.startswith("One lies around the other")
    assert doubt == "Count the beads of strands 1, 2 by eye: with another number they may change places."


@pytest.mark.parametrize(
    ("strands", "said"),
    [
        ([EIGHTS], ["Only one strand lies open on the photo: it is measured by itself, without a step."]),
        ([replace(EIGHTS, cut_by=("left",))], ["Only one strand lies open"]),
        ([make_loop([8.0] * 20)], ["Strand 1 is closed: a step is for open strands."]),
        ([EIGHTS, make_loop([8.0] * 20), make_loop([8.0] * 20)], ["Strands 2, 3 are closed", "Only one"]),
        ([make_loop([8.0] * 20), make_loop([8.0] * 20)], ["Strands 1, 2 are closed"]),
        ([EIGHTS, replace(SIXES, cut_by=("left",))], ["Strand 2 is not seen whole, so which strand lies"]),
    ],
)
def test_where_strands_cannot_lie_one_around_the_other_it_is_said(
    strands: list[Strand], said: list[str]
) -> None:
    sized = nested(numbered_on(*strands), 0.0)
    notes = notes_of(sized[0], of=1) if len(sized) == 1 else nest_said(sized)
    assert len(nest_said(sized)) == len(said)
    assert all(any(words in note for note in notes) for words in said)
