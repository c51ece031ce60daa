"""What to add or remove if a doubt about the count is right."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from sizing.base.target import make_target
from sizing.strand.advice import Advice, advise
from sizing.strand.doubtful import strand_if
from tests.helpers.strands import make_strand, numbered_on
from vision.common.records import Doubt, Strand

BEAD_MM = 8.0
LEFT = Doubt(place="left end", number=1, beads=-1, length_mm=-BEAD_MM, closed_up_mm=-BEAD_MM)
NEXT = replace(LEFT, number=2)
RIGHT = replace(LEFT, place="right end", number=20)
LEFT_OUT = Doubt(place="right end", beads=1, length_mm=BEAD_MM, closed_up_mm=BEAD_MM)
JOINT = Doubt(place="joint", number=5, beads=-1)
TWO = Doubt(place="bead", number=5, beads=1)
NONE = Doubt(place="bead", number=5, beads=-1, closed_up_mm=-BEAD_MM)
HIDDEN = Doubt(place="gap", number=5, beads=2, closed_up_mm=2 * BEAD_MM)
OTHERWISE = Doubt(place="strand", beads=3)


def doubted(*doubts: Doubt) -> Strand:
    return replace(make_strand([BEAD_MM] * 20), doubts=doubts)


def advice_on(*doubts: Doubt) -> Advice:
    """Advise on a strand of 160 mm that should measure 144."""
    target = make_target({"strung": 18 * BEAD_MM})
    assert target is not None
    return advise(doubted(*doubts), target)


@pytest.mark.parametrize(
    ("doubt", "beads", "closed_up_mm"),
    [
        (LEFT, 19, 152.0), (RIGHT, 19, 152.0), (LEFT_OUT, 21, 168.0), (JOINT, 19, 160.0), (TWO, 21, 160.0),
        (NONE, 19, 152.0), (HIDDEN, 22, 176.0),
    ],
    ids=lambda value: value.place if isinstance(value, Doubt) else str(value),
)  # fmt: skip
def test_a_strand_as_it_is_if_a_doubt_is_right(doubt: Doubt, beads: int, closed_up_mm: float) -> None:
    strand = strand_if(doubted(doubt), [doubt])
    assert [bead.number for bead in strand.beads] == [*range(1, beads + 1)]
    assert strand.closed_up_mm == closed_up_mm == sum(bead.along_mm for bead in strand.beads)
    assert strand.doubts == ()


@pytest.mark.parametrize(
    ("doubts", "each", "least", "most"),
    [
        ([LEFT], [-1], -2, -1),
        ([LEFT, NEXT], [-1, 0], -2, 0),
        ([LEFT, RIGHT], [-1, -1], -2, 0),
        ([LEFT, LEFT_OUT], [-1, -3], -3, -1),
        ([HIDDEN], [-4], -4, -2),
        ([LEFT, OTHERWISE], [-1], -2, -1),
    ],
)
def test_the_advice_follows_each_doubt(
    doubts: Sequence[Doubt], each: list[int], least: int, most: int
) -> None:
    advice = advice_on(*doubts)
    assert advice.change_beads == -2
    assert advice.doubtful is not None
    assert [change for _, change in advice.doubtful.each] == each
    assert (advice.doubtful.least, advice.doubtful.most) == (least, most)


def test_beads_numbered_on_from_another_strand_are_added_at_the_right_end() -> None:
    _, second = numbered_on(make_strand([6.0] * 30), make_strand([*[BEAD_MM] * 4, 5.0]))
    longer = strand_if(second, [replace(LEFT_OUT, closed_up_mm=BEAD_MM)])
    assert [bead.along_mm for bead in longer.beads] == [*[BEAD_MM] * 4, 5.0, BEAD_MM]


@pytest.mark.parametrize("doubts", [[], [OTHERWISE]])
def test_nothing_depends_on_what_is_not_doubted_at_a_place(doubts: list[Doubt]) -> None:
    assert advice_on(*doubts).doubtful is None


def test_a_doubt_that_leaves_only_spacers_says_nothing() -> None:
    strand = make_strand([BEAD_MM, 2.0])
    parts = (strand.beads[0], replace(strand.beads[1], kind="spacer"))
    target = make_target({"strung": 50.0})
    assert target is not None
    advice = advise(replace(strand, beads=parts, doubts=(LEFT, LEFT_OUT)), target)
    assert advice.doubtful is not None
    assert [doubt for doubt, _ in advice.doubtful.each] == [LEFT_OUT]


def test_a_bead_that_was_left_out_is_a_bead_even_where_the_strand_begins_with_a_cover() -> None:
    strand = make_strand([3.0, *[8.0] * 10, 3.0], kinds=["cover", *["bead"] * 10, "cover"])
    more = Doubt(place="right end", beads=1, length_mm=8.0, closed_up_mm=8.0)
    assert strand_if(strand, [more]).count == 11
