"""The axis between the sides of a strand, on strings whose course is known in closed form."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from tests.helpers.handmade import bare_sides
from vision.common.numerics import evenly, travel
from vision.common.records import FloatArray
from vision.strand.axis import STEP_MM, Axis, smooth_axis
from vision.strand.sides import Sides, recentred

ON_COURSE = 0.05
"""Of a bead's width: a wave of eight beads is kept to two hundredths of its height."""
AT_END_MM = 0.6
"""A natural spline ends straight, so an arc's end lies a little off it."""
LOST_MM = 2.0


def along(points: FloatArray) -> Axis:
    """Return the axis that keeps to points, (N, 2)."""
    dense = evenly(points, round(travel(points)[-1] / STEP_MM) + 1)
    return smooth_axis(dense, wavelength_mm=1.0, straight_within_mm=0.1)


def sides(width_mm: FloatArray) -> Sides:
    return bare_sides(-width_mm / 2, width_mm / 2)


@pytest.mark.parametrize("bead_mm", [2.0, 4.0, 10.0, 16.0])
def test_a_string_that_waves_over_eight_beads_is_followed_whatever_their_size(bead_mm: float) -> None:
    x = np.linspace(0, 24, 800)
    course = along(bead_mm * np.column_stack([x, np.sin(2 * np.pi * x / 8)]))
    steps = np.arange(len(course.points_mm)) * STEP_MM
    width = bead_mm * np.sqrt(np.maximum(1 - (2 * (steps / bead_mm % 1) - 1) ** 2, 0))
    moved, half = recentred(course, sides(width), held_mm=(0.0, course.length_mm))
    assert half == pytest.approx(bead_mm / 2, rel=0.02)
    off = cKDTree(moved.points_mm).query(course.points_mm)[0]
    assert off.max() < ON_COURSE * bead_mm


def test_an_axis_reaches_the_narrow_ends_of_a_graduated_strand_where_beads_are_held_to_lie() -> None:
    turn = np.linspace(-1.2, 1.2, 800)
    course = along(60.0 * np.column_stack([np.sin(turn), 1 - np.cos(turn)]))
    steps = np.arange(len(course.points_mm)) * STEP_MM
    width = 12.0 - 9.0 * np.abs(2 * steps / course.length_mm - 1)  # 3 mm at the ends, and 12 in the middle
    known, unknown = (
        recentred(course, sides(width), held_mm=held)[0] for held in ((0.0, course.length_mm), (1.0, 0.0))
    )
    ends = course.points_mm[[0, -1]]
    assert cKDTree(known.points_mm).query(ends)[0].max() < AT_END_MM
    assert cKDTree(unknown.points_mm).query(ends)[0].min() > LOST_MM


def test_what_is_narrow_beside_wide_beads_does_not_bend_a_rod() -> None:
    course = along(np.column_stack([np.linspace(0, 90, 400), np.zeros(400)]))
    assert course.straight
    width = np.full(len(course.points_mm), 8.0)
    shown = sides(width)
    shown.left_mm[-60:], shown.right_mm[-60:] = 1.0, 3.0  # a stopper that its shadow draws aside
    moved, _ = recentred(course, shown, held_mm=(0.0, course.length_mm))
    assert moved.straight
    assert moved.points_mm[:, 1] == pytest.approx(np.zeros(len(moved.points_mm)), abs=1e-6)


@pytest.mark.parametrize("steps", [0, 1, 3])
def test_where_no_more_than_a_point_shows_two_sides_the_axis_stays(steps: int) -> None:
    course = along(np.column_stack([np.linspace(0, 90, 400), np.zeros(400)]))
    width = np.zeros(len(course.points_mm))
    width[300 : 300 + steps] = 8.0
    moved, half = recentred(course, sides(width), held_mm=(0.0, 90.0))
    assert half == 0.0
    assert moved.points_mm == pytest.approx(course.points_mm)
