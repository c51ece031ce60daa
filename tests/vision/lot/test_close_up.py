"""The picture of one bead that the network is shown, and sizes corrected by what it estimates."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from vision.camera.camera import Camera
from vision.camera.scene import Scene
from vision.common.records import FloatArray, Photo
from vision.lot.close_up import CELLS, BeadSizes, close_up, corrected
from vision.sheet.geometry import SHEETS

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


def scene_of(camera: Camera, outline: FloatArray) -> Scene:
    picture = np.full((SIZE_PX[1], SIZE_PX[0], 3), PAPER, np.uint8)
    seen = camera.project(np.column_stack([outline, np.zeros(len(outline))]))
    cv2.fillPoly(picture, [np.rint(seen * 16).astype(np.int32)], (INK, INK, INK), shift=4)
    photo = Photo(name="disc.png", rgb=picture)
    return Scene(photo=photo, camera=camera, sheet=SHEETS["card"])


def found(outline: FloatArray) -> BeadSizes:
    return BeadSizes(
        outline_mm=outline,
        centre_mm=np.array([*outline.mean(axis=0), RADIUS_MM]),
        sizes_mm=np.array([8.0, 8.0]),
        u_mm=np.array([0.02, 0.02]),
        body_rel_u=0.0,
        height_mm=8.0,
        traced=True,
        measured=True,
    )


def test_the_bead_fills_the_middle_and_the_outline_lies_on_it(camera: Camera) -> None:
    outline = circle(PLACE_MM)
    seen = close_up(scene_of(camera, outline), found(outline))
    ink = seen[..., 0] < (INK + PAPER) / 2 / 255 - 0.5
    assert np.mean(ink == (seen[..., OUTLINE] > 0)) > 1 - CELL_TOLERANCE
    assert ink.mean() == pytest.approx(math.pi / 4 / 1.5**2, abs=CELL_TOLERANCE)
    assert ink[CELLS // 2, CELLS // 2]


def test_rows_run_away_from_the_foot(camera: Camera) -> None:
    outline = circle(PLACE_MM, across=0.5)
    seen = close_up(scene_of(camera, outline), found(outline))
    slant = np.hypot(*np.subtract(PLACE_MM, FOOT_MM)) / HEIGHT_MM
    assert seen[0, 0, SLANT] / 2 == pytest.approx((slant, 0.0), abs=1e-3)
    # the ellipse lies along the sheet's x, the rows do not
    cells = np.argwhere(seen[..., OUTLINE] > 0)[:, ::-1] - (CELLS - 1) / 2
    long_way = np.linalg.eigh(np.cov(cells.T))[1][:, 1]
    way = np.subtract(PLACE_MM, FOOT_MM) / np.hypot(*np.subtract(PLACE_MM, FOOT_MM))
    assert abs(long_way @ (way[0], -way[1])) == pytest.approx(1.0, abs=CELL_TOLERANCE)


@pytest.mark.parametrize("edges_u", [0.001, 0.01, 0.1])
def test_a_correction_is_applied_by_the_share_of_the_outlines_uncertainty(edges_u: float) -> None:
    by, u = np.array([0.05, -0.02]), np.array([0.02, 0.04])
    bead = replace(found(circle(PLACE_MM)), u_mm=8.0 * np.array([edges_u, edges_u]))
    both = corrected(bead, log_ratio=by, u=u)
    moved = np.log(both.sizes_mm / bead.sizes_mm)
    assert moved == pytest.approx(by * edges_u / np.hypot(edges_u, u))
    # what is not applied counts as uncertainty
    assert both.u_mm / both.sizes_mm == pytest.approx(np.hypot(u, by - moved))


def test_where_no_outline_was_seen_the_network_alone_counts() -> None:
    by, u = np.array([-0.2, 0.1]), np.array([0.02, 0.03])
    bead = replace(found(circle(PLACE_MM)), traced=False)
    alone = corrected(bead, log_ratio=by, u=u)
    assert alone.sizes_mm == pytest.approx(bead.sizes_mm * np.exp(by))
    assert alone.u_mm == pytest.approx(alone.sizes_mm * u)


def test_what_is_not_known_of_the_body_adds_to_the_uncertainty() -> None:
    u, body_u = 0.02, 0.03
    bead = replace(found(circle(PLACE_MM)), body_rel_u=body_u)
    both = corrected(bead, log_ratio=np.zeros(2), u=np.full(2, u))
    assert both.u_mm / both.sizes_mm == pytest.approx(np.hypot(u, body_u))
