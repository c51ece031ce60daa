"""Strands corrected by their maker, against sums of the beads' own lengths."""

import math
from collections.abc import Sequence
from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizing.base.errors import CorrectionError
from sizing.base.target import make_target
from sizing.corrections.plan import check_places
from sizing.corrections.shape import round_outline
from sizing.corrections.strands import correct_strands
from sizing.strand.advice import advise
from sizing.strand.doubtful import count_sure
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common import flags
from vision.common.corrections import Action, Correction
from vision.common.records import Doubt, Strand

EXACT_MM = 1e-9


def spaced(along_mm: Sequence[float], *, gap_mm: float = 0.0) -> Strand:
    """Return a strand whose beads all lie as far apart, true to scale on the photo: 10 px a millimetre."""
    strand = make_strand(along_mm)
    ends = np.cumsum([length + gap_mm for length in along_mm]) - gap_mm
    beads = tuple(
        replace(
            bead,
            centre_px=(100 + 10 * float(end - bead.along_mm / 2), 400.0),
            outline_px=round_outline((100 + 10 * float(end - bead.along_mm / 2), 400.0), 5 * bead.along_mm),
            gap_after_mm=gap_mm if bead is not strand.beads[-1] else 0.0,
        )
        for bead, end in zip(strand.beads, ends, strict=True)
    )
    return replace(strand, beads=beads, length_mm=float(ends[-1]))


def say(action: Action, *numbers: int) -> Correction:
    return Correction(action=action, numbers=numbers)


def here(x: float, y: float = 400.0) -> Correction:
    return Correction(action="bead here", px=(x, y))


def read(number: int, mm: float, u95_mm: float = 0.05) -> Correction:
    return Correction(action="size", numbers=(number,), size_mm=mm, size_u95_mm=u95_mm)


def corrected(strand: Strand, *said: Correction) -> Strand:
    [right] = correct_strands([strand], said)
    return right


def sizes(strand: Strand) -> list[float]:
    return [bead.along_mm for bead in strand.beads]


def test_nothing_said_changes_nothing() -> None:
    strand = make_strand([6.0, 7.0, 8.0])
    [same] = correct_strands([strand], [])
    assert same is strand


def test_a_stopper_at_an_end_moves_the_end() -> None:
    right = corrected(spaced([9.0, 6.0, 7.0, 8.0], gap_mm=0.5), say("stopper", 1))
    assert sizes(right) == [6.0, 7.0, 8.0]
    assert right.length_mm == pytest.approx(6 + 7 + 8 + 2 * 0.5, abs=EXACT_MM)
    assert right.closed_up_mm == pytest.approx(6 + 7 + 8, abs=EXACT_MM)
    assert [(bead.number, bead.was) for bead in right.beads] == [(1, (2,)), (2, (3,)), (3, (4,))]
    assert right.beads[-1].gap_after_mm == 0


def test_what_is_no_bead_between_others_leaves_bare_string() -> None:
    right = corrected(spaced([6.0, 7.0, 8.0], gap_mm=0.5), say("no bead", 2))
    assert right.length_mm == pytest.approx(6 + 0.5 + 7 + 0.5 + 8, abs=EXACT_MM)
    assert right.closed_up_mm == pytest.approx(6 + 8, abs=EXACT_MM)
    assert [bead.gap_after_mm for bead in right.beads] == [8.0, 0.0]


@pytest.mark.parametrize("kind", ["spacer", "cover"])
def test_spacers_and_covers_stay_strung_and_count_as_none(kind: Action) -> None:
    strand = spaced([8.0, 2.0, 8.0, 8.0])
    right = corrected(strand, say(kind, 2))
    assert (right.count, [bead.kind for bead in right.beads]) == (3, ["bead", kind, "bead", "bead"])
    assert (right.length_mm, right.closed_up_mm) == (strand.length_mm, strand.closed_up_mm)


def test_two_that_are_one_are_as_long_as_both_with_the_gap() -> None:
    right = corrected(spaced([8.0, 3.0, 4.0, 8.0], gap_mm=1.0), say("one bead", 3, 2))
    assert sizes(right) == [8.0, 3 + 1 + 4, 8.0]
    assert [bead.was for bead in right.beads] == [(1,), (2, 3), (4,)]
    assert right.length_mm == pytest.approx(8 + 3 + 4 + 8 + 3 * 1, abs=EXACT_MM)
    assert right.closed_up_mm == pytest.approx(8 + 8 + 8, abs=EXACT_MM)
    assert right.beads[1].across_mm == 4.0
    assert flags.CORRECTED in right.beads[1].flags


