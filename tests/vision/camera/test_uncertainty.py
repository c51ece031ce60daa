"""The budget against JCGM 100:2008 and closed forms of perspective."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from vision.camera.uncertainty import CHECK_LENGTH_UNKNOWN_REL, camera_rel_u, expanded, scale_rel_u


def test_contributions_add_as_squares_and_expand_by_two() -> None:
    assert expanded(0.03, 0.04) == pytest.approx(2 * 0.05)
    assert expanded(np.array([0.03, 0.12]), 0.05, np.array([0.04, 0.0])) == pytest.approx(
        [2 * math.sqrt(0.0050), 2 * 0.13]
    )


def test_end_gauge_of_the_guide() -> None:
    # JCGM 100:2008, H.1, combines these to 32 nm (from memory; a root of a sum of squares is closed)
    assert round(float(expanded(25.0, 9.7, 2.9, 16.6)) / 2) == 32


def test_unchecked_printer_is_rectangular_within_one_per_cent() -> None:
    # JCGM 100:2008, 4.3.7: half width a, standard uncertainty a / sqrt 3
    assert scale_rel_u(None, 0.0) == CHECK_LENGTH_UNKNOWN_REL == pytest.approx(0.01 / math.sqrt(3))


def test_ruler_reading_is_taken_over_the_length_read() -> None:
    assert scale_rel_u(272.4, 0.05) == pytest.approx(0.05 / 272.4)


def doubtful(place: int, u: float) -> float:
    """Relative doubt of a length below a level camera 300 mm up, where one parameter alone is in doubt."""
    camera = camera_at(100.0, 80.0, 300.0)
    covariance = np.zeros((11, 11))
    covariance[place, place] = u * u
    return camera_rel_u(replace(camera, covariance=covariance), np.array([100.0, 80.0, 4.0]))


def test_doubt_of_focal_length_alone_is_that_of_every_length() -> None:
    assert doubtful(6, 0.003) == pytest.approx(0.003, rel=0.01)


def test_doubt_of_distance_alone_counts_over_the_distance() -> None:
    # at 4 mm above the sheet the camera is 296 mm away
    assert doubtful(5, 0.5) == pytest.approx(0.5 / 296, rel=0.01)


def test_shift_alone_costs_nothing_and_an_exact_camera_has_no_doubt() -> None:
    assert doubtful(3, 1.0) == pytest.approx(0.0, abs=1e-6)
    assert doubtful(0, 0.0) == 0.0
