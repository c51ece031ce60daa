"""Sizes across against closed forms: Dandelin 1822, tangency itself, and the scatter of misplaced rims."""

import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.helpers.cameras import camera_at
from tests.helpers.ellipsoid import ellipsoid_outline
from tests.helpers.handmade import straight_plane
from vision.strand.edges import Rims
from vision.strand.width import (
    on_one_rod,
    radii,
    rim_noise,
    rod_height,
    section_angles,
    tangent_angles,
)

SIZES = st.floats(2.0, 20.0)
HEIGHTS = st.floats(150.0, 600.0)
ASIDE = st.floats(-150.0, 150.0)
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


def test_beads_of_a_kind_that_read_unlike_are_less_certain(rng: np.random.Generator) -> None:
    width, middle = rims(rng, 0.01)
    turned = width + rng.normal(0, 0.4, BEADS)
    alike, several = (rim_noise(turned, middle, alike=kind)[0] for kind in (True, False))
    assert several < 0.05
    assert alike == pytest.approx(0.2, rel=NOISE_TOLERANCE)


def test_of_few_beads_nothing_can_be_told_from_their_scatter() -> None:
    few = np.full(5, WIDTH_MM)
    assert rim_noise(few, np.zeros(5), alike=True) == pytest.approx(0.02 * WIDTH_MM)


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


@settings(max_examples=25)
@given(d=SIZES, height=HEIGHTS, aside=ASIDE)
def test_resting_round_is_sized_wherever_it_lies(d: float, height: float, aside: float) -> None:
    left, right = tangents(d, (aside, d / 2), height)
    radius = radii(np.array([left, right]), camera_above_mm=height)
    assert 2 * radius == pytest.approx(d, abs=ROUNDING_MM)


@settings(max_examples=25)
@given(d=SIZES, height=HEIGHTS, aside=ASIDE, lift=st.floats(0.0, 10.0))
def test_round_on_a_rod_is_sized_at_its_height(d: float, height: float, aside: float, lift: float) -> None:
    z = d / 2 + lift
    left, right = tangents(d, (aside, z), height)
    radius = radii(np.array([left, right]), camera_above_mm=height, centre_above_mm=z)
    assert 2 * radius == pytest.approx(d, abs=ROUNDING_MM)


def on_sheet(points: np.ndarray, camera: np.ndarray) -> np.ndarray:
    """Where the rays from the camera through world points meet the sheet, (x, y)."""
    share = camera[2] / (camera[2] - points[:, 2:])
    return camera[:2] + (points[:, :2] - camera[:2]) * share


def sphere_outline(d: float, aside: float, height: float) -> np.ndarray:
    camera = np.array([0.0, 0.0, height])
    centre = np.array([aside, 0.0, d / 2])
    return on_sheet(ellipsoid_outline(centre, d / 2 * np.eye(3), camera, points=360), camera)


def test_sphere_aside_reads_the_published_ellipse() -> None:
    # d 10, H 300, X 100: long 10.740, short 10.171
    _, axes, _ = cv2.fitEllipseDirect(sphere_outline(10.0, 100.0, 300.0).astype(np.float32))
    assert sorted(axes) == pytest.approx([10.171, 10.740], abs=2e-3)


@settings(max_examples=25)
@given(d=SIZES, height=HEIGHTS, aside=st.floats(0.0, 150.0))
def test_contact_point_is_the_focus_nearer_the_point_below_the_camera(
    d: float, height: float, aside: float
) -> None:
    # Dandelin: distances of every outline point from both foci add up to the long axis
    short = d * math.sqrt(height / (height - d))
    long = short * math.sqrt(1 + aside**2 / (height * (height - d)))
    apart = math.sqrt(max(0.0, long**2 - short**2))
    foci = np.array([[aside, 0.0], [aside + apart, 0.0]])
    outline = sphere_outline(d, aside, height)
    sums = sum(np.linalg.norm(outline - focus, axis=1) for focus in foci)
    assert sums == pytest.approx(np.full(360, long), abs=1e-6)


@settings(max_examples=25)
@given(axes=st.tuples(SIZES, SIZES, SIZES), height=HEIGHTS, aside=ASIDE)
def test_rays_to_an_ellipsoids_outline_touch_it(
    axes: tuple[float, float, float], height: float, aside: float
) -> None:
    turn = cv2.Rodrigues(np.array([0.3, -0.4, 0.9]))[0]
    frame = np.diag(np.array(axes) / 2) @ turn
    centre, camera = np.array([5.0, -3.0, max(axes) / 2]), np.array([aside, 20.0, height])
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


MAD_TO_SD = 1.4826
"""Standard deviation of normal values over their median absolute deviation, 1 / Phi^-1(3/4)."""


def running_medians(values: list[float]) -> np.ndarray:
    """Return the median of each value and two neighbours on either side; beyond an end its value repeats."""
    last = len(values) - 1
    near = [[values[min(max(k + d, 0), last)] for d in range(-2, 3)] for k in range(last + 1)]
    return np.array([sorted(five)[2] for five in near])


