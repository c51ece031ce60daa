"""The strand pulled straight, from photos whose colours say where each pixel is; never square."""

import numpy as np
from cameras import camera_at
from handmade import straight_axis

from vision.axis import STEP_MM, smooth_axis
from vision.records import Photo
from vision.strip import straighten

SIZE_PX = (640, 480)
CODE_PX = SIZE_PX[0] / 255
MEAN_PX = 0.15
HEIGHT_MM = 4.0


def located_photo() -> Photo:
    """Red says x, green y, as shares of the photo's sides."""
    x, y = np.meshgrid(*(np.arange(n) / (n - 1) for n in SIZE_PX))
    rgb = np.round(255 * np.stack([x, y, np.zeros_like(x)], axis=-1)).astype(np.uint8)
    return Photo(name="located.png", rgb=rgb)


def shown_px(rgb: np.ndarray) -> np.ndarray:
    return rgb[..., :2] / 255 * (np.array(SIZE_PX) - 1)


CAMERA = camera_at(60.0, 50.0, 250.0, focal_px=900.0, tilt_deg=(5.0, -4.0), k1=-0.01, size_px=SIZE_PX)


def test_rows_run_aside_and_columns_along() -> None:
    angle = np.linspace(2.4, 0.8, 120)
    axis = smooth_axis(
        np.column_stack([60 + 50 * np.cos(angle), 10 + 50 * np.sin(angle)]),
        wavelength_mm=25.0,
        straight_within_mm=0.5,
    )
    strip = straighten(located_photo(), CAMERA, axis, half_mm=6.0, height_mm=HEIGHT_MM)
    assert strip.rgb.shape == (121, len(axis.points_mm), 3)
    assert np.allclose(strip.aside_mm[[0, 60, 120]], [-6.0, 0.0, 6.0])
    rows, columns = np.meshgrid(np.arange(0, 121, 20), np.arange(0, len(axis.points_mm), 50), indexing="ij")
    plane = axis.at(columns * STEP_MM, strip.aside_mm[rows])
    expected = CAMERA.project(np.dstack([plane, np.full(plane.shape[:2], HEIGHT_MM)]))
    off = shown_px(strip.rgb)[rows, columns] - expected
    assert np.abs(off).max() < CODE_PX
    assert np.abs(off.mean(axis=(0, 1))).max() < MEAN_PX


def test_on_the_surface_of_round_beads() -> None:
    """Over the string a bead's top stands a radius higher, at its sides no higher than the string."""
    axis = straight_axis(60.0, start=(30.0, 50.0))
    radius = np.full(len(axis.points_mm), 5.0)
    strip = straighten(located_photo(), CAMERA, axis, half_mm=6.0, height_mm=HEIGHT_MM, radius_mm=radius)
    for aside, lift in ((0.0, 5.0), (3.0, 4.0), (-4.0, 3.0), (6.0, 0.0)):  # 3-4-5 triangles
        row = int(np.argmin(np.abs(strip.aside_mm - aside)))
        at = np.array([30.0 + 20.0, 50.0 + aside, HEIGHT_MM + lift])
        seen = shown_px(strip.rgb)[row, round(20.0 / STEP_MM)]
        assert np.abs(seen - CAMERA.project(at)).max() < CODE_PX
