"""What a doubtful bead, joint, gap or piece left out changes in a strand's count and length."""

from typing import Any

import numpy as np
import pytest

from vision.checks.count import (
    CountEvidence,
    PieceBeyond,
    contradicted,
    doubt_flags,
    doubts_about,
)
from vision.common import flags
from vision.common.changes import largest_change
from vision.common.records import Doubt

BEADS, BEAD_MM = 9, 8.0
UNCLEAR, FAINT = 0.5, 0.8
"""Below the least clarity, and the least probability, of a bead that is certain."""
STOPPER = PieceBeyond(likely=0.1, length_mm=5.0, reach_mm=5.0)


def evidence(
    *,
    clarity: dict[int, float] | None = None,
    gaps: dict[int, float] | None = None,
    along: dict[int, float] | None = None,
    **changes: Any,  # noqa: ANN401 - any other attribute
) -> CountEvidence:
    """Return a row of nine certain beads of 8 mm on a wire, changed at places counted from 0."""
    clear, apart, long = np.ones(BEADS), np.zeros(BEADS), np.full(BEADS, BEAD_MM)
    for values, some in ((clear, clarity), (apart, gaps), (long, along)):
        for place, value in (some or {}).items():
            values[place] = value
    attributes: dict[str, Any] = {
        "clarity": clear,
        "likely": np.ones(BEADS),
        "ends": (1.0, 1.0),
        "along_mm": long,
        "gaps_mm": apart,
        "unseen_mm": apart,
        "before": (),
        "after": (),
        "rod": False,
        "from_above": (BEADS, BEADS),
    }
    return CountEvidence(**{**attributes, **changes})


def changes(row: CountEvidence) -> list[tuple[str, int, int, float]]:
    return [(d.place, d.number, d.beads, d.length_mm) for d in doubts_about(row)]


@pytest.mark.parametrize("rod", [True, False])
def test_nothing_is_doubted_where_all_beads_are_certain(rod: bool) -> None:  # noqa: FBT001
    assert doubts_about(evidence(rod=rod)) == ()


def test_a_doubtful_end_bead_moves_the_end_by_its_length_and_its_gap() -> None:
    first = changes(evidence(ends=(FAINT, 1.0), gaps={0: 1.5}))
    assert first == [("left end", 1, -1, -9.5), ("left end", 1, 1, BEAD_MM)]
    last = changes(evidence(ends=(1.0, FAINT), gaps={7: 1.5}))
    assert last == [("right end", 9, -1, -9.5), ("right end", 9, 1, BEAD_MM)]


def test_beyond_a_bead_whose_outer_end_is_not_seen_well_may_lie_one_more() -> None:
    assert changes(evidence(clarity={0: UNCLEAR})) == [("left end", 1, 1, BEAD_MM)]
    assert changes(evidence(clarity={8: UNCLEAR}, gaps={7: 1.5})) == [("right end", 9, 1, BEAD_MM)]
    fainter = changes(evidence(clarity={0: UNCLEAR}, ends=(FAINT, 1.0)))
    assert fainter == [("left end", 1, -1, -BEAD_MM), ("left end", 1, 1, BEAD_MM)]


def test_a_piece_left_out_there_is_what_lies_beyond() -> None:
    knot = PieceBeyond(likely=0.4, length_mm=5.0, reach_mm=6.0)
    assert changes(evidence(clarity={0: UNCLEAR}, before=(knot,))) == [("left end", 0, 1, 6.0)]


def test_a_strand_reaches_as_far_as_three_certain_beads_in_a_row() -> None:
    found = changes(evidence(clarity={2: UNCLEAR}))
    assert found == [("left end", 1, -1, -8.0), ("left end", 2, -1, -8.0), ("left end", 3, -1, -8.0)]
    assert changes(evidence(clarity={3: UNCLEAR})) == [("bead", 4, -1, 0.0)]


def test_what_lies_beyond_a_wide_gap_may_not_belong_to_the_strand() -> None:
    assert changes(evidence(gaps={6: 7.9})) == [("gap", 7, 1, 0.0)]
    assert changes(evidence(gaps={7: 30.0})) == [("right end", 9, -1, -38.0)]
    found = changes(evidence(gaps={6: 30.0}))
    assert found == [("right end", 9, -1, -8.0), ("right end", 8, -1, -38.0)]


def test_beads_that_are_spaced_evenly_are_one_strand() -> None:
    spaced = evidence(gaps=dict.fromkeys(range(8), 6.0))
    assert {doubt.place for doubt in doubts_about(spaced)} == {"gap"}
    assert sum(doubt.length_mm for doubt in doubts_about(spaced)) == 0.0


