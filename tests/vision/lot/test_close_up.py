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
from vision.lot import close_up as module
from vision.lot.close_up import CELLS, NETWORKS, BeadSizes, Frame, close_up, correct_sizes, corrected
from vision.sheet.geometry import SHEETS

HEIGHT_MM, SIZE_PX, FOCAL_PX = 300.0, (1600, 1200), 3000.0
RADIUS_MM = 4.0
FOOT_MM = (90.0, 60.0)
PLACE_MM = (110.0, 75.0)
PAPER, INK = 200, 60
OUTLINE, SLANT, FACTS = 3, slice(4, 6), slice(6, 12)
CHANNELS = 12
BED_MM = 20.0
CODES = 1.5
"""Steps of a ramp of an eighth a pixel: they are rounded down, then averaged."""
CENTRE_CELLS = 0.05
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
        unseen_rel_u=0.0,
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


def test_a_cell_has_the_colour_of_its_place_on_the_bed(camera: Camera) -> None:
    rows, columns = np.mgrid[: SIZE_PX[1], : SIZE_PX[0]]
    ramps = np.dstack([columns / 8, rows / 8, 0 * rows]).astype(np.uint8)
    outline = circle(PLACE_MM)
    scene = replace(scene_of(camera, outline), photo=Photo(name="ramps.png", rgb=ramps), bed_height_mm=BED_MM)
    seen = close_up(scene, found(outline))
    assert seen.shape == (CELLS, CELLS, CHANNELS) == (64, 64, 12)
    # own x and y of the window, 1.5 diameters wide
    own = (np.array([[0, 0], [0, 63], [63, 0], [40, 20]]) - 31.5) * 1.5 * 2 * RADIUS_MM / 64
    way = np.subtract(PLACE_MM, FOOT_MM) / np.hypot(*np.subtract(PLACE_MM, FOOT_MM))
    ground = PLACE_MM + own @ np.array([way, (-way[1], way[0])])
    pixels = camera.project(np.column_stack([ground, np.full(4, BED_MM)]))
    codes = [(seen[row, column, :2] + 0.5) * 255 for column, row in ((0, 0), (0, 63), (63, 0), (40, 20))]
    assert np.array(codes) == pytest.approx(pixels / 8, abs=CODES)


def test_facts_are_slope_size_aspect_uncertainties_height_as_trained(camera: Camera) -> None:
    outline = circle(PLACE_MM)
    bead = replace(found(outline), sizes_mm=np.array([9.0, 6.0]), u_mm=np.array([0.09, 1.5]), height_mm=4.5)
    scene = replace(scene_of(camera, outline), bed_height_mm=BED_MM)
    seen = close_up(scene, bead)
    x, y = outline.T
    area = 0.5 * abs(np.sum(x * np.roll(y, 1) - np.roll(x, 1) * y))  # shoelace formula
    across_px = 2 * math.sqrt(area / math.pi) * FOCAL_PX / (HEIGHT_MM - BED_MM)
    facts = [0.5 * math.log(across_px / 40), math.log(9 / 6), 0.2, 4.0, 4.5 / 6 - 0.5, 0.5 * math.log(6 / 8)]
    assert seen[0, 0, FACTS] == pytest.approx(facts, abs=1e-5)
    slope = math.hypot(*np.subtract(PLACE_MM, FOOT_MM)) / (HEIGHT_MM - BED_MM)
    assert seen[0, 0, SLANT] == pytest.approx([2 * slope, 0.0], abs=1e-5)
    assert np.ptp(seen[..., 4:], axis=(0, 1)) == pytest.approx(0.0)


def test_cells_are_filled_by_their_share_within_the_outline() -> None:
    frame = Frame(middle_mm=np.array([3.0, -2.0]), turn=np.array([[0.0, 1.0], [-1.0, 0.0]]), cell_mm=0.5)
    assert frame.diameter_mm == pytest.approx(64 * 0.5 / 1.5)
    turn = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    filled = frame.filled(np.array([4.0, -5.0]) + 3.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    assert filled.max() == 1.0
    assert filled.sum() == pytest.approx(
        math.pi * 6.0**2, rel=0.05
    )  # the outline's own fine cells are filled
    rows, columns = np.mgrid[:64, :64]
    centre = [np.average(columns, weights=filled), np.average(rows, weights=filled)]
    # 1 mm along the sheet's x is 2 cells up, 3 mm down its y 6 cells to the left
    assert centre == pytest.approx([31.5 - 6, 31.5 - 2], abs=CENTRE_CELLS)


def test_what_the_networks_estimate_is_applied_bead_by_bead(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def estimates(name: str, pictures: list[np.ndarray]) -> np.ndarray:
        asked.append((name, len(pictures)))
        shown = np.array(pictures)[:, 0, 0, 0]
        scale = shown if name == NETWORKS[0] else 2 * shown
        return np.stack([shown, 2 * scale, np.log(scale), np.log(3 * scale)], axis=1)

    monkeypatch.setattr(module, "estimates", estimates)
    number = np.arange(1, 21) / 1000
    bead = replace(found(circle(PLACE_MM)), traced=False)
    beads = correct_sizes([bead] * 20, [np.full((2, 2, CHANNELS), n, np.float32) for n in number])
    assert asked == [(name, 20) for name in NETWORKS]
    sizes = np.array([b.sizes_mm for b in beads])
    # the second is half as sure as the first, so it weighs a fifth of both: 4/5 of 2 and 1/5 of 4
    assert np.log(sizes / 8.0) == pytest.approx(np.stack([number, 2.4 * number], axis=1), rel=1e-5)
    # half of where 95 % of Student's t of 4 degrees of freedom end: 2.776 in any table of it
    first = 2.776 / 2 * np.stack([number, 3 * number], axis=1)
    apart = np.stack([0 * number, 2 * number], axis=1)
    spread2 = 0.8 * first**2 + 0.2 * (2 * first) ** 2 + 0.8 * 0.2 * apart**2
    assert np.array([b.u_mm for b in beads]) / sizes == pytest.approx(np.sqrt(spread2), rel=0.002)


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
    bead = replace(found(circle(PLACE_MM)), unseen_rel_u=body_u)
    both = corrected(bead, log_ratio=np.zeros(2), u=np.full(2, u))
    assert both.u_mm / both.sizes_mm == pytest.approx(np.hypot(u, body_u))
