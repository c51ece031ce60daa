"""Evidence for assumed bodies, against closed forms for sizes made by hand."""

import math

import numpy as np
import pytest

from vision.common.records import FloatArray
from vision.lot.body_shape import aspect_evidence, aspect_scatter, radial_evidence
from vision.lot.feret import DIRECTIONS

SD_OF_MAD = 1.4826
"""1 / Phi^-1(3/4), any table of the normal distribution."""
MEAN_MM = 8.0
RADIAL = np.array([10, 100, 200, 300, 359])


def stretched(along: FloatArray, askew: FloatArray) -> FloatArray:
    """Return sizes longer by these shares in the radial direction, and at 45 degrees to it."""
    turn = (np.arange(DIRECTIONS) - RADIAL[:, None]) * np.pi / DIRECTIONS
    return MEAN_MM * (1 + along[:, None] / 2 * np.cos(2 * turn) + askew[:, None] / 2 * np.sin(2 * turn))


def test_sizes_that_are_the_same_all_round_are_most_likely() -> None:
    assert radial_evidence(stretched(np.zeros(5), np.zeros(5)), RADIAL) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("askew", [0.0, 0.01])
def test_a_stretch_away_from_the_camera_counts_over_that_at_45_degrees(askew: float) -> None:
    along = np.array([0.004, -0.008, 0.012, 0.0, 0.016])
    scatter2 = 0.006**2 + (SD_OF_MAD * askew) ** 2
    expected = -0.25 * np.sum(along**2) / scatter2
    assert radial_evidence(stretched(along, np.full(5, askew)), RADIAL) == pytest.approx(expected, rel=1e-4)


def test_a_bead_that_is_far_off_counts_no_more_than_one_three_and_a_half_deviations_off() -> None:
    along = np.array([0.5, 0.0, 0.0, 0.0, 0.012])
    expected = -0.25 * (12.0 + 4.0)
    assert radial_evidence(stretched(along, np.zeros(5)), RADIAL) == pytest.approx(expected)


def ovals(log_aspects: FloatArray) -> FloatArray:
    """Return sizes of ellipses whose lengths over widths have these logarithms."""
    turn = np.arange(DIRECTIONS) * np.pi / DIRECTIONS
    long = MEAN_MM * np.exp(log_aspects)[:, None]
    return np.hypot(long * np.cos(turn), MEAN_MM * np.sin(turn))


@pytest.mark.parametrize("count", [5, 10])
def test_the_less_aspects_scatter_the_likelier_is_a_body(count: int) -> None:
    aspects = 0.2 + 0.01 * (np.arange(count) % 5 - 2.0)
    variance = 0.012**2 + 0.01**2 * 2.0  # of -2, -1, 0, 1, 2: mean square 2
    assert aspect_evidence(ovals(aspects)) == pytest.approx(-0.1 * count * math.log(variance))


def test_an_aspect_that_is_far_off_counts_no_more_than_two_and_a_half_deviations() -> None:
    aspects = 0.4 + np.array([-0.02, -0.01, 0.0, 0.01, 0.3])
    farthest = 2.5 * SD_OF_MAD * 0.01
    variance = 0.012**2 + (0.02**2 + 0.01**2 + 0.01**2 + farthest**2) / 5
    assert aspect_evidence(ovals(aspects)) == pytest.approx(-0.1 * 5 * math.log(variance), rel=1e-4)


@pytest.mark.parametrize(
    ("step", "scatter"), [(0.01, 0.0), (0.05, math.sqrt((SD_OF_MAD * 0.05) ** 2 - 0.0004))]
)
def test_scatter_of_aspects_is_what_one_kind_does_not_have(step: float, scatter: float) -> None:
    aspects = 0.3 + step * (np.arange(5) - 2.0)
    assert aspect_scatter(ovals(aspects)) == pytest.approx(scatter, rel=1e-3)
