"""Sizes of a lot and the uncertainty of their mean."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizing.lot.sizes import COMMON_EDGE_SHARE, mean_of, sizes_of, unmeasured
from tests.helpers.lots import bead, conditions, lot_of
from vision.common.records import Lot

ROUNDING_MM = 1e-9


def test_width_is_the_smallest_caliper_size_and_length_the_largest() -> None:
    lot = lot_of([4.0, 5.0], [6.0, 5.5])
    assert sizes_of(lot, "width").mm == pytest.approx([4.0, 5.0])
    assert sizes_of(lot, "length").mm == pytest.approx([6.0, 5.5])


def test_scale_is_taken_out_of_a_beads_own_uncertainty() -> None:
    # JCGM 100:2008, 5.1.2: variances of independent parts add up.
    sizes = sizes_of(lot_of([10.0], u95_mm=0.10, scale_rel_u=0.003))
    assert sizes.u_mm[0] == pytest.approx(0.05)
    assert sizes.own_u_mm[0] == pytest.approx(0.04)  # 0.05^2 = 0.03^2 + 0.04^2


def test_each_photo_has_its_own_scale() -> None:
    beads = (bead(1, 10, 10, u95_mm=0.10, photo="a.jpg"), bead(1, 10, 10, u95_mm=0.10, photo="b.jpg"))
    pair = (conditions("a.jpg", scale_rel_u=0.003), conditions("b.jpg", scale_rel_u=0.004))
    sizes = sizes_of(Lot(conditions=pair, beads=beads))
    assert sizes.own_u_mm == pytest.approx([0.04, 0.03])
    assert sizes.scale_rel_u == 0.004


def test_a_scale_less_sure_than_the_bead_leaves_nothing_own() -> None:
    assert sizes_of(lot_of([10.0], u95_mm=0.02, scale_rel_u=0.01)).own_u_mm[0] == 0.0


def test_unmeasured_beads_are_kept_apart() -> None:
    lot = lot_of([8.0, math.nan, 7.0])
    assert [each.number for each in sizes_of(lot).beads] == [1, 3]
    assert [each.number for each in unmeasured(lot)] == [2]


def test_the_uncertainty_of_scale_does_not_average_out() -> None:
    # JCGM 100:2008, 5.2.2: fully correlated inputs add linearly: the mean keeps their relative uncertainty.
    mean = mean_of(sizes_of(lot_of([10.0] * 10_000, u95_mm=0.06, scale_rel_u=0.003)))
    assert mean.u95_mm == pytest.approx(0.06, rel=1e-3)


def test_own_uncertainties_average_out_but_for_their_common_half() -> None:
    # Half of the variance is common to all beads (assumed, no source): of 100 beads 0.5 + 0.5 / 100 is left.
    mean = mean_of(sizes_of(lot_of([8.0] * 100, u95_mm=0.06)))
    assert mean.u95_mm == pytest.approx(0.06 * math.sqrt(0.505), abs=ROUNDING_MM)


def test_stated_uncertainty_of_a_mean_covers_its_scatter() -> None:
    # Beads measured with exactly the errors assumed: a common scale, a common edge, an own edge.
    rng = np.random.default_rng(5)
    true_mm, n, trials = 8.0, 25, 2000
    scale_u, own_u = 0.003, 0.03
    stated = mean_of(sizes_of(lot_of([true_mm] * n, u95_mm=2 * math.hypot(own_u, true_mm * scale_u),
                                     scale_rel_u=scale_u))).u95_mm  # fmt: skip
    scale = rng.normal(0, scale_u, (trials, 1))
    common = rng.normal(0, own_u * math.sqrt(COMMON_EDGE_SHARE), (trials, 1))
    apart = rng.normal(0, own_u * math.sqrt(1 - COMMON_EDGE_SHARE), (trials, n))
    errors = (true_mm * scale + common + apart).mean(axis=1)
    inside = float(np.mean(np.abs(errors) <= stated))
    assert 0.94 <= inside <= 0.97  # k = 2 covers 95.45 %; three standard errors of 2000 trials are 1.4 %


def test_no_beads_have_no_mean() -> None:
    mean = mean_of(sizes_of(lot_of([])))
    assert math.isnan(mean.mm)
    assert math.isnan(mean.u95_mm)


@given(st.lists(st.floats(2.0, 20.0), min_size=1, max_size=30))
def test_a_mean_is_never_surer_than_its_scale_nor_less_sure_than_its_worst_bead(
    sizes_mm: list[float],
) -> None:
    sizes = sizes_of(lot_of(sizes_mm, u95_mm=0.3, scale_rel_u=0.002))
    u95 = mean_of(sizes).u95_mm
    assert 2 * 0.002 * np.mean(sizes_mm) <= u95 + ROUNDING_MM
    assert u95 <= 2 * math.hypot(0.15, 0.002 * max(sizes_mm)) + ROUNDING_MM


def test_a_questioned_scale_widens_decisions_alone() -> None:
    lot = lot_of([10.0, 9.0], u95_mm=0.10, scale_rel_u=0.003)
    doubted = Lot(
        conditions=(replace(lot.conditions[0], questioned=("check-length",), doubt_rel_u=0.03),),
        beads=lot.beads,
    )
    plain, wide = sizes_of(lot), sizes_of(doubted)
    assert wide.u_mm == pytest.approx(np.hypot(plain.u_mm, 0.03 * plain.mm))
    assert wide.own_u_mm == pytest.approx(plain.own_u_mm)
    assert mean_of(wide) == mean_of(plain)
