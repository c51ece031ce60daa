"""Sorting into size classes."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizing.lot.classes import (
    finest_step_mm,
    natural_classes,
    nearest_usual_mm,
    pearl_classes,
    sort_into,
    step_classes,
    usual_classes,
)
from sizing.lot.sizes import sizes_of
from tests.helpers.lots import lot_of


def names(sizes_mm: list[float], u95_mm: float = 0.06) -> list[str]:
    sizes = sizes_of(lot_of(sizes_mm, u95_mm=u95_mm))
    return [heap.name for heap in sort_into(usual_classes(), sizes) for _ in heap.index]


def test_usual_sizes_are_the_trades() -> None:
    # International Gem Society, "Bead and necklace size charts": the sizes strands are sold in.
    usual = [2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20]
    assert [each.name for each in usual_classes()[1:-1]] == [f"{size} mm" for size in usual]
    assert names([float(size) for size in usual]) == [f"{size} mm" for size in usual]


def test_limits_lie_midway() -> None:
    assert names([8.93]) == ["8 mm"]
    assert names([9.07]) == ["10 mm"]
    assert names([6.56]) == ["7 mm"]


def test_sizes_beyond_the_usual_are_named_so() -> None:
    assert names([1.2, 26.0]) == ["under 1.5 mm", "over 21 mm"]


def test_a_bead_that_straddles_is_set_apart() -> None:
    assert names([6.0, 6.48, 7.0]) == ["6 mm", "between 6 mm and 7 mm", "7 mm"]
    assert names([6.48], u95_mm=0.01) == ["6 mm"]


def test_an_error_of_scale_moves_beads_that_are_alike_together() -> None:
    # 5.92 less 7.4 % lies below 5.5 mm, 6.00 less 7.4 % does not
    alike = sizes_of(lot_of([5.92, 5.95, 6.0, 9.9], u95_mm=0.45, scale_rel_u=0.037))
    heaps = sort_into(usual_classes(), alike)
    assert [(heap.name, len(heap.index)) for heap in heaps] == [("between 5 mm and 6 mm", 3), ("10 mm", 1)]
    uneven = sizes_of(lot_of([5.3, 5.6, 5.9, 6.2], u95_mm=0.45, scale_rel_u=0.036))
    assert len(sort_into(usual_classes(), uneven)) > 1


def test_a_large_uncertainty_spans_several_classes() -> None:
    assert names([7.0], u95_mm=1.2) == ["between 6 mm and 8 mm"]


def test_a_class_below_half_a_step_is_not_called_0_mm() -> None:
    sizes = sizes_of(lot_of([4.0, 11.0]))
    assert [heap.name for heap in sort_into(step_classes(20.0, sizes), sizes)] == ["under 10 mm", "20 mm"]


def test_step_classes_hold_what_is_nearest() -> None:
    sizes = sizes_of(lot_of([7.1, 7.22, 7.3, 7.7], u95_mm=0.02))
    heaps = sort_into(step_classes(0.5, sizes), sizes)
    assert [(heap.name, len(heap.index)) for heap in heaps] == [("7.0 mm", 2), ("7.5 mm", 2)]


def test_pearl_classes_are_named_by_both_ends() -> None:
    # CIBJO Pearl Book as reported: half-millimetre classes, 7.0-7.5.
    sizes = sizes_of(lot_of([7.1, 7.3, 7.7], u95_mm=0.02))
    heaps = sort_into(pearl_classes(sizes), sizes)
    assert [(heap.name, len(heap.index)) for heap in heaps] == [("7.0-7.5 mm", 2), ("7.5-8.0 mm", 1)]


@pytest.mark.parametrize(("step_mm", "name"), [(0.25, "7.00-7.25 mm"), (1.0, "7-8 mm"), (0.1, "7.0-7.1 mm")])
def test_a_lower_limit_belongs_to_its_class(step_mm: float, name: str) -> None:
    sizes = sizes_of(lot_of([7.0], u95_mm=0.0))
    assert [heap.name for heap in sort_into(pearl_classes(sizes, step_mm), sizes)] == [name]


@pytest.mark.parametrize(
    ("step_mm", "name"), [(0.25, "7.00 mm"), (1.0, "7 mm"), (0.1, "7.0 mm"), (2.0, "8 mm")]
)
def test_a_step_is_named_by_its_multiples(step_mm: float, name: str) -> None:
    sizes = sizes_of(lot_of([7.0], u95_mm=0.0))
    assert [heap.name for heap in sort_into(step_classes(step_mm, sizes), sizes)] == [name]


def test_natural_classes_carry_their_means() -> None:
    sizes = sizes_of(lot_of([6.0, 6.02, 6.04, 8.0, 8.02, 8.04], u95_mm=0.04))
    assert [each.name for each in natural_classes(sizes)] == ["6.02 mm", "8.02 mm"]
    heaps = sort_into(natural_classes(sizes), sizes, relative=True)
    assert [len(heap.index) for heap in heaps] == [3, 3]


def test_an_error_of_scale_moves_natural_limits_along() -> None:
    sizes = sizes_of(lot_of([6.0] * 9 + [6.3] * 9, u95_mm=0.40, scale_rel_u=0.033))
    classes = natural_classes(sizes)
    assert not any(heap.is_between for heap in sort_into(classes, sizes, relative=True))
    assert any(heap.is_between for heap in sort_into(classes, sizes))


def test_no_beads_make_no_heaps() -> None:
    sizes = sizes_of(lot_of([]))
    assert sort_into(usual_classes(), sizes) == ()
    assert sort_into(step_classes(0.5, sizes), sizes) == ()
    assert sort_into(pearl_classes(sizes), sizes) == ()
    assert sort_into(natural_classes(sizes), sizes) == ()


@pytest.mark.parametrize(("times", "decided"), [(0.45, 0), (1, 20), (2, 30)])
def test_the_finest_step_decides_half_of_evenly_spread_beads(times: float, decided: int) -> None:
    sizes = sizes_of(lot_of([8 + ((k + 0.5) / 40 - 0.5) * 0.4 * times for k in range(40)], u95_mm=0.10))
    assert finest_step_mm(sizes) == pytest.approx(0.4)
    heaps = sort_into(step_classes(0.4 * times, sizes), sizes)
    assert sum(len(heap.index) for heap in heaps if not heap.is_between) == decided


@pytest.mark.parametrize(("size_mm", "usual_mm"), [(7.04, 7), (9.4, 10), (8.9, 8), (30, 20)])
def test_nearest_usual_size(size_mm: float, usual_mm: float) -> None:
    assert nearest_usual_mm(size_mm) == usual_mm


@given(
    st.lists(st.floats(0.5, 40.0), max_size=40),
    st.floats(0.0, 1.0),
    st.sampled_from([0.1, 0.25, 0.5, 1.0]),
)
def test_every_bead_lands_in_one_heap_that_holds_its_size(
    sizes_mm: list[float], u95_mm: float, step_mm: float
) -> None:
    sizes = sizes_of(lot_of(sizes_mm, u95_mm=u95_mm))
    ways = (
        usual_classes(),
        step_classes(step_mm, sizes),
        pearl_classes(sizes, step_mm),
        natural_classes(sizes),
    )
    for classes in ways:
        assert all(below.high_mm == above.low_mm for below, above in pairwise(classes))
        heaps = sort_into(classes, sizes)
        assert sorted(i for heap in heaps for i in heap.index) == list(range(len(sizes)))
        for heap in heaps:
            for i in heap.index:
                assert heap.classes[0].low_mm <= sizes.mm[i] * (1 + 1e-6)
                assert sizes.mm[i] <= heap.classes[-1].high_mm * (1 + 1e-6)
