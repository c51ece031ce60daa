"""The camera against OpenCV and closed forms of perspective."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.helpers.cameras import SIZE_PX, camera_at
from vision.camera.camera import Camera, focal_px_of

FOCAL_PX = focal_px_of(26.0, SIZE_PX)
OVER_MAT = (148.5, 105.0, 260.0)
ROUNDING_PX = 1e-6
ROUNDING_MM = 1e-6


def over_mat(**options: object) -> Camera:
    given_options = {"focal_px": FOCAL_PX, "tilt_deg": (6.0, -4.0), "turn_deg": 5.0, **options}
    return camera_at(*OVER_MAT, **given_options)


@pytest.mark.parametrize("k1", [0.0, -0.03, 0.02])
def test_projection_agrees_with_opencv(k1: float) -> None:
    camera = over_mat(k1=k1)
    points = np.random.default_rng(2).uniform([0, 0, 0], [297, 210, 20], (40, 3))
    matrix = np.array([[FOCAL_PX, 0, (SIZE_PX[0] - 1) / 2], [0, FOCAL_PX, (SIZE_PX[1] - 1) / 2], [0, 0, 1]])
    expected, _ = cv2.projectPoints(
        points * [1, 1, -1], camera.parameters[:3], camera.parameters[3:6], matrix, np.array([k1, 0, 0, 0])
    )
    assert camera.project(points) == pytest.approx(expected[:, 0], abs=ROUNDING_PX)


def test_camera_stands_where_it_was_put() -> None:
    camera = camera_at(40.0, 70.0, 310.0, tilt_deg=(0.0, 12.0), turn_deg=30.0)
    assert camera.centre_mm == pytest.approx([40.0, 70.0, 310.0], abs=ROUNDING_MM)
    assert camera.tilt_deg == pytest.approx(12.0, abs=1e-6)


@given(
    x=st.floats(0, SIZE_PX[0] - 1),
    y=st.floats(0, SIZE_PX[1] - 1),
    height=st.floats(0, 20),
    k1=st.floats(-0.03, 0.03),
)
def test_pixel_to_plane_and_back(x: float, y: float, height: float, k1: float) -> None:
    camera = over_mat(k1=k1)
    point = camera.to_plane(np.array([x, y]), height)
    back = camera.project(np.array([*point, height]))
    assert back == pytest.approx([x, y], abs=1e-3)


def test_rays_are_unit_and_point_down() -> None:
    rays = over_mat(k1=-0.02).rays(np.array([[0.0, 0.0], [1599.0, 0.0], [800.0, 1199.0]]))
    assert np.linalg.norm(rays, axis=1) == pytest.approx(np.ones(3), abs=1e-12)
    assert (rays[:, 2] < 0).all()


@pytest.mark.parametrize("height", [0.0, 8.0])
def test_scale_below_a_level_camera_is_focal_length_over_distance(height: float) -> None:
    camera = camera_at(100.0, 80.0, 300.0, focal_px=1500.0)
    assert camera.px_per_mm(np.array([90.0, 70.0, height])) == pytest.approx(1500 / (300 - height), rel=1e-9)


def test_focal_length_follows_the_diagonal_convention() -> None:
    # CIPA DCG-001: diagonals are compared, 43.2666 mm; comparing widths differs by 4.0 % on 4:3
    assert focal_px_of(26.0, (4032, 3024)) == pytest.approx(26 * 5040 / 43.2666, rel=1e-9)
    by_width = 26.0 * 4032 / 36.0
    assert focal_px_of(26.0, (4032, 3024)) / by_width == pytest.approx(1.040, abs=5e-4)
    assert focal_px_of(26.0, (3024, 4032)) == focal_px_of(26.0, (4032, 3024))


@given(x=st.floats(-50, 50), y=st.floats(-50, 50), height=st.floats(0, 20), other=st.floats(0, 20))
def test_moved_along_its_ray_a_point_stays_on_its_pixel(
    x: float, y: float, height: float, other: float
) -> None:
    camera = over_mat()
    point = np.array([148.5 + x, 105.0 + y, height])
    moved = camera.moved_along_rays(point, other)
    assert moved[2] == other
    assert camera.project(moved) == pytest.approx(camera.project(point), abs=ROUNDING_PX)