def test_beads_that_share_a_doubtful_joint_may_be_one() -> None:
    assert changes(evidence(clarity={4: UNCLEAR, 5: UNCLEAR})) == [("joint", 5, -1, 0.0)]
    assert changes(evidence(clarity={0: UNCLEAR, 1: UNCLEAR})) == [("joint", 1, -1, 0.0)]


def test_a_long_bead_in_doubt_may_be_several() -> None:
    assert changes(evidence(clarity={4: UNCLEAR}, along={4: 24.0})) == [("bead", 5, 2, 0.0)]


@pytest.mark.parametrize(("gap_mm", "hidden"), [(5.5, 0), (5.7, 1), (15.9, 1), (16.1, 2)])
def test_a_gap_hides_what_fits_into_it(gap_mm: float, hidden: int) -> None:
    row = evidence(gaps={4: gap_mm})
    assert changes(row) == [("gap", 5, hidden, 0.0)] * bool(hidden)
    assert [d.closed_up_mm for d in doubts_about(row)] == [BEAD_MM * hidden] * bool(hidden)


def test_a_piece_left_out_on_a_wire_may_lengthen_the_strand() -> None:
    knot = PieceBeyond(likely=0.4, length_mm=5.0, reach_mm=6.0)
    assert changes(evidence(before=(knot,))) == [("left end", 0, 1, 6.0)]


@pytest.mark.parametrize(("chance", "certain"), [(0.86, True), (0.84, False)])
def test_an_end_bead_that_may_be_a_stopper_is_doubted(chance: float, certain: bool) -> None:  # noqa: FBT001
    fewer, more = ((beads, beads * BEAD_MM) for beads in (-1, 1))
    left = [("left end", 1, *fewer), ("left end", 1, *more)]
    right = [("right end", 9, *fewer), ("right end", 9, *more)]
    assert changes(evidence(ends=(chance, 1.0))) == left * (not certain)
    assert changes(evidence(ends=(1.0, chance))) == right * (not certain)


@pytest.mark.parametrize(("chance", "certain"), [(0.14, True), (0.16, False)])
def test_a_stopper_of_a_rod_may_be_a_bead(chance: float, certain: bool) -> None:  # noqa: FBT001
    alike = PieceBeyond(likely=chance, length_mm=5.0, reach_mm=6.0)
    doubted = [("left end", 0, 1, 6.0)] * (not certain)
    assert changes(evidence(before=(alike,), after=(STOPPER,), rod=True)) == doubted
    assert changes(evidence(before=(alike,), rod=True)) == doubted


@pytest.mark.parametrize(
    ("rod", "seen", "beads"),
    [
        (False, (10, 10), 1), (False, (8, 8), -1), (False, (9, 12), 0), (False, (10, 12), 1),
        (True, (11, 11), 0), (True, (12, 12), 1), (True, (7, 12), 0),
    ],
)  # fmt: skip
def test_a_second_count_is_doubted_as_far_as_it_is_sure(
    rod: bool,  # noqa: FBT001
    seen: tuple[int, int],
    beads: int,
) -> None:
    stoppers = (STOPPER,) * rod
    found = changes(evidence(rod=rod, from_above=seen, before=stoppers, after=stoppers))
    assert found == [("strand", 0, beads, 0.0)] * bool(beads)


def test_a_single_bead_is_no_row() -> None:
    one = CountEvidence(
        clarity=np.ones(1),
        likely=np.ones(1),
        ends=(1.0, 1.0),
        along_mm=np.array([6.0]),
        gaps_mm=np.zeros(1),
        unseen_mm=np.zeros(1),
        before=(),
        after=(),
        rod=True,
        from_above=(1, 1),
    )
    assert changes(one) == [("left end", 1, -1, -6.0)]


def test_twice_as_many_seen_by_themselves_contradict_a_division() -> None:
    assert not contradicted(4, surely_seen=9)
    assert contradicted(4, surely_seen=10)


def test_where_all_beads_are_in_doubt_there_may_be_none() -> None:
    row = evidence(likely=np.full(BEADS, FAINT))
    assert sum(doubt.beads for doubt in doubts_about(row) if doubt.beads < 0) == -BEADS


def test_flags_tell_division_from_count() -> None:
    inner, end = Doubt(place="joint", beads=-1), Doubt(place="left end", beads=-1, length_mm=-8.0)
    assert doubt_flags(()) == ()
    assert doubt_flags((inner,)) == (flags.UNSURE_SPLIT,)
    assert doubt_flags((inner, end)) == (flags.UNSURE_SPLIT, flags.UNSURE_COUNT)


def test_changes_one_way_add_up() -> None:
    assert largest_change([-8.0, -9.0, 5.0]) == 17.0
    assert largest_change([]) == 0.0