def test_one_that_is_two_is_halved() -> None:
    strand = spaced([8.0, 16.0, 8.0])
    right = corrected(strand, say("two beads", 2))
    assert sizes(right) == [8.0, 8.0, 8.0, 8.0]
    assert [bead.was for bead in right.beads] == [(1,), (2,), (2,), (3,)]
    assert right.length_mm == strand.length_mm
    # both beside scatter by no more than beads of one kind do, 2 %: 2 * 0.02 * 8 / sqrt(2), and half of 0.08
    assert right.beads[1].along_u95_mm == pytest.approx(math.hypot(2 * 0.02 * 8 / math.sqrt(2), 0.04))


def test_a_caliper_reading_stands_for_the_size_across() -> None:
    strand = spaced([8.0] * 5)
    weak = replace(strand.beads[2], flags=(flags.WEAK_EDGE, flags.ODD_SIZE))
    strand = replace(strand, beads=(*strand.beads[:2], weak, *strand.beads[3:]))
    bead = corrected(strand, read(3, 7.95)).beads[2]
    assert (bead.across_mm, bead.across_u95_mm, bead.along_mm) == (7.95, 0.05, 8.0)
    assert bead.flags == (flags.ODD_SIZE,)  # a size that is read is nothing to check, how it differs is


@pytest.mark.parametrize("u95_mm", [0.05, 0.3])
def test_a_caliper_and_the_photo_agree_within_both_uncertainties(u95_mm: float) -> None:
    across_u95_mm = spaced([8.0]).beads[0].across_u95_mm
    limit_mm = math.hypot(u95_mm, across_u95_mm)
    near, far = (corrected(spaced([8.0] * 5), read(3, 8.0 + k * limit_mm, u95_mm)) for k in (0.99, 1.01))
    assert (near.beads[2].across_u95_mm, near.beads[2].flags) == (u95_mm, ())
    assert (far.beads[2].across_u95_mm, far.beads[2].flags) == (u95_mm, (flags.CONTRADICTED,))
    assert (far.corrections[0].shown_mm, far.corrections[0].shown_u95_mm) == (8.0, across_u95_mm)


def test_a_missed_bead_fills_the_gap_where_it_lies() -> None:
    whole = spaced([8.0] * 6)
    strand = corrected(whole, say("no bead", 3))
    strand = replace(strand, beads=tuple(replace(bead, was=None) for bead in strand.beads), corrections=())
    right = corrected(strand, here(*whole.beads[2].centre_px))
    bead = right.beads[2]
    assert (len(right.beads), bead.number, bead.was) == (6, 3, ())
    assert sizes(right) == pytest.approx([8.0] * 6, abs=EXACT_MM)
    assert right.length_mm == pytest.approx(whole.length_mm, abs=EXACT_MM)
    assert right.closed_up_mm == pytest.approx(whole.closed_up_mm, abs=EXACT_MM)
    # like five others, two before it and three behind: JCGM 100:2008 adds variances, s^2 (1 + 1 / n)
    assert bead.along_u95_mm == pytest.approx(math.hypot(2 * 0.02 * 8 * math.sqrt(1 + 1 / 5), 0.08))
    assert flags.CORRECTED in bead.flags


def test_missed_beads_lengthen_the_strand_beyond_its_end() -> None:
    strand = spaced([8.0] * 6)
    y = 400.0
    right = corrected(strand, here(100 + 10 * 60, y), here(100 + 10 * 52, y))
    assert sizes(right) == pytest.approx([8.0] * 8, abs=EXACT_MM)
    assert right.length_mm == pytest.approx(8 * 8, abs=EXACT_MM)
    assert [bead.was for bead in right.beads[5:]] == [(6,), (), ()]
    assert right.length_u95_mm > strand.length_u95_mm
    left = corrected(strand, here(100 - 10 * 5))  # 1 mm of bare string, then a bead of 8 mm
    assert left.beads[0].was == ()
    assert left.length_mm == pytest.approx(48 + 1 + 8, abs=EXACT_MM)


