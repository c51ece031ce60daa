"""Caliper sizes from tangent planes, against closed forms and solids given by their points."""

import numpy as np
import pytest

from tests.vision.lot.sections import ball, turned
from vision.lot.feret import DIRECTIONS, directions, smallest

EXACT_MM = 0.003
"""What 360 directions and polygons of 1440 points leave."""


def test_uncorrected_ball_reads_as_dandelins_ellipse() -> None:
    # Dandelin 1822, closed form in the project's facts: d 10, H 300, X 100 reads long 10.740, short 10.171
    section = ball(10.0, 100.0)
    widths = section.high - section.low
    assert widths[0] == pytest.approx(10.740, abs=EXACT_MM)
    assert widths[DIRECTIONS // 2] == pytest.approx(10.171, abs=EXACT_MM)


def test_ball_below_the_camera_reads_large_uncorrected() -> None:
    # facts: d 8, H 300 reads 8.109
    section = ball(8.0, 0.0)
    assert (section.high - section.low).max() == pytest.approx(8.109, abs=EXACT_MM)


@pytest.mark.parametrize("x", [0.0, 60.0, 130.0])
def test_ellipsoid_section_gives_a_balls_diameter_in_every_direction(x: float) -> None:
    widths = ball(8.0, x, 20.0).widths(4.0)
    assert widths == pytest.approx(8.0, abs=EXACT_MM)


@pytest.mark.parametrize("angle", [0.0, 0.4, 1.1])
def test_upright_prism_gives_a_cubes_edge_and_diagonal(angle: float) -> None:
    corners = np.array([[x, y, h] for x in (-3, 3) for y in (-3, 3) for h in (0, 6)], dtype=float)
    widths = turned(corners, angle, 40.0).widths(3.0, round_share=0.0)
    # a sharp cube far out touches at different corners than a prism's section in skew directions
    assert widths.max() == pytest.approx(6 * np.sqrt(2), abs=0.02)
    assert smallest(widths) == pytest.approx(6.0, abs=0.02)


def test_smallest_size_is_found_between_directions() -> None:
    # a 24 x 10 rectangle whose short side points a third of a step off the grid
    angle = np.pi / DIRECTIONS / 3
    along = directions() @ np.array([np.cos(angle), np.sin(angle)])
    across = directions() @ np.array([-np.sin(angle), np.cos(angle)])
    widths = 24 * np.abs(along) + 10 * np.abs(across)
    assert smallest(widths) == pytest.approx(10.0, abs=EXACT_MM)
