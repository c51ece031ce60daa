"""Mean, spread and range of a strand's beads."""

import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from sizing.lot.sizes import COMMON_EDGE_SHARE
from sizing.strand.spread import spread_across, spread_along
from tests.helpers.strands import CONDITIONS, make_strand

MM = 1e-9
OF_TRIALS = 0.02
"""Four standard errors of a standard deviation of 20 000 normal values."""


def test_mean_spread_and_range_agree_with_the_standard_library() -> None:
    along = [5.9, 6.1, 6.0, 6.4, 5.8]
    spread = spread_along(make_strand(along))
    assert spread.count == 5
    assert spread.mean_mm == pytest.approx(statistics.mean(along), abs=MM)
    assert spread.sd_mm == pytest.approx(statistics.stdev(along), abs=MM)
    assert (spread.least_mm, spread.most_mm) == (5.8, 6.4)


def test_across_and_along_are_kept_apart() -> None:
    strand = make_strand([4.0, 4.0], across_mm=[6.0, 7.0])
    assert spread_across(strand).mean_mm == pytest.approx(6.5, abs=MM)
    assert spread_along(strand).mean_mm == pytest.approx(4.0, abs=MM)


def test_spacers_and_covers_are_no_beads() -> None:
    strand = make_strand([3.0, 8.0, 2.0, 8.0, 3.0], kinds=["cover", "bead", "spacer", "bead", "cover"])
    assert (spread_across(strand).count, spread_across(strand).mean_mm) == (2, 8.0)
    assert (strand.count, strand.counts) == (2, (2, 2))


def test_unmeasured_beads_are_left_out() -> None:
    spread = spread_along(make_strand([6.0, math.nan, 6.2]))
    assert spread.count == 2
    assert spread.mean_mm == pytest.approx(6.1, abs=MM)


def test_nothing_measured_has_no_mean() -> None:
    spread = spread_along(make_strand([math.nan, math.nan]))
    assert spread.count == 0
    assert math.isnan(spread.mean_mm)
    assert math.isnan(spread.mean_u95_mm)


def test_single_bead_has_its_own_uncertainty_and_no_spread() -> None:
    spread = spread_along(make_strand([6.0]))
    assert spread.mean_u95_mm == pytest.approx(0.08, abs=MM)
    assert spread.sd_mm == 0


def test_uncertainty_of_the_scale_does_not_average_out() -> None:
    # JCGM 100:2008, 5.2.2: an error common to all readings stays whole in their mean.
    many = spread_along(make_strand([6.0] * 10_000))
    shared_u95_mm = 2 * CONDITIONS.scale_rel_u * 6.0
    own_u95_mm = math.sqrt(0.08**2 - shared_u95_mm**2)
    # Half of the variance of a bead's own error is common to all beads (assumed, no source).
    expected_mm = math.hypot(shared_u95_mm, own_u95_mm * math.sqrt(0.5))
    assert many.mean_u95_mm == pytest.approx(expected_mm, rel=1e-4)


def test_stated_uncertainty_of_a_mean_covers_its_scatter_where_one_bead_is_seen_poorly() -> None:
    # Beads measured with exactly the errors assumed: a common scale, a common edge, an own edge.
    rng = np.random.default_rng(5)
    own_u_mm, trials = np.array([0.05] * 9 + [0.5]), 20_000
    scale_u_mm = CONDITIONS.scale_rel_u * 8.0
    strand = make_strand([8.0] * 10)
    beads = tuple(
        replace(bead, along_u95_mm=2 * math.hypot(u_mm, scale_u_mm))
        for bead, u_mm in zip(strand.beads, own_u_mm, strict=True)
    )
    common = rng.normal(0, math.sqrt(COMMON_EDGE_SHARE), (trials, 1))
    apart = rng.normal(0, math.sqrt(1 - COMMON_EDGE_SHARE), (trials, 10))
    scale_mm = rng.normal(0, scale_u_mm, (trials, 1))
    errors_mm = (scale_mm + own_u_mm * (common + apart)).mean(axis=1)
    stated_mm = spread_along(replace(strand, beads=beads)).mean_u95_mm
    assert stated_mm / 2 == pytest.approx(errors_mm.std(), rel=OF_TRIALS)


def test_uncertainty_of_the_mean_falls_with_the_number_of_beads() -> None:
    u95s_mm = [spread_along(make_strand([6.0] * n)).mean_u95_mm for n in (1, 2, 5, 20, 100)]
    assert (np.diff(u95s_mm) < 0).all()
