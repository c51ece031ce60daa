"""The uncertainty budget against JCGM 100:2008 and closed forms of perspective."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from vision.common.numerics import COVERAGE_FACTOR, expanded

ROUNDING = 1e-9
LINEAR = 1e-4
"""The law of propagation is linear (JCGM 100:2008, 5.1.2): uncertainties of a millionth lose little by it."""
SMALL = 1e-6
HEIGHT_MM, BEAD_MM = 300.0, 4.0
ABOVE_BEAD_MM = HEIGHT_MM - BEAD_MM
ASIDE_MM = 100.0


def test_contributions_add_as_squares_and_expand_by_two() -> None:
    assert expanded(0.03, 0.04) == pytest.approx(2 * 0.05, rel=ROUNDING)
    assert expanded(np.array([0.03, 0.12]), 0.05, np.array([0.04, 0.0])) == pytest.approx(
        [2 * math.sqrt(0.0050), 2 * 0.13], rel=ROUNDING
    )


def test_one_contribution_alone_is_only_expanded() -> None:
    # JCGM 100:2008, 6.3.3: k = 2 for an interval of about 95 %
    assert COVERAGE_FACTOR == 2.0
    assert expanded(np.array([0.1, 0.0])).tolist() == [0.2, 0.0]


def test_end_gauge_of_the_guide() -> None:
    """JCGM 100:2008, H.1: 25, 9.7, 2.9 and 16.6 nm combine to 32 nm, from the input of table H.1."""
    length_nm = 50.000623e6
    comparison = math.sqrt(5.8**2 + 3.9**2 + 6.7**2)
    expansion = 1e-6 / math.sqrt(3) * 0.1 * length_nm  # rectangular, over 0.1 degree from 20 degrees
    temperature = 0.05 / math.sqrt(3) * 11.5e-6 * length_nm
    assert [round(u, 1) for u in (comparison, expansion, temperature)] == [9.7, 2.9, 16.6]
    combined = float(expanded(25.0, comparison, expansion, temperature)) / 2
    assert combined == pytest.approx(math.sqrt(1002), abs=0.1)  # the guide's u^2 = 1002 nm^2
    assert round(combined) == 32


def test_voltmeter_of_the_guide() -> None:
    """JCGM 100:2008, 5.1.5: 12 uV of repetition and a half width of 15 uV make u^2 = 219 uV^2, u = 15 uV."""
    combined = float(expanded(12.0, 15.0 / math.sqrt(3))) / 2
    assert combined**2 == pytest.approx(219.0, abs=0.5)
    assert round(combined) == 15


def rel_u(uncertain: dict[int, float], *, aside_mm: float = 0.0) -> float:
    """Relative uncertainty of a length where some parameters of a level camera above the origin have one."""
    camera = camera_at(0.0, 0.0, HEIGHT_MM)
    covariance = np.zeros((12, 12))
    for place, u in uncertain.items():
        covariance[place, place] = u * u
    point = np.array([aside_mm, 0.0, BEAD_MM])
    return float(replace(camera, covariance=covariance).rel_u(point))


def test_focal_length_alone_is_uncertain_as_every_length_is() -> None:
    assert rel_u({6: SMALL}) == pytest.approx(SMALL, rel=LINEAR)


def test_distance_alone_counts_over_the_distance() -> None:
    assert rel_u({5: ABOVE_BEAD_MM * SMALL}) == pytest.approx(SMALL, rel=LINEAR)


def test_two_uncertain_parameters_add_as_squares() -> None:
    both = rel_u({5: 3 * ABOVE_BEAD_MM * SMALL, 6: 4 * SMALL})
    assert both == pytest.approx(5 * SMALL, rel=LINEAR)


def test_tilt_counts_away_from_the_point_below_the_camera_only() -> None:
    """Tilted by u at an angle a, lengths grow by 2 u tan a along the tilt and by half of that across."""
    tangent = ASIDE_MM / ABOVE_BEAD_MM
    assert rel_u({1: SMALL}, aside_mm=ASIDE_MM) == pytest.approx(2 * tangent * SMALL, rel=LINEAR)
    assert rel_u({1: SMALL}) == pytest.approx(0.0, abs=1e-3 * SMALL)


def test_distortion_counts_with_the_square_of_the_radius() -> None:
    """To first order, x_d = x (1 + k1 r^2) stretches by 3 k1 r^2 along the radius and by k1 r^2 across."""
    radius = ASIDE_MM / ABOVE_BEAD_MM
    assert rel_u({7: SMALL}, aside_mm=ASIDE_MM) == pytest.approx(3 * radius**2 * SMALL, rel=1e-3)


def test_a_stretch_counts_half_in_either_direction() -> None:
    assert rel_u({11: SMALL}) == pytest.approx(SMALL / 2, rel=LINEAR)


def test_shift_alone_costs_nothing_and_an_exact_camera_is_certain() -> None:
    assert rel_u({3: 1.0, 4: 1.0}) == pytest.approx(0.0, abs=1e-6)
    assert rel_u({}) == pytest.approx(0.0, abs=1e-12)


def test_points_at_once_are_as_uncertain_as_one_by_one() -> None:
    covariance = np.diag((np.arange(12) + 1.0) ** 2) * 1e-8
    camera = replace(camera_at(0.0, 0.0, HEIGHT_MM), covariance=covariance)
    points = np.array([[[0.0, 0.0, BEAD_MM], [ASIDE_MM, 5.0, 0.0], [-20.0, ASIDE_MM, 2 * BEAD_MM]]])
    alone = [float(camera.rel_u(point)) for point in points[0]]
    assert camera.rel_u(points) == pytest.approx(np.array([alone]), rel=1e-9)
    assert len(set(alone)) == 3