def test_a_missed_bead_among_several_sizes_is_as_uncertain_as_they_differ() -> None:
    strand = spaced([4.0, 8.0] * 4)
    bead = corrected(strand, here(100 + 10 * 51)).beads[-1]
    last = [8.0, 4.0, 8.0]
    assert bead.across_mm == pytest.approx(np.mean(last))
    expected = math.hypot(2 * float(np.std(last, ddof=1)) * math.sqrt(4 / 3), 0.08)
    assert bead.across_u95_mm == pytest.approx(expected)


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ([say("no bead", 9)], "there is no bead 9: give a number as on the marked photo, 1 to 5"),
        ([say("no bead", 1, 1)], "bead 1 is named twice"),
        ([say("spacer", 2), read(2, 8.0)], "bead 2 is named twice"),
        ([say("one bead", 1, 3)], "beads 1 and 3 do not follow each other"),
        ([say("one bead", 4)], "give the numbers of two or more"),
        ([say("stopper", 3)], "bead 3 lies between beads, so it is no stopper"),
        ([say("no bead", 1, 2, 3, 4, 5)], "no bead would be left"),
        ([here(300, 700)], "lies 30 mm beside the string"),
        ([here(1500)], "beyond the end of the string"),
        ([here(470)], "bead 5 lies at 470,400 already"),
        ([here(180)], "no room for a bead between beads 1 and 2"),
        ([here(546), here(546)], "the same place is given twice"),
        ([read(2, 300.0)], "a bead of 300.0 mm is out of reason"),
        ([read(2, 80.0)], "bead 2 cannot be 80.0 mm by a caliper, as the photo shows 8.00"),
        ([read(2, 3.9)], "bead 2 cannot be 3.9 mm by a caliper"),
    ],
)
def test_what_cannot_be_meant_is_one_clear_line(said: list[Correction], message: str) -> None:
    with pytest.raises(CorrectionError, match=message):
        correct_strands([spaced([8.0] * 5)], said)


def test_a_place_outside_the_photo_is_refused() -> None:
    check_places([here(99, 49), say("no bead", 1)], {"": (100, 50)})
    with pytest.raises(CorrectionError, match="100,40 lies outside the photo, which is 100 x 50 pixels"):
        check_places([here(100, 40)], {"": (100, 50)})


def test_beads_of_several_strands_keep_their_strand() -> None:
    strands = numbered_on(make_strand([8.0] * 4), make_strand([6.0] * 5))
    right = correct_strands(strands, [say("no bead", 1), say("no bead", 9), here(100 - 60 * 0.9, 800.0)])
    assert [strand.count for strand in right] == [3, 5]
    assert [bead.number for strand in right for bead in strand.beads] == list(range(1, 9))
    assert right[1].beads[0].was == ()
    assert all(strand.corrections == right[0].corrections for strand in right)


def test_a_strand_of_which_no_bead_is_left_is_none() -> None:
    strands = numbered_on(make_strand([8.0] * 2), make_strand([6.0] * 3))
    [right] = correct_strands(strands, [say("no bead", 1, 2)])
    assert (right.number, [bead.was for bead in right.beads]) == (1, [(3,), (4,), (5,)])


def test_the_round_of_a_loop_stays_and_its_clasp_takes_what_was_no_bead() -> None:
    loop = make_loop([10.0] + [8.0] * 20, clasp_mm=14.0)
    right = corrected(loop, say("no bead", 1))
    assert loop.loop is not None
    assert right.loop is not None
    assert right.length_mm == pytest.approx(160, abs=EXACT_MM)
    assert right.loop.around_mm == loop.loop.around_mm
    assert right.loop.clasp_mm == pytest.approx(14 + 10, abs=EXACT_MM)
    # all round less pi times the mean thickness, which is 8 mm now (Steiner's formula)
    assert right.loop.inner_girth_mm == pytest.approx(right.loop.around_mm - math.pi * 8, abs=EXACT_MM)


def test_a_loop_has_no_stoppers() -> None:
    with pytest.raises(CorrectionError, match="closed loop, which has no stoppers"):
        corrected(make_loop([8.0] * 9), say("stopper", 1))


def doubtful(*doubts: Doubt, split: Sequence[int] = ()) -> Strand:
    strand = spaced([8.0] * 10)
    beads = tuple(
        replace(bead, flags=(flags.UNSURE_SPLIT,) if bead.number in split else ()) for bead in strand.beads
    )
    u95_mm = strand.length_u95_mm + max(abs(sum(doubt.length_mm for doubt in doubts)), 0.0)
    on = (flags.UNSURE_SPLIT,) if split else (flags.UNSURE_COUNT,)
    return replace(strand, beads=beads, doubts=doubts, length_u95_mm=u95_mm, flags=on)


LEFT = Doubt(place="left end", number=1, beads=-1, length_mm=-8.0, closed_up_mm=-8.0)
BEYOND = Doubt(place="right end", beads=1, length_mm=8.0, closed_up_mm=8.0)
JOINT = Doubt(place="joint", number=4, beads=-1)
COUNTED = Doubt(place="strand", beads=1)


