"""Picks out of a lot, against every possibility tried."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.lot.picks import graduated_run, matched_pairs, most_uniform
from sizing.lot.sizes import sizes_of
from tests.helpers.lots import bead, conditions, lot_of
from vision.common.records import Lot

ROUNDING_MM = 1e-9
SIZES = st.lists(st.integers(300, 1200).map(lambda size: size / 100), min_size=1, max_size=9)


def test_the_closest_pair_comes_first() -> None:
    pairs = matched_pairs(sizes_of(lot_of([6.0, 7.0, 8.0, 8.01, 7.05])), 2)
    assert [set(pair.index) for pair in pairs] == [{2, 3}, {1, 4}]
    assert pairs[0].width_difference_mm == pytest.approx(0.01, abs=ROUNDING_MM)


def test_no_bead_is_in_two_pairs() -> None:
    pairs = matched_pairs(sizes_of(lot_of([8.0] * 7)), 5)
    used = [i for pair in pairs for i in pair.index]
    assert len(pairs) == 3
    assert len(set(used)) == 6


def test_colour_keeps_equal_sizes_apart() -> None:
    colours = [(200, 30, 30), (30, 30, 200), (202, 31, 30)]
    beads = tuple(replace(bead(i, 8.0, 8.0), colour_rgb=colour) for i, colour in enumerate(colours, start=1))
    pairs = matched_pairs(sizes_of(Lot(conditions=(conditions(),), beads=beads)), 1)
    assert set(pairs[0].index) == {0, 2}
    assert pairs[0].colour_difference < 2.3  # not noticeable: Mahy, Van Eycken & Oosterlinck 1994


def test_length_counts_too() -> None:
    pairs = matched_pairs(sizes_of(lot_of([4.0, 4.0, 4.02], [6.0, 7.0, 6.02])), 1)
    assert set(pairs[0].index) == {0, 2}


@pytest.mark.parametrize("sizes_mm", [[], [8.0]])
def test_no_pair_without_two(sizes_mm: list[float]) -> None:
    assert matched_pairs(sizes_of(lot_of(sizes_mm)), 3) == ()


@given(SIZES, st.integers(1, 9))
def test_no_choice_is_more_uniform(sizes_mm: list[float], count: int) -> None:
    pick = most_uniform(sizes_of(lot_of(sizes_mm)), count)
    if count > len(sizes_mm):
        assert pick is None
        return
    best = min(max(some) - min(some) for some in itertools.combinations(sizes_mm, count))
    assert pick is not None
    assert pick.range_mm == pytest.approx(best, abs=ROUNDING_MM)
    assert len(set(pick.index)) == count


def test_an_even_run_among_others_is_found() -> None:
    run = [8.0, 7.5, 7.5, 7.0, 7.0, 6.5, 6.5, 6.0, 6.0]  # strings to 62 mm, falls by 0.5 mm a pair
    sizes = sizes_of(lot_of([7.77, 6.21, *run, 6.83, 7.31]))
    found = graduated_run(sizes, 62.0)
    assert found is not None
    assert [float(sizes.mm[i]) for i in found.index] == [6.0, 6.5, 7.0, 7.5, 8.0, 7.5, 7.0, 6.5, 6.0]
    assert found.strung_mm == pytest.approx(62.0, abs=ROUNDING_MM)
    assert found.off_even_mm == pytest.approx(0.0, abs=ROUNDING_MM)
    assert found.worst_pair_mm == pytest.approx(0.0, abs=ROUNDING_MM)


@pytest.mark.parametrize(
    ("sizes_mm", "strung_mm"),
    [([], 100), ([8.0, 7.0], 15), ([8.0] * 60, 400), ([6.0, 7.0, 8.0, 7.0, 6.0], 400)],
)
def test_no_run_where_the_lot_has_none(sizes_mm: list[float], strung_mm: float) -> None:
    # None at all, too few, all alike, too short.
    assert graduated_run(sizes_of(lot_of(sizes_mm)), strung_mm) is None


@pytest.mark.parametrize(("end_mm", "is_graduated"), [(7.4, False), (7.0, True), (6.5, True)])
def test_a_run_tapers_by_a_tenth_at_least(end_mm: float, is_graduated: bool) -> None:  # noqa: FBT001
    # By 7.5, 12.5 and 19 % of the largest bead: common practice, no source.
    falling = np.linspace(8.0, end_mm, 4)
    sizes_mm = np.concatenate([falling[:1], np.repeat(falling[1:], 2)])
    run = graduated_run(sizes_of(lot_of(sizes_mm)), float(sizes_mm.sum()))
    assert (run is not None) is is_graduated


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([120.0, 180.0, 406.4]))
def test_a_run_is_what_it_says(seed: int, strung_mm: float) -> None:
    sizes_mm = np.random.default_rng(seed).uniform(4, 9, 90)
    sizes = sizes_of(lot_of(sizes_mm))
    run = graduated_run(sizes, strung_mm)
    assert run is not None
    strung = sizes.mm[list(run.index)]
    centre = len(strung) // 2
    assert len(strung) % 2 == 1
    assert len(set(run.index)) == len(run.index)
    assert strung[centre] == max(strung)
    assert all(np.diff(strung[: centre + 1]) >= 0)
    assert all(np.diff(strung[centre:]) <= 0)
    assert abs(strung.sum() - strung_mm) <= min(strung) / 2
    assert strung.sum() == pytest.approx(run.strung_mm)
    assert np.max(np.abs(strung - strung[::-1])) == pytest.approx(run.worst_pair_mm)
