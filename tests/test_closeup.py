"""The picture of one bead that a network is shown, and what the networks make of beads."""

import math

import cv2
import numpy as np
import pytest
from cameras import camera_at

from vision.camera import Camera
from vision.closeup import CELLS, Found, close_up
from vision.records import FloatArray, ImageArray

HEIGHT_MM, SIZE_PX, FOCAL_PX = 300.0, (1600, 1200), 3000.0
RADIUS_MM = 4.0
FOOT_MM = (90.0, 60.0)
PLACE_MM = (110.0, 75.0)
PAPER, INK = 200, 60
COLOURS, OUTLINE, SLANT = slice(0, 3), 3, slice(4, 6)
CELL_TOLERANCE = 0.02
"""Share of cells that lie on the rim."""


@pytest.fixture(scope="module")
def camera() -> Camera:
    return camera_at(*FOOT_MM, HEIGHT_MM, focal_px=FOCAL_PX, size_px=SIZE_PX)


def circle(place: tuple[float, float], across: float = 1.0) -> FloatArray:
    angle = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    return np.array(place) + RADIUS_MM * np.stack([np.cos(angle), across * np.sin(angle)], axis=1)


def photo_of(camera: Camera, outline: FloatArray) -> ImageArray:
    picture = np.full((SIZE_PX[1], SIZE_PX[0], 3), PAPER, np.uint8)
    seen = camera.project(np.column_stack([outline, np.zeros(len(outline))]))
    cv2.fillPoly(picture, [np.rint(seen * 16).astype(np.int32)], (INK, INK, INK), shift=4)
    return picture


def found(outline: FloatArray) -> Found:
    return Found(
        outline_mm=outline,
        centre_mm=np.array([*outline.mean(axis=0), RADIUS_MM]),
        sizes_mm=np.array([8.0, 8.0]),
        u_mm=np.array([0.02, 0.02]),
        height_mm=8.0,
        measured=True,
    )


def test_the_bead_fills_the_middle_and_the_outline_lies_on_it(camera: Camera) -> None:
    outline = circle(PLACE_MM)
    seen = close_up(photo_of(camera, outline), camera, found(outline), plane_mm=0.0)
    ink = seen[..., 0] < (INK + PAPER) / 2 / 255 - 0.5
    assert np.mean(ink == (seen[..., OUTLINE] > 0)) > 1 - CELL_TOLERANCE
    assert ink.mean() == pytest.approx(math.pi / 4 / 1.5**2, abs=CELL_TOLERANCE)
    assert ink[CELLS // 2, CELLS // 2]


def test_rows_run_away_from_the_foot_or_along_the_string(camera: Camera) -> None:
    outline = circle(PLACE_MM)
    photo = photo_of(camera, outline)
    off = np.subtract(PLACE_MM, FOOT_MM)
    slants = [
        close_up(photo, camera, found(outline), plane_mm=0.0, way=way)[0, 0, SLANT] / 2
        for way in (None, np.array([1.0, 0.0]), np.array([0.0, 1.0]))
    ]
    expected = [(np.hypot(*off), 0.0), off, (off[1], -off[0])]
    assert np.array(slants) == pytest.approx(np.array(expected) / HEIGHT_MM, abs=1e-3)


def test_a_string_turns_the_window_with_it(camera: Camera) -> None:
    outline = circle(PLACE_MM, across=0.5)
    photo = photo_of(camera, outline)
    along, across = (
        close_up(photo, camera, found(outline), plane_mm=0.0, way=np.array(way)) for way in ((1, 0), (0, 1))
    )
    wide, tall = (np.ptp(np.argwhere(seen[..., OUTLINE] > 0), axis=0) for seen in (along, across))
    assert wide == pytest.approx(tall[::-1], abs=1)
    assert wide[1] == pytest.approx(2 * wide[0], abs=2)