@pytest.mark.parametrize("action", ["stopper", "no bead", "bead"])
def test_what_the_maker_says_of_a_doubtful_end_settles_it(action: Action) -> None:
    right = corrected(doubtful(LEFT), say(action, 1))
    assert (right.doubts, right.flags, right.counts) == ((), (), (right.count, right.count))
    # of the plain strand, whose scale of 0.1 % goes with its length
    plain = math.sqrt(0.4**2 - (0.002 * 80) ** 2)
    assert right.length_u95_mm == pytest.approx(math.hypot(plain, 0.002 * right.length_mm))


def test_what_else_is_doubtful_stays_so() -> None:
    right = corrected(doubtful(LEFT, JOINT, split=(4, 5)), say("stopper", 1))
    assert [(doubt.place, doubt.number) for doubt in right.doubts] == [("joint", 3)]
    assert not count_sure(right)
    assert right.counts == (8, 9)


@pytest.mark.parametrize(("said", "count"), [(say("one bead", 4, 5), 9), (say("bead", 5), 10)])
def test_a_joint_is_settled_by_one_of_its_beads(said: Correction, count: int) -> None:
    right = corrected(doubtful(JOINT, split=(4, 5)), said)
    assert count_sure(right)
    assert right.counts == (count, count)


def test_a_stopper_tells_that_nothing_lies_beyond_it() -> None:
    assert corrected(doubtful(BEYOND), say("stopper", 10)).counts == (9, 9)
    assert corrected(doubtful(BEYOND), here(100 + 10 * 84)).counts == (11, 11)


def test_two_counts_that_differed_agree_after_as_many_corrections() -> None:
    assert corrected(doubtful(COUNTED), say("two beads", 3)).counts == (11, 11)
    assert corrected(doubtful(COUNTED), say("no bead", 3)).counts == (9, 11)


def test_the_advice_follows() -> None:
    strand, target = spaced([8.0] * 21), make_target({"strung": 160.0})
    assert target is not None
    assert advise(strand, target).change_beads == -1
    assert advise(corrected(strand, say("stopper", 21)), target).change_beads == 0


actions: st.SearchStrategy[Action] = st.sampled_from(["no bead", "spacer", "cover", "bead", "two beads"])
lengths = st.lists(st.floats(3.0, 12.0), min_size=4, max_size=12)


@st.composite
def strand_and_said(draw: st.DrawFn) -> tuple[Strand, list[Correction]]:
    strand = spaced(draw(lengths), gap_mm=draw(st.floats(0.0, 4.0)))
    numbers = draw(st.sets(st.integers(2, len(strand.beads)), max_size=4))
    said = [say(draw(actions), number) for number in sorted(numbers)]
    if draw(st.booleans()):
        said.append(here(100 - 10 * strand.beads[0].along_mm * draw(st.floats(0.3, 0.8))))
    return strand, said


@given(strand_and_said(), st.randoms(use_true_random=False))
def test_the_order_of_corrections_does_not_matter(
    case: tuple[Strand, list[Correction]], random: Random
) -> None:
    strand, said = case
    shuffled = list(said)
    random.shuffle(shuffled)
    one, other = corrected(strand, *said), corrected(strand, *shuffled)
    assert (one.length_mm, one.length_u95_mm, one.closed_up_mm) == (
        other.length_mm,
        other.length_u95_mm,
        other.closed_up_mm,
    )
    assert [(b.number, b.was, b.along_mm, b.kind) for b in one.beads] == [
        (b.number, b.was, b.along_mm, b.kind) for b in other.beads
    ]


@given(strand_and_said())
def test_beads_and_gaps_add_up_to_the_length(case: tuple[Strand, list[Correction]]) -> None:
    right = corrected(case[0], *case[1])
    whole = sum(bead.along_mm + bead.gap_after_mm for bead in right.beads)
    assert right.length_mm == pytest.approx(whole, abs=1e-6)
    assert right.closed_up_mm == pytest.approx(sum(sizes(right)), abs=1e-6)
    assert [bead.number for bead in right.beads] == list(range(1, len(right.beads) + 1))


@given(lengths, st.data())
def test_what_is_taken_away_shortens_and_counts(along_mm: list[float], data: st.DataObject) -> None:
    strand = spaced(along_mm, gap_mm=0.3)
    gone = data.draw(st.sets(st.integers(1, len(along_mm)), max_size=len(along_mm) - 1))
    said = [say("no bead", number) for number in sorted(gone)]
    before = strand
    for k in range(1, len(said) + 1):
        after = corrected(strand, *said[:k])
        assert after.count == len(along_mm) - k
        assert after.length_mm <= before.length_mm + EXACT_MM
        assert after.length_u95_mm <= before.length_u95_mm + EXACT_MM
        before = after
    undone = corrected(strand, *said[:-1]) if len(said) > 1 else strand
    assert undone.count == len(along_mm) - max(len(said) - 1, 0)
