"""Sizes across against closed forms: Dandelin 1822, tangency itself, and the scatter of misplaced rims."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.helpers.ellipsoid import ellipsoid_outline
from vision.strand.width import Sizes, combined, radii, rim_noise, section_angles

SIZES = st.floats(2.0, 20.0)
HEIGHTS = st.floats(150.0, 600.0)
FEET = st.floats(-150.0, 150.0)
ROUNDING_MM = 1e-9
FACTS_DIGITS_MM = 6e-4

BEADS, WIDTH_MM, RIM_MM = 20_000, 8.0, 0.05
NOISE_TOLERANCE = 0.15


@pytest.fixture
def rng() -> np.random.Generator:
    """Return a generator of the test's own: what a test draws depends on no other test."""
    return np.random.default_rng(3)


def rims(rng: np.random.Generator, off: float) -> tuple[np.ndarray, np.ndarray]:
    """Return widths and middles of beads alike whose two rims are off by so much each."""
    left, right = rng.normal(0, off, (2, BEADS))
    return WIDTH_MM + right - left, (left + right) / 2


def test_middles_tell_how_far_rims_are_off(rng: np.random.Generator) -> None:
    """Two rims of standard deviation s each: the width's is s times the root of two."""
    width, middle = rims(rng, RIM_MM)
    noise = rim_noise(width, middle, alike=False)
    assert noise == pytest.approx(np.sqrt(2) * RIM_MM, rel=NOISE_TOLERANCE)


def test_beads_of_a_kind_that_read_unlike_are_doubted_more(rng: np.random.Generator) -> None:
    width, middle = rims(rng, 0.01)
    turned = width + rng.normal(0, 0.4, BEADS)
    alike, several = (rim_noise(turned, middle, alike=kind)[0] for kind in (True, False))
    assert several < 0.05
    assert alike == pytest.approx(0.2, rel=NOISE_TOLERANCE)


def test_of_few_beads_nothing_can_be_told_from_their_scatter() -> None:
    few = np.full(5, WIDTH_MM)
    assert rim_noise(few, np.zeros(5), alike=True) == pytest.approx(0.02 * WIDTH_MM)


def size(mm: float, u_mm: float) -> Sizes:
    return Sizes(mm=np.array([mm]), u_mm=np.array([u_mm]))


def test_two_findings_are_weighed_as_their_doubts_say() -> None:
    """The weighted mean of a textbook: weights are inverse variances (e.g. JCGM 100, H.5; Birge 1932)."""
    both = combined(size(8.0, 0.1), size(8.3, 0.2))
    assert both.mm == pytest.approx((8.0 / 0.01 + 8.3 / 0.04) / (1 / 0.01 + 1 / 0.04))


@pytest.mark.parametrize("off", [0.0, 0.3, 1.0])
def test_the_doubt_is_the_spread_of_both_together(rng: np.random.Generator, off: float) -> None:
    one, other, u, v = 8.0, 8.0 + off, 0.1, 0.15
    both = combined(size(one, u), size(other, v))
    share = u**2 / (u**2 + v**2)
    drawn = np.where(rng.random(200_000) < share, rng.normal(other, v, 200_000), rng.normal(one, u, 200_000))
    assert both.mm == pytest.approx(drawn.mean(), abs=0.005)
    assert both.u_mm == pytest.approx(drawn.std(), rel=0.02)


def test_where_one_is_plainly_wrong_the_claim_reaches_the_other() -> None:
    both = combined(size(8.0, 0.1), size(9.0, 0.1))
    assert abs(8.0 - both.mm) < 2 * both.u_mm
    assert abs(9.0 - both.mm) < 2 * both.u_mm


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
    radius = radii(np.array([left, right]), camera_above_mm=height)
    assert 2 * radius == pytest.approx(d, abs=ROUNDING_MM)


@given(d=SIZES, height=HEIGHTS, foot=FEET)
def test_resting_round_is_sized_wherever_it_lies(d: float, height: float, foot: float) -> None:
    left, right = tangents(d, (foot, d / 2), height)
    radius = radii(np.array([left, right]), camera_above_mm=height)
    assert 2 * radius == pytest.approx(d, abs=ROUNDING_MM)


@given(d=SIZES, height=HEIGHTS, foot=FEET, lift=st.floats(0.0, 10.0))
def test_round_on_a_rod_is_sized_at_its_height(d: float, height: float, foot: float, lift: float) -> None:
    z = d / 2 + lift
    left, right = tangents(d, (foot, z), height)
    radius = radii(np.array([left, right]), camera_above_mm=height, centre_above_mm=z)
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
