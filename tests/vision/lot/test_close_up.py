"""The picture of one bead that a network is shown, and what the networks make of beads."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from vision.camera.camera import Camera
from vision.common.records import FloatArray, ImageArray
from vision.lot import close_up as closeup
from vision.lot.close_up import CELLS, Found, close_up, closer

HEIGHT_MM, SIZE_PX, FOCAL_PX = 300.0, (1600, 1200), 3000.0
RADIUS_MM = 4.0
FOOT_MM = (90.0, 60.0)
PLACE_MM = (110.0, 75.0)
PAPER, INK = 200, 60
COLOURS, OUTLINE, SLANT = slice(0, 3), 3, slice(4, 6)
WIDE_TAILS = 1.39
"""Half of where 95 % of Student's t of 4 degrees of freedom end: 2.776 in any table of it."""
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
        build_rel_u=0.0,
        height_mm=8.0,
        traced=True,
        measured=True,
    )


def test_the_bead_fills_the_middle_and_the_outline_lies_on_it(camera: Camera) -> None:
    outline = circle(PLACE_MM)
    seen = close_up(photo_of(camera, outline), camera, found(outline), bed_height_mm=0.0)
    ink = seen[..., 0] < (INK + PAPER) / 2 / 255 - 0.5
    assert np.mean(ink == (seen[..., OUTLINE] > 0)) > 1 - CELL_TOLERANCE
    assert ink.mean() == pytest.approx(math.pi / 4 / 1.5**2, abs=CELL_TOLERANCE)
    assert ink[CELLS // 2, CELLS // 2]


def test_rows_run_away_from_the_foot(camera: Camera) -> None:
    outline = circle(PLACE_MM, across=0.5)
    seen = close_up(photo_of(camera, outline), camera, found(outline), bed_height_mm=0.0)
    slant = np.hypot(*np.subtract(PLACE_MM, FOOT_MM)) / HEIGHT_MM
    assert seen[0, 0, SLANT] / 2 == pytest.approx((slant, 0.0), abs=1e-3)
    # the ellipse lies along the sheet's x, the rows do not
    cells = np.argwhere(seen[..., OUTLINE] > 0)[:, ::-1] - (CELLS - 1) / 2
    long_way = np.linalg.eigh(np.cov(cells.T))[1][:, 1]
    way = np.subtract(PLACE_MM, FOOT_MM) / np.hypot(*np.subtract(PLACE_MM, FOOT_MM))
    assert abs(long_way @ (way[0], -way[1])) == pytest.approx(1.0, abs=CELL_TOLERANCE)


@pytest.mark.parametrize("edges", [0.001, 0.01, 0.1])
def test_a_second_look_moves_a_size_by_what_edges_and_network_weigh(
    edges: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    by, doubt = 0.05, 0.02
    answer = np.array([[by, by, math.log(doubt / WIDE_TAILS), math.log(doubt / WIDE_TAILS)]])
    monkeypatch.setattr(closeup, "told", lambda name, pictures: answer)  # noqa: ARG005
    bead = replace(found(circle(PLACE_MM)), u_mm=8.0 * np.array([edges, edges]))
    (settled,) = closer("loose", [bead], [np.zeros((CELLS, CELLS, 12), np.float32)])
    moved = np.log(settled.sizes_mm / bead.sizes_mm)
    assert moved == pytest.approx(by * edges / np.hypot(edges, doubt))
    # the network's opinion of what is true lies within the doubt that is stated
    assert settled.u_mm / settled.sizes_mm == pytest.approx(np.hypot(doubt, by - moved))


def test_where_no_outline_was_seen_a_size_is_what_the_network_tells(monkeypatch: pytest.MonkeyPatch) -> None:
    by, doubt = -0.2, 0.02
    answer = np.array([[by, by, math.log(doubt / WIDE_TAILS), math.log(doubt / WIDE_TAILS)]])
    monkeypatch.setattr(closeup, "told", lambda name, pictures: answer)  # noqa: ARG005
    bead = replace(found(circle(PLACE_MM)), traced=False)
    (settled,) = closer("loose", [bead], [np.zeros((CELLS, CELLS, 12), np.float32)])
    assert settled.sizes_mm == pytest.approx(bead.sizes_mm * math.exp(by))
    assert settled.u_mm == pytest.approx(settled.sizes_mm * doubt)


def test_doubt_about_the_build_comes_on_top(monkeypatch: pytest.MonkeyPatch) -> None:
    doubt, build = 0.02, 0.03
    answer = np.array([[0.0, 0.0, math.log(doubt / WIDE_TAILS), math.log(doubt / WIDE_TAILS)]])
    monkeypatch.setattr(closeup, "told", lambda name, pictures: answer)  # noqa: ARG005
    bead = replace(found(circle(PLACE_MM)), build_rel_u=build)
    (settled,) = closer("loose", [bead], [np.zeros((CELLS, CELLS, 12), np.float32)])
    assert settled.u_mm / settled.sizes_mm == pytest.approx(np.hypot(doubt, build))