@pytest.mark.parametrize("alike", [True, False])
def test_noise_of_rims_is_that_of_their_middles_and_of_half_the_widths(alike: bool) -> None:  # noqa: FBT001
    widths = np.array([8.0, 8.2, 7.9, 8.1, 7.7, 8.05, 8.3])
    middles = [0.1, 0.3, 0.12, 0.4, 0.15, 0.02, 0.2]
    jumps = np.array(middles) - running_medians(middles)
    one = 2 * 1.25 * MAD_TO_SD * np.median(np.abs(jumps - np.median(jumps)))
    turned = 0.5 * MAD_TO_SD * np.median(np.abs(widths - np.median(widths))) if alike else 0.0
    expected = math.sqrt(one**2 + 0.02**2 + turned**2)
    assert rim_noise(widths, np.array(middles), alike=alike) == pytest.approx(np.full(7, expected))


@pytest.mark.parametrize(("count", "u_mm"), [(5, 0.16), (6, 0.02)])
def test_six_beads_tell_their_scatter(count: int, u_mm: float) -> None:
    assert rim_noise(np.full(count, 8.0), np.zeros(count), alike=True) == pytest.approx(u_mm)


def test_rays_to_rims_are_seen_along_the_string() -> None:
    """In the section square to a string along x a ray leans by its distance in y over its height."""
    plane = straight_plane(60.0, height_mm=4.0, camera=camera_at(20.0, 7.0, 304.0))
    aside, along = np.array([[-3.0, 5.0], [-4.0, 4.5]]), np.array([[10.0, 11.0], [40.0, 39.0]])
    exact = np.zeros((2, 2))
    rims = Rims(aside_mm=aside, along_mm=along, u_mm=exact, clarity=exact)
    angles = tangent_angles(plane, rims, middles_mm=np.array([10.5, 39.5]))
    assert angles == pytest.approx(np.arctan((aside - 7.0) / 300.0))


def on_a_line(radius: np.ndarray, u: np.ndarray, *, slope: float = 0.01, off: float = 0.2) -> Rims:
    """Return the rims, (B, 2), of beads ten millimetres apart on a straight line, so uncertain."""
    along = 10.0 * np.arange(len(radius))[:, None] + np.array([-0.5, 0.5])
    middle = off + slope * along.mean(axis=1)
    aside = np.column_stack([middle - radius, middle + radius])
    return Rims(aside_mm=aside, along_mm=along, u_mm=u, clarity=np.full(u.shape, 0.9))


def test_rims_on_one_line_stay_and_two_sides_are_better_known_than_one() -> None:
    radius, u = (
        np.array([4.0, 3.0, 5.0, 4.0]),
        np.array([[0.03, 0.08], [0.05, 0.05], [0.1, 0.02], [0.03, 0.03]]),
    )
    rims = on_a_line(radius, u)
    found = on_one_rod(rims)
    assert found.aside_mm == pytest.approx(rims.aside_mm)
    shared = 1 / np.sqrt((1 / (u + 0.02) ** 2).sum(axis=1))  # inverse variances add (JCGM 100, H.5)
    assert found.u_mm == pytest.approx(np.column_stack([shared, shared]))
    assert np.array_equal(found.clarity, rims.clarity)
    assert np.array_equal(found.along_mm, rims.along_mm)


def fitted(x: np.ndarray, y: np.ndarray, u: np.ndarray) -> np.ndarray:
    """Fit a line by numpy's weighted least squares, reweighted as for Cauchy errors of twice the u."""
    weight = 1 / u
    for _ in range(6):
        line = np.polyval(np.polyfit(x, y, 1, w=weight), x)
        weight = 1 / u / (1 + ((y - line) / (2 * u)) ** 2)
    return line


def test_a_side_in_shadow_is_put_right_by_the_line_of_all_others() -> None:
    rng = np.random.default_rng(6)
    u = np.full((8, 2), 0.03)
    rims = on_a_line(np.full(8, 4.0), u)
    rims.aside_mm[:] += rng.normal(0, 0.02, (8, 2))
    rims.aside_mm[3, 1] += 0.9
    rims.u_mm[3, 1] = 0.5
    found = on_one_rod(rims)
    assert abs(np.diff(found.aside_mm[3])[0] - 8.0) < 0.1
    middles, sd = rims.aside_mm.mean(axis=1), u + 0.02
    sd[3, 1] = 0.52
    line = fitted(rims.along_mm.mean(axis=1), middles, np.hypot(*sd.T) / 2)
    radii_seen = np.column_stack([line - rims.aside_mm[:, 0], rims.aside_mm[:, 1] - line])
    radius = np.average(radii_seen, axis=1, weights=1 / sd**2)
    assert found.aside_mm == pytest.approx(np.column_stack([line - radius, line + radius]), abs=1e-6)
    shared = np.sqrt(1 / (1 / sd**2).sum(axis=1) + ((middles - line) / 2) ** 2)
    assert found.u_mm == pytest.approx(np.column_stack([shared, shared]), abs=1e-6)


def test_a_rod_lies_between_the_height_of_its_beads_and_that_of_a_clip() -> None:
    """Of a rectangle of half width a the standard uncertainty is a / sqrt(3) (JCGM 100:2008, 4.3.7)."""
    assert rod_height(5.0, [4.0, 4.5]) == (5.0, 0.0)
    height, u = rod_height(5.0, [4.0, 9.0])
    assert height == 7.0
    assert u == pytest.approx(2.0 / math.sqrt(3.0))
