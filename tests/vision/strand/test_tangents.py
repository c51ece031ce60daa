"""The outline of a solid against closed forms: Dandelin 1822, and tangency itself."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.helpers.ellipsoid import ellipsoid_outline
from vision.strand.tangents import radius_from_tangents, section_angles

SIZES = st.floats(2.0, 20.0)
HEIGHTS = st.floats(150.0, 600.0)
FEET = st.floats(-150.0, 150.0)
ROUNDING_MM = 1e-9
FACTS_DIGITS_MM = 6e-4


def tangents(d: float, centre: tuple[float, float], height: float) -> tuple[float, float]:
    """Angles from the vertical of the two rays that touch a circle, the camera at (0, height)."""
    x, z = centre
    away, middle = math.hypot(x, height - z), math.atan2(x, height - z)
    half = math.asin(d / 2 / away)
    return middle - half, middle + half


@pytest.mark.parametrize(
    ("d", "height", "reads"),
    [(8.0, 300.0, 8.109), (10.0, 300.0, 10.171)],  # d sqrt(H / (H - d))
)
def test_uncorrected_size_reads_too_large_and_is_put_right(d: float, height: float, reads: float) -> None:
    left, right = tangents(d, (0.0, d / 2), height)
    assert height * (math.tan(right) - math.tan(left)) == pytest.approx(reads, abs=FACTS_DIGITS_MM)
    radius = radius_from_tangents(
        np.array([left]), np.array([right]), camera_above_mm=height, centre_above_mm=None
    )
    assert 2 * radius == pytest.approx(d, abs=ROUNDING_MM)


@given(d=SIZES, height=HEIGHTS, foot=FEET)
def test_resting_round_is_sized_wherever_it_lies(d: float, height: float, foot: float) -> None:
    left, right = tangents(d, (foot, d / 2), height)
    radius = radius_from_tangents(
        np.array([left]), np.array([right]), camera_above_mm=height, centre_above_mm=None
    )
    assert 2 * radius == pytest.approx(d, abs=ROUNDING_MM)


@given(d=SIZES, height=HEIGHTS, foot=FEET, lift=st.floats(0.0, 10.0))
def test_round_on_a_rod_is_sized_at_its_height(d: float, height: float, foot: float, lift: float) -> None:
    z = d / 2 + lift
    left, right = tangents(d, (foot, z), height)
    radius = radius_from_tangents(
        np.array([left]), np.array([right]), camera_above_mm=height, centre_above_mm=z
    )
    assert 2 * radius == pytest.approx(d, abs=ROUNDING_MM)


def on_sheet(points: np.ndarray, camera: np.ndarray) -> np.ndarray:
    """Where the rays from the camera through world points meet the sheet, (x, y)."""
    share = camera[2] / (camera[2] - points[:, 2:])
    return camera[:2] + (points[:, :2] - camera[:2]) * share


def sphere_outline(d: float, foot: float, height: float) -> np.ndarray:
    camera = np.array([0.0, 0.0, height])
    centre = np.array([foot, 0.0, d / 2])
    return on_sheet(ellipsoid_outline(centre, d / 2 * np.eye(3), camera, points=360), camera)


def test_sphere_aside_reads_the_published_ellipse() -> None:
    # d 10, H 300, X 100: long 10.740, short 10.171
    _, axes, _ = cv2.fitEllipseDirect(sphere_outline(10.0, 100.0, 300.0).astype(np.float32))
    assert sorted(axes) == pytest.approx([10.171, 10.740], abs=2e-3)


@given(d=SIZES, height=HEIGHTS, foot=st.floats(0.0, 150.0))
def test_contact_point_is_the_focus_nearer_the_cameras_foot(d: float, height: float, foot: float) -> None:
    # Dandelin: distances of every outline point from both foci add up to the long axis
    short = d * math.sqrt(height / (height - d))
    long = short * math.sqrt(1 + foot**2 / (height * (height - d)))
    apart = math.sqrt(max(0.0, long**2 - short**2))
    foci = np.array([[foot, 0.0], [foot + apart, 0.0]])
    outline = sphere_outline(d, foot, height)
    sums = sum(np.linalg.norm(outline - focus, axis=1) for focus in foci)
    assert sums == pytest.approx(np.full(360, long), abs=1e-6)


@given(axes=st.tuples(SIZES, SIZES, SIZES), height=HEIGHTS, foot=FEET)
def test_rays_to_an_ellipsoids_outline_touch_it(
    axes: tuple[float, float, float], height: float, foot: float
) -> None:
    turn = cv2.Rodrigues(np.array([0.3, -0.4, 0.9]))[0]
    frame = np.diag(np.array(axes) / 2) @ turn
    centre, camera = np.array([5.0, -3.0, max(axes) / 2]), np.array([foot, 20.0, height])
    points = ellipsoid_outline(centre, frame, camera)
    shape = np.linalg.inv(frame.T @ frame)
    offset = points - centre
    assert np.einsum("ij,jk,ik->i", offset, shape, offset) == pytest.approx(np.ones(64), abs=1e-9)
    # the surface's normal there is square to the ray
    normal = offset @ shape
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    ray = (points - camera) / np.linalg.norm(points - camera, axis=1, keepdims=True)
    assert np.einsum("ij,ij->i", normal, ray) == pytest.approx(np.zeros(64), abs=1e-9)


@pytest.mark.parametrize(
    ("direction", "ray", "degrees"),
    [
        ((1.0, 0.0), (0.0, 1.0, -1.0), 45.0),  # y runs down: to the right of a string that runs right
        ((1.0, 0.0), (7.0, 1.0, -1.0), 45.0),  # how far along does not matter
        ((0.0, 1.0), (1.0, 0.0, -1.0), -45.0),
        ((0.6, 0.8), (-0.8, 0.6, -math.sqrt(3)), 30.0),
    ],
)
def test_angle_in_the_section_square_to_the_string(
    direction: tuple[float, float], ray: tuple[float, float, float], degrees: float
) -> None:
    angle = section_angles(np.array([ray]), np.array(direction))
    assert np.degrees(angle) == pytest.approx([degrees], abs=1e-9)
