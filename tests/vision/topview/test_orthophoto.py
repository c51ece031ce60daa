"""The top view against plain perspective, on a photo whose colours encode where each pixel is."""

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from vision.camera.camera import Camera
from vision.camera.scene import Scene
from vision.common.records import Photo
from vision.sheet.geometry import SHEETS, Sheet
from vision.topview.orthophoto import Orthophoto, orthophoto

MAT, CARD = SHEETS["mat-a4"], SHEETS["card"]
SIZE_PX = (640, 480)
CODE_PX = SIZE_PX[0] / 255
"""Coordinates are painted in steps of this many pixels."""
MEAN_PX = 0.1
ROUNDING_MM = 1e-9
FINEST_PER_MM = 8.0


def located_photo() -> Photo:
    """Return a photo whose red encodes x and whose green y, as shares of its sides."""
    width, height = SIZE_PX
    x, y = np.meshgrid(np.arange(width) / (width - 1), np.arange(height) / (height - 1))
    rgb = np.round(255 * np.stack([x, y, np.zeros_like(x)], axis=-1)).astype(np.uint8)
    return Photo(name="located.png", rgb=rgb)


def over(sheet_width: float, sheet_height: float) -> Camera:
    return camera_at(
        sheet_width / 2,
        sheet_height / 2,
        300.0,
        focal_px=560.0,
        tilt_deg=(6.0, -5.0),
        turn_deg=4.0,
        k1=-0.02,
        size_px=SIZE_PX,
    )


def view(
    camera: Camera, sheet: Sheet, *, scale: float = 1.0, height_mm: float = 0.0, finest: float = FINEST_PER_MM
) -> Orthophoto:
    """Take the top view of the located photo."""
    scene = Scene(photo=located_photo(), camera=camera, sheet=sheet, scale=scale, bed_height_mm=height_mm)
    return orthophoto(scene, finest_cells_per_mm=finest)


def cells(top: Orthophoto, *, margin: int = 6) -> tuple[np.ndarray, np.ndarray]:
    """Return some seen cells (x, y) and the world points (x, y, h) they show."""
    rows, columns = np.nonzero(top.seen)
    some = slice(None, None, 1 + len(rows) // 500)
    at = np.column_stack([columns, rows])[some].astype(float)
    inner = (at > margin).all(axis=1) & (at < np.array(top.seen.shape[::-1]) - margin).all(axis=1)
    at = at[inner]
    return at, np.column_stack([top.to_mm(at), np.full(len(at), top.height_mm)])


@pytest.mark.parametrize("height_mm", [0.0, 6.0])
@pytest.mark.parametrize("scale", [1.0, 0.97])
def test_every_cell_shows_the_pixel_that_perspective_puts_there(height_mm: float, scale: float) -> None:
    camera = over(*MAT.page_mm)
    top = view(camera, MAT, scale=scale, height_mm=height_mm)
    at, world = cells(top)
    shown = top.rgb[at[:, 1].astype(int), at[:, 0].astype(int), :2] / 255 * (np.array(SIZE_PX) - 1)
    off = shown - camera.project(world)
    assert np.abs(off).max() < CODE_PX
    assert np.abs(off.mean(axis=0)).max() < MEAN_PX


def test_mat_is_covered_whole() -> None:
    top = view(over(*MAT.page_mm), MAT, scale=0.97)
    assert top.origin_mm == (0.0, 0.0)
    far = top.to_mm(np.array(top.seen.shape[::-1], dtype=float))
    assert far == pytest.approx([0.97 * 297.0, 0.97 * 210.0], abs=1.0 / top.cells_per_mm)
    assert top.seen.shape[0] < top.seen.shape[1]


def test_round_a_card_all_that_the_photo_shows_is_covered() -> None:
    camera = over(*CARD.page_mm)
    top = view(camera, CARD)
    corners = camera.to_plane(np.array([[0, 0], [639, 0], [639, 479], [0, 479]], dtype=float), 0.0)
    inside = top.to_cells(corners)
    assert (inside > -1.5).all()
    assert (inside < np.array(top.seen.shape[::-1]) + 0.5).all()
    assert 0.7 < top.seen.mean() < 1.0


def test_what_lies_beyond_the_photo_is_marked() -> None:
    camera = camera_at(30.0, 30.0, 120.0, focal_px=560.0, size_px=SIZE_PX)
    top = view(camera, MAT)
    mm = np.array([[30.0, 30.0], [290.0, 200.0]])
    (x0, y0), (x1, y1) = np.round(top.to_cells(mm)).astype(int)
    assert top.seen[y0, x0]
    assert not top.seen[y1, x1]


def test_what_stands_up_moves_outwards_as_in_any_perspective() -> None:
    """A point at height h seen on the sheet lies at X H / (H - h) from the point below the camera."""
    camera = camera_at(0.0, 0.0, 300.0, focal_px=560.0, size_px=SIZE_PX)
    seen = camera.project(np.array([60.0, -20.0, 12.0]))
    assert camera.to_plane(seen, 0.0) == pytest.approx(np.array([60.0, -20.0]) * 300 / 288, abs=1e-6)
    assert camera.to_plane(seen, 12.0) == pytest.approx([60.0, -20.0], abs=1e-6)


def test_cells_and_millimetres_there_and_back() -> None:
    top = view(over(*CARD.page_mm), CARD)
    points = np.random.default_rng(1).uniform(-40, 120, (9, 2))
    assert top.to_mm(top.to_cells(points)) == pytest.approx(points, abs=ROUNDING_MM)


def test_top_view_is_no_finer_than_the_photo_nor_than_is_useful() -> None:
    coarse = view(over(*MAT.page_mm), MAT)
    assert coarse.cells_per_mm == pytest.approx(560 / 300, rel=0.03)
    near = camera_at(50.0, 35.0, 60.0, focal_px=560.0, size_px=SIZE_PX)
    fine = view(near, CARD)
    assert fine.cells_per_mm == FINEST_PER_MM
