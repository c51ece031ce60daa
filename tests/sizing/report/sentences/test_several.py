"""Several strands taken together, in words."""

import math
from dataclasses import replace

from sizing.base.target import make_target
from sizing.report.sentences.several import beads_in_all, changes_said, strand_name, strands_said
from sizing.strand.sized import size_strands
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.records import Doubt

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
    sure, unsure = make_strand([8.0] * 10), replace(make_strand([8.0] * 10), doubts=(MAYBE_ONE_LESS,))
    assert strands_said([sure, unsure]) == (
        "2 strands, 19 to 20 beads, strung 152.0 mm (6 in) to 160.0 mm (6 5/16 in) in all"
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
    assert strands_said([cut, cut]).endswith("strung at least 160.0 mm (6 5/16 in) in all")
