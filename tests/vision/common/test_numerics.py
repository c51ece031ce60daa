"""Robust standard deviations against another library and the normal distribution."""

from statistics import NormalDist

import numpy as np
import pytest
from scipy.stats import median_abs_deviation

from vision.common.numerics import robust_sd, robust_sds

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
