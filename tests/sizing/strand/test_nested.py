"""Strands that lie one around the other: 2 pi d from string to string (Steiner's formula)."""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest

from sizing.base.loop import Link, inner_girth
from sizing.base.target import Target, make_target
from sizing.strand.nested import nest
from sizing.strand.sized import nest_of, size_strands
from sizing.strand.spread import spread_across
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.records import Doubt, Strand

MM = 1e-9
POLYGON_MM = 0.6  # a chain of N beads is pi^2 d / 6 N shorter than the circle: 23 beads of 8 mm by 0.57 mm
SCALE_REL_U = 0.001  # of made strands
EIGHTS, SIXES = make_strand([8.0] * 20), make_strand([6.0] * 32)


def target_of(step_mm: float | None, **given_mm: float) -> Target:
    target = make_target(given_mm, ease_mm=0.0 if "wrist" in given_mm else None, findings=())
    assert target is not None
    return replace(target, step_mm=step_mm)


def wanted_mm(strands: Sequence[Strand], target: Target) -> list[float]:
    return [each.advice.wanted_mm for each in size_strands(strands, target) if each.advice]


@pytest.mark.parametrize("kind", ["strung", "finished"])
def test_touching_strings_are_half_of_both_widths_apart(kind: str) -> None:
    """From 8 mm to 6 mm beads 7 mm, from those to 4 mm beads 5 mm."""
    strands = numbered_on(EIGHTS, SIXES, make_strand([4.0] * 60))
    found = wanted_mm(strands, target_of(0.0, **{kind: 160.0}))
    assert found == pytest.approx([160.0, 160.0 + 2 * math.pi * 7, 160.0 + 2 * math.pi * (7 + 5)], abs=MM)


def test_around_a_wrist_the_next_strand_fits_around_beads_and_wrist() -> None:
    """A wrist of 160 mm with beads 8 mm thick on it is 160 + 2 pi 8 mm around; the exact chain agrees."""
    inner, outer = size_strands(numbered_on(EIGHTS, SIXES), target_of(0.0, wrist=160.0))
    assert inner.advice is not None
    assert outer.advice is not None
    around_mm = 160.0 + 2 * math.pi * 8
    assert outer.advice.target.goal_mm == pytest.approx(around_mm, abs=MM)
    chain = [Link(along_mm=6.0, across_mm=6.0)]
    nearest = min(range(20, 60), key=lambda n: abs(inner_girth(chain * n) - around_mm))
    assert outer.advice.best.count == nearest
    between_mm = outer.advice.wanted_mm - inner.advice.wanted_mm
    assert between_mm == pytest.approx(2 * math.pi * 7, abs=POLYGON_MM)


def test_a_given_step_is_from_string_to_string_whatever_the_beads() -> None:
    strands = numbered_on(EIGHTS, SIXES, make_strand([7.0] * 40))
    assert wanted_mm(strands, target_of(50.0, strung=160.0)) == pytest.approx([160.0, 210.0, 260.0], abs=MM)
    first, second, third = wanted_mm(strands, target_of(50.0, wrist=160.0))
    assert (second - first, third - second) == pytest.approx((50.0, 50.0), abs=POLYGON_MM)


def test_the_shortest_lies_inside_and_of_equal_ones_the_first() -> None:
    strands = numbered_on(SIXES, EIGHTS, make_strand([4.0] * 40), make_loop([8.0] * 5))
    places = nest(strands, target_of(0.0, strung=160.0))
    assert list(places) == [1, 2, 0]  # 160, 160 and 192 mm; a closed loop has no place
    assert [each.place for each in places.values()] == [1, 2, 3]
    assert [each.target.around for each in places.values()] == [0, 2, 3]


def test_the_widths_uncertainty_counts_two_pi_times() -> None:
    """The scale of the photo adds up over both widths, the rest of each adds as squares."""
    places = nest(numbered_on(EIGHTS, SIXES), target_of(0.0, strung=160.0))
    widths = [spread_across(strand) for strand in (EIGHTS, SIXES)]
    shared = [math.pi * 2 * SCALE_REL_U * width.mean_mm for width in widths]
    whole = [math.pi * width.mean_u95_mm for width in widths]
    own = [math.sqrt(u95_mm**2 - scale**2) for u95_mm, scale in zip(whole, shared, strict=True)]
    assert places[1].target.longer_u95_mm == pytest.approx(math.hypot(sum(shared), *own), abs=MM)
    assert nest(numbered_on(EIGHTS, SIXES), target_of(50.0, strung=160.0))[1].target.longer_u95_mm == 0.0


