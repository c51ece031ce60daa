"""The strand straightened, from photos whose colours say where each pixel is; never square."""

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from tests.helpers.handmade import straight_plane
from vision.common.records import Photo
from vision.strand.axis import STEP_MM, smooth_axis
from vision.strand.strip import StringPlane, Strip, laid_on, straighten
from vision.topview.orthophoto import Orthophoto

SIZE_PX = (640, 480)
CODE_PX = SIZE_PX[0] / 255
MEAN_PX = 0.15
HEIGHT_MM = 4.0
MARK_MM = 0.05
"""A mark's middle, on cells of 0.25 mm and steps of 0.1 mm."""


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
    plane = StringPlane(axis=axis, height_mm=HEIGHT_MM, camera=CAMERA)
    strip = straighten(located_photo(), plane, half_mm=6.0)
    assert strip.rgb.shape == (121, len(axis.points_mm), 3)
    assert np.allclose(strip.aside_mm[[0, 60, 120]], [-6.0, 0.0, 6.0])
    rows, columns = np.meshgrid(np.arange(0, 121, 20), np.arange(0, len(axis.points_mm), 50), indexing="ij")
    plane = axis.at(columns * STEP_MM, strip.aside_mm[rows])
    expected = CAMERA.project(np.dstack([plane, np.full(plane.shape[:2], HEIGHT_MM)]))
    off = shown_px(strip.rgb)[rows, columns] - expected
    assert np.abs(off).max() < CODE_PX
    assert np.abs(off.mean(axis=(0, 1))).max() < MEAN_PX


def marked(at_mm: np.ndarray, *, bed_mm: float) -> tuple[np.ndarray, Orthophoto]:
    """Return a layer of a top view at the bed's height with one soft round mark, and the view."""
    shape = (320, 520)
    top = Orthophoto(
        rgb=np.zeros((*shape, 3), np.uint8),
        seen=np.ones(shape, dtype=bool),
        origin_mm=(-5.0, 10.0),
        cells_per_mm=4.0,
        height_mm=bed_mm,
    )
    x, y = np.meshgrid(np.arange(shape[1]), np.arange(shape[0]))
    off = np.stack([x, y], axis=-1) - top.to_cells(at_mm)
    return np.exp(-0.5 * np.sum(off**2, axis=-1) / 3.0**2).astype(np.float32), top


@pytest.mark.parametrize("bed_mm", [0.0, 1.5])
@pytest.mark.parametrize("aside_mm", [-2.0, 0.0, 3.0])
def test_a_mark_of_the_top_view_shows_where_the_camera_sees_it(bed_mm: float, aside_mm: float) -> None:
    """By similar triangles: the higher a ray, the nearer it is to the point below the camera."""
    camera_mm = np.array([90.0, 20.0, 250.0])
    plane = straight_plane(80.0, start=(20.0, 50.0), height_mm=HEIGHT_MM, camera=camera_at(*camera_mm))
    aside = np.arange(-60, 61) * STEP_MM
    strip = Strip(rgb=np.zeros((121, 800, 3), np.uint8), aside_mm=aside, plane=plane)
    at_string = np.array([45.0, 50.0 + aside_mm])
    on_bed = camera_mm[:2] + (at_string - camera_mm[:2]) * (camera_mm[2] - bed_mm) / (
        camera_mm[2] - HEIGHT_MM
    )
    layer, top = marked(on_bed, bed_mm=bed_mm)
    (shown,) = laid_on(strip, [layer], top=top)
    assert shown.shape == (121, 800)
    rows, columns = np.nonzero(shown > 0.5)
    found = [20.0 + columns.mean() * STEP_MM, 50.0 + aside[rows].mean()]
    assert found == pytest.approx(at_string, abs=MARK_MM)
    assert np.linalg.norm(on_bed - at_string) > 5 * MARK_MM  # else the height would not matter


def test_beyond_the_top_view_a_layer_shows_nothing() -> None:
    layer, top = marked(np.array([10.0, 50.0]), bed_mm=0.0)
    camera = camera_at(60.0, 50.0, 250.0)
    plane = straight_plane(40.0, start=(110.0, 50.0), camera=camera)  # the view ends at x = 125 mm
    strip = Strip(rgb=np.zeros((41, 400, 3), np.uint8), aside_mm=np.arange(-20, 21) * STEP_MM, plane=plane)
    (shown,) = laid_on(strip, [np.ones_like(layer)], top=top)
    assert shown[:, :140].min() == 1
    assert shown[:, 160:].max() == 0
