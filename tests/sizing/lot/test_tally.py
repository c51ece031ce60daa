"""What heaps string to."""

import math

import pytest

from sizing.base.errors import TargetError
from sizing.base.target import make_target
from sizing.lot.tally import tally
from tests.helpers.lots import lot_of

ROUNDING_MM = 1e-9


@pytest.mark.parametrize(
    ("diameter_mm", "count"),
    [(2, 200), (3, 133), (4, 100), (5, 80), (6, 66), (7, 57), (8, 50), (10, 40), (12, 33)],
)
def test_a_16_inch_strand(diameter_mm: float, count: int) -> None:
    # International Gem Society, "Bead and necklace size charts": beads on a 16 inch strand; the table runs
    # 0 to 4 % under 406.4 / d.
    share = tally(lot_of([diameter_mm] * count)).share
    assert 0.96 <= share <= 1.0


def test_rounds_string_by_their_mean_diameter() -> None:
    heap = tally(lot_of([8.0] * 10, [8.1] * 10))
    assert heap.is_round
    assert heap.strung_mm == pytest.approx(80.5, abs=ROUNDING_MM)


def test_ovals_string_by_width_or_by_length() -> None:
    heap = tally(lot_of([4.0] * 10, [6.0] * 10))
    assert not heap.is_round
    assert (heap.strung_mm, heap.strung_long_mm) == pytest.approx((40.0, 60.0), abs=ROUNDING_MM)


def test_a_share_of_a_length() -> None:
    target = make_target({"strung": 160.0})
    assert target is not None
    assert tally(lot_of([8.0] * 10), target=target).share == pytest.approx(0.5)


@pytest.mark.parametrize(("diameter_mm", "count"), [(4, 44), (6, 30), (8, 24), (10, 20), (12, 17)])
def test_a_share_of_a_bracelet(diameter_mm: float, count: int) -> None:
    # Fewest beads for an inner girth of 160 mm: regular polygon, closed formula.
    target = make_target({"wrist": 160.0}, ease_mm=0.0, findings=())
    assert target is not None
    assert tally(lot_of([diameter_mm] * count), target=target).share == pytest.approx(1.0)


def test_a_girth_beyond_reason_is_refused() -> None:
    target = make_target({"neck": 1e6}, ease_mm=0.0)
    assert target is not None
    with pytest.raises(
        TargetError,
        match=r"neck 1000000\.0 mm .* would take over 10000 of these beads",
    ):
        tally(lot_of([4.0]), target=target)


def test_uncertainty_of_a_strung_length_keeps_the_scale() -> None:
    # JCGM 100:2008, 5.2.2: n beads of one scale are n times as uncertain, not sqrt(n) times.
    heap = tally(lot_of([8.0] * 50, u95_mm=2 * 8.0 * 0.003, scale_rel_u=0.003))
    assert heap.strung_u95_mm == pytest.approx(2 * 0.003 * 400.0, abs=ROUNDING_MM)


def test_some_of_the_beads() -> None:
    heap = tally(lot_of([8.0, math.nan, 6.0, 7.0]), (0, 2))
    assert [each.number for each in heap.beads] == [1, 4]


def test_no_beads_string_to_nothing() -> None:
    heap = tally(lot_of([]))
    assert (heap.strung_mm, heap.strung_long_mm, heap.share) == (0.0, 0.0, 0.0)
