"""The course of a string: smoothed curves against circles and lines."""

import math

import numpy as np
import pytest

from vision.strand.axis import STEP_MM, Axis, smooth_axis

NOISE_MM = 0.15
ON_CURVE_MM = 0.25


def arc(radius: float, degrees: float, *, noise: float = 0.0) -> np.ndarray:
    """Points a millimetre apart on an arc about (100, 0), from its left end to its right, y down."""
    angle = np.radians(np.linspace(90 + degrees / 2, 90 - degrees / 2, round(radius * math.radians(degrees))))
    points = np.column_stack([100 + radius * np.cos(angle), radius * np.sin(angle)])
    return points + np.random.default_rng(1).normal(0, noise, points.shape)


def smooth(points: np.ndarray, **options: float) -> Axis:
    return smooth_axis(points, **{"wavelength_mm": 25.0, "straight_within_mm": 1.0, **options})


def test_arc_keeps_its_radius_and_length() -> None:
    radius, degrees = 60.0, 120.0
    axis = smooth(arc(radius, degrees, noise=NOISE_MM))
    assert not axis.straight
    away = np.linalg.norm(axis.points_mm - [100.0, 0.0], axis=1)
    assert np.abs(away - radius).max() < ON_CURVE_MM
    assert len(axis.points_mm) * STEP_MM == pytest.approx(radius * math.radians(degrees), abs=0.5)


def test_steps_are_even_and_tangents_square_to_normals() -> None:
    axis = smooth(arc(60.0, 120.0, noise=NOISE_MM))
    steps = np.linalg.norm(np.diff(axis.points_mm, axis=0), axis=1)
    assert steps == pytest.approx(np.full_like(steps, STEP_MM), rel=0.01)
    assert np.linalg.norm(axis.directions, axis=1) == pytest.approx(np.ones(len(steps) + 1))
    assert np.sum(axis.directions * axis.normals, axis=1) == pytest.approx(np.zeros(len(steps) + 1))


def test_normals_point_to_the_right_of_the_way() -> None:
    rightwards = smooth(np.linspace((0.0, 20.0), (50.0, 20.5), 50))
    assert rightwards.normals[0] == pytest.approx([-0.01, 1.0], abs=1e-3)  # y runs down


@pytest.mark.parametrize(
    ("start", "end"),
    [((10.0, 40.0), (90.0, 60.0)), ((90.0, 60.0), (10.0, 40.0)), ((30.0, 5.0), (24.0, 95.0))],
)
def test_runs_from_left_or_from_above_where_upright(
    start: tuple[float, float], end: tuple[float, float]
) -> None:
    axis = smooth(np.linspace(start, end, 80))
    first, last = axis.points_mm[0], axis.points_mm[-1]
    along = last - first
    assert along[0] > 0 or (along[1] > 0 and abs(along[1]) > 4 * abs(along[0]))


def test_straight_course_becomes_a_line_through_noise() -> None:
    true = np.array([0.96, 0.28])
    points = np.array([20.0, 30.0]) + np.arange(0, 80.0)[:, None] * true
    axis = smooth(points + np.random.default_rng(2).normal(0, 0.2, points.shape))
    assert axis.straight
    assert axis.directions @ true == pytest.approx(np.ones(len(axis.directions)), abs=1e-5)


def test_outliers_do_not_turn_a_rod() -> None:
    points = np.column_stack([np.arange(0, 80.0), np.full(80, 30.0)])
    points[20:24, 1] += 3.0
    axis = smooth(points)
    assert axis.straight
    assert np.abs(axis.points_mm[:, 1] - 30.0).max() < ON_CURVE_MM


def test_sagging_course_is_no_rod() -> None:
    # sagitta of the arc: 400 (1 - cos 7 deg) = 3.0 mm
    assert not smooth(arc(400.0, 14.0)).straight


def test_ends_go_on_straight() -> None:
    points = arc(60.0, 100.0)
    plain, extended = smooth(points), smooth(points, extend_mm=8.0)
    n = round(8.0 / STEP_MM)
    assert len(extended.points_mm) == len(plain.points_mm) + 2 * n
    ends = extended.points_mm[:n], extended.points_mm[-n:]
    for end in ends:
        turns = np.diff(end, axis=0) / STEP_MM
        assert turns == pytest.approx(np.broadcast_to(turns[0], turns.shape), abs=1e-6)


def test_strip_coordinates_lie_aside_of_the_curve() -> None:
    axis = smooth(arc(60.0, 120.0))
    inner, outer = (
        np.linalg.norm(axis.at(np.array([30.0, 60.0]), np.array(aside)) - [100.0, 0.0], axis=1)
        for aside in ([3.0, 3.0], [-3.0, -3.0])
    )
    assert np.abs(outer - inner) == pytest.approx([6.0, 6.0], abs=0.02)
    assert axis.direction_at(0.0) == pytest.approx(axis.directions[0])
    assert axis.direction_at(1e6) == pytest.approx(axis.directions[-1])


def test_a_course_whose_end_leaves_the_line_is_a_wires() -> None:
    x = np.linspace(0.0, 150.0, 300)
    rod = np.column_stack([x, np.zeros(300)])
    assert smooth(rod).straight
    hooked = np.column_stack([x, np.clip(x - 142.0, 0, None) * 0.7])
    assert not smooth(hooked).straight


def test_an_axis_goes_straight_on_at_both_ends() -> None:
    axis = smooth(arc(60.0, 90.0))
    longer = axis.extended(12.0)
    more = round(12.0 / STEP_MM)
    assert longer.points_mm[more:-more] == pytest.approx(axis.points_mm)
    assert len(longer.points_mm) == len(axis.points_mm) + 2 * more
    steps = np.linalg.norm(np.diff(longer.points_mm, axis=0), axis=1)
    assert steps == pytest.approx(np.full_like(steps, STEP_MM), rel=0.01)
    assert longer.directions[0] == pytest.approx(axis.directions[0], abs=0.01)
    assert longer.directions[-1] == pytest.approx(axis.directions[-1], abs=0.01)
    assert longer.straight == axis.straight


def test_a_few_points_are_joined_by_straight_lines() -> None:
    corner = np.array([[0.0, 0.0], [6.0, 1.0], [12.0, 6.0]])
    axis = smooth(corner)
    assert not axis.straight
    assert axis.points_mm[[0, -1]] == pytest.approx(corner[[0, -1]])
    steps = np.linalg.norm(np.diff(axis.points_mm, axis=0), axis=1)
    assert steps == pytest.approx(np.full_like(steps, STEP_MM), rel=0.02)
