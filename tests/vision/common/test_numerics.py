"""Robust deviations against another library and the normal distribution; two estimates of one thing."""

from statistics import NormalDist

import numpy as np
import pytest
from scipy.stats import median_abs_deviation

from vision.common.numerics import mixed, robust_sd, robust_sds

FOUR_DIGITS = 1e-4
PER_MAD = 1 / NormalDist().inv_cdf(0.75)
VALUES = np.random.default_rng(5).normal(3.0, 2.0, (4, 31))


@pytest.mark.parametrize("values", [VALUES, VALUES[0], VALUES[1, :8]])
def test_it_agrees_with_a_reference_library(values: np.ndarray) -> None:
    assert robust_sd(values) == pytest.approx(
        median_abs_deviation(values, axis=None, scale="normal"), rel=FOUR_DIGITS
    )


def test_it_deviates_from_what_is_given() -> None:
    assert robust_sd(np.array([4.0, 5.0, 8.0]), about=3.0) == pytest.approx(2 * PER_MAD, rel=FOUR_DIGITS)
    assert robust_sd(np.array([4.0, 5.0, 8.0])) == pytest.approx(PER_MAD, rel=FOUR_DIGITS)
    assert robust_sd(np.array([4.0, 5.0, 8.0]), about=0.0) == pytest.approx(5 * PER_MAD, rel=FOUR_DIGITS)


def test_half_of_the_values_may_be_wild() -> None:
    values = np.concatenate([np.linspace(-1, 1, 11), np.full(10, 1e6)])
    assert robust_sd(values) < 2 * PER_MAD


def test_several_are_taken_about_zero_along_the_last_axis_and_without_nan() -> None:
    deviations = np.array([[1.0, -2.0, np.nan, 3.0], [-8.0, 8.0, 8.0, 100.0]])
    assert robust_sds(deviations) == pytest.approx([2 * PER_MAD, 8 * PER_MAD], rel=FOUR_DIGITS)
    assert robust_sds(VALUES) == pytest.approx([robust_sd(row, about=0.0) for row in VALUES])


def both_of(*given: float) -> tuple[float, float]:
    """Return what two estimates, each with its uncertainty, say together."""
    mean, u = mixed(*(np.array([value]) for value in given))
    return float(mean[0]), float(u[0])


def test_two_estimates_are_weighted_by_their_variances() -> None:
    """The weighted mean of a textbook: weights are inverse variances (e.g. JCGM 100, H.5; Birge 1932)."""
    mean, _ = both_of(8.0, 0.1, 8.3, 0.2)
    assert mean == pytest.approx((8.0 / 0.01 + 8.3 / 0.04) / (1 / 0.01 + 1 / 0.04))


@pytest.mark.parametrize("off", [0.0, 0.3, 1.0])
def test_the_uncertainty_is_the_spread_of_both_together(off: float) -> None:
    rng = np.random.default_rng(3)
    one, other, u, v = 8.0, 8.0 + off, 0.1, 0.15
    share = u**2 / (u**2 + v**2)
    drawn = np.where(rng.random(200_000) < share, rng.normal(other, v, 200_000), rng.normal(one, u, 200_000))
    mean, spread = both_of(one, u, other, v)
    assert mean == pytest.approx(drawn.mean(), abs=0.005)
    assert spread == pytest.approx(drawn.std(), rel=0.02)


def test_where_one_is_plainly_wrong_the_claim_reaches_the_other() -> None:
    mean, u = both_of(8.0, 0.1, 9.0, 0.1)
    assert abs(8.0 - mean) < 2 * u
    assert abs(9.0 - mean) < 2 * u