def test_it_makes_the_advice_less_certain() -> None:
    _, outer = size_strands(numbered_on(EIGHTS, SIXES), target_of(0.0, strung=160.0))
    alone = size_strands([SIXES], target_of(None, strung=160.0 + 2 * math.pi * 7))[0]
    assert outer.advice is not None
    assert alone.advice is not None
    longer_u95_mm = outer.advice.target.longer_u95_mm
    assert outer.advice.wanted_u95_mm == longer_u95_mm > 0.0
    assert outer.advice.change_beads == alone.advice.change_beads
    assert outer.advice.u95_mm == pytest.approx(math.hypot(alone.advice.u95_mm, longer_u95_mm), abs=MM)


@pytest.mark.parametrize(("step_mm", "rides_up"), [(0.0, False), (12.7, True), (43.9, True), (44.0, False)])
def test_a_step_that_the_beads_do_not_fit_in_rides_up(step_mm: float, *, rides_up: bool) -> None:
    """Beads of 8 and 6 mm need 2 pi 7 mm, which is 43.98 mm."""
    places = nest(numbered_on(EIGHTS, SIXES), target_of(step_mm, strung=160.0))
    assert places[1].needed_mm == pytest.approx(2 * math.pi * 7, abs=MM)
    assert [each.rides_up for each in places.values()] == [False, rides_up]


def test_what_they_come_to_in_all() -> None:
    """160 and 204 mm: 20 beads of 8 mm and 34 of 6 mm, 364 mm in all."""
    nest_ = nest_of(size_strands(numbered_on(EIGHTS, SIXES), target_of(0.0, strung=160.0)))
    assert nest_ is not None
    assert (nest_.beads, nest_.strung_mm) == (54, pytest.approx(364.0, abs=MM))
    # The strand of 32 beads, 0.4 mm, grows to 34; their scales add up, the rest adds as squares.
    shared = [2 * SCALE_REL_U * 160.0, 2 * SCALE_REL_U * 204.0]
    own = [math.sqrt(u95_mm**2 - s**2) for u95_mm, s in zip((0.4, 0.4 * 34 / 32), shared, strict=True)]
    assert nest_.strung_u95_mm == pytest.approx(math.hypot(sum(shared), *own), abs=MM)


def test_a_doubt_that_would_change_the_order_leaves_the_advice_of_both_uncertain() -> None:
    """20 beads of 8 mm, or 19, beside 26 of 6 mm: 160 or 152 mm beside 156."""
    doubt = Doubt(place="left end", number=1, beads=-1, length_mm=-8.0, closed_up_mm=-8.0)
    doubted, others = replace(EIGHTS, doubts=(doubt,)), (make_strand([6.0] * 26), make_strand([6.0] * 28))
    for other, sure in zip(others, (False, True), strict=True):
        places = nest(numbered_on(doubted, other), target_of(0.0, strung=160.0))
        assert [each.order_sure for each in places.values()] == [sure, sure]
        sized = size_strands(numbered_on(doubted, other), target_of(0.0, strung=160.0))[1]
        assert sized.advice is not None
        assert sized.advice.count_sure is sure


def test_where_one_is_cut_off_nothing_is_said_of_the_others() -> None:
    cut = replace(SIXES, cut_by=("left",), length_u95_mm=math.inf)
    sized = size_strands(numbered_on(EIGHTS, cut), target_of(0.0, strung=160.0))
    assert sized[0].advice is None
    assert sized[1].advice is not None
    assert all(each.nested is None for each in sized)


def test_beads_whose_width_is_not_known_count_as_round() -> None:
    unknown = replace(SIXES, beads=tuple(replace(bead, across_mm=math.nan) for bead in SIXES.beads))
    places = nest(numbered_on(EIGHTS, unknown), target_of(0.0, strung=160.0))
    assert places[1].needed_mm == pytest.approx(2 * math.pi * 7, abs=MM)
    lost = replace(unknown, beads=tuple(replace(bead, along_mm=math.nan) for bead in unknown.beads))
    assert nest(numbered_on(EIGHTS, lost), target_of(0.0, strung=160.0)) == {}


def test_without_a_step_all_strands_have_one_target() -> None:
    sized = size_strands(numbered_on(EIGHTS, SIXES), target_of(None, strung=160.0))
    assert nest_of(sized) is None
    assert [each.advice.wanted_mm for each in sized if each.advice] == pytest.approx([160.0] * 2, abs=MM)
