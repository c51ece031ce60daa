"""Loose beads end to end, on photos drawn with a known camera."""

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import cv2
import numpy as np
import pytest

from tests.helpers.ellipsoid import ellipsoid_outline
from tests.helpers.srgb import to_srgb
from vision.camera.camera import Camera
from vision.camera.scene import Scene
from vision.common.errors import NoBeadsError
from vision.common.flags import DESCRIPTIONS, UNSURE_COUNT
from vision.common.records import LooseBead, Photo
from vision.lot.measure import lot_of
from vision.lot.uncertainty import TracedBead, measurable
from vision.sheet.geometry import SHEETS
from vision.topview.bead_map import BeadMap, bead_map
from vision.topview.orthophoto import Orthophoto

SHEET = SHEETS["mat-a4"]
SIZE_PX = (2100, 1500)
ABOVE_MM = 250.0
FOCAL_PX = 7.0 * ABOVE_MM
FINE = 3
"""Drawn so many times finer, then averaged as a sensor does."""
TOLERANCE_MM = 0.06
PLACED_PX = 2.0
CUT_PLACED_PX = 6.0
"""A third of the cut bead lies outside the photo."""
COIN_REL = 0.012
"""Drawn without shading and shadow, which show the height of a piece: within its uncertainty, no nearer."""

COINS_MM = ((19.05, 1.52), (21.21, 1.95), (17.91, 1.35), (24.26, 1.75))
"""Diameter and thickness of cent, nickel, dime and quarter; US Mint (facts of the project)."""


@pytest.fixture
def camera() -> Camera:
    """Return a camera straight above the sheet's middle."""
    width, height = SHEET.page_mm
    parameters = np.array(
        [
            0,
            0,
            0,
            -width / 2,
            -height / 2,
            ABOVE_MM,
            math.log(FOCAL_PX),
            0,
            *(np.array(SIZE_PX) - 1) / 2,
            0,
            0,
        ]
    )
    return Camera(parameters=parameters, covariance=np.eye(12) * 1e-12)


def draw(camera: Camera, outlines: list[np.ndarray], *, noise: float = 0.004) -> Photo:
    """Draw convex bodies, each given by world points (N, 3), on grey paper; evenly lit, without shading."""
    columns, rows = SIZE_PX
    light = np.full((rows * FINE, columns * FINE, 3), 0.7, np.float32)
    assert SHEET.bed_mm is not None
    left, top, right, bottom = SHEET.bed_mm
    corners = np.array([[left, top, 0], [right, top, 0], [right, bottom, 0], [left, bottom, 0]])
    for points, colour in [(corners, (0.35, 0.35, 0.35)), *((o, (0.5, 0.2, 0.05)) for o in outlines)]:
        fine = (camera.project(points) + 0.5) * FINE - 0.5
        hull = cv2.convexHull(np.round(fine * 16).astype(np.int32))
        cv2.fillPoly(light, [hull], colour, cv2.LINE_8, 4)
    seen = cv2.resize(light, SIZE_PX, interpolation=cv2.INTER_AREA)
    seen = cv2.GaussianBlur(seen, (0, 0), 0.8)
    seen += np.random.default_rng(8).normal(0, noise, seen.shape).astype(np.float32)
    return Photo(name="drawn.jpg", rgb=to_srgb(seen))


def ball(camera: Camera, x: float, y: float, diameter: float) -> np.ndarray:
    centre = np.array([x, y, diameter / 2])
    return ellipsoid_outline(centre, np.eye(3) * diameter / 2, camera.centre_mm, points=400)


def coin(x: float, y: float, diameter: float, thickness: float) -> np.ndarray:
    angle = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    rim = diameter / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1) + (x, y)
    return np.vstack([np.column_stack([rim, np.full(len(rim), h)]) for h in (0.0, thickness)])


def measure(photo: Photo, camera: Camera) -> tuple[tuple[LooseBead, ...], bool]:
    lot = lot_of(Scene(photo=photo, camera=camera, sheet=SHEET, scale_rel_u=0.0002))
    return lot.beads, lot.flat


def test_scattered_and_touching_balls_measure_true(camera: Camera) -> None:
    places = [(50 + 21.0 * k, 50 + 11.0 * (k % 3)) for k in range(10)] + [(60, 120), (68, 120), (64, 126.93)]
    beads, flat = measure(draw(camera, [ball(camera, x, y, 8.0) for x, y in places]), camera)
    assert not flat
    assert len(beads) == len(places)
    sizes = np.array([[b.max_feret_mm, b.min_feret_mm] for b in beads])
    u95 = np.array([[b.max_feret_u95_mm, b.min_feret_u95_mm] for b in beads])
    assert sizes == pytest.approx(8.0, abs=TOLERANCE_MM)
    assert np.mean(np.abs(sizes - 8.0) < u95) >= 0.9
    truth = np.array([camera.project(np.array([x, y, 4.0])) for x, y in places])
    apart = np.linalg.norm(truth[:, None] - np.array([b.centre_px for b in beads])[None], axis=2)
    assert apart.min(axis=1).max() < PLACED_PX


def test_numbers_run_in_reading_order(camera: Camera) -> None:
    places = [(60, 60), (140, 63), (220, 58), (80, 120), (200, 118)]
    beads, _ = measure(draw(camera, [ball(camera, x, y, 10.0) for x, y in places]), camera)
    assert [b.number for b in beads] == [1, 2, 3, 4, 5]
    assert [round(b.centre_px[0]) for b in beads] == pytest.approx(
        [camera.project(np.array([x, y, 5.0]))[0] for x, y in places], abs=PLACED_PX
    )


def test_coins_are_flat_and_keep_their_diameters(camera: Camera) -> None:
    places = [(60, 60), (120, 60), (180, 60), (235, 60), (60, 140), (120, 140), (180, 140), (235, 140)]
    sizes = [*COINS_MM, *COINS_MM]
    photo = draw(camera, [coin(x, y, *size) for (x, y), size in zip(places, sizes, strict=True)])
    beads, flat = measure(photo, camera)
    assert flat
    for bead, (diameter, _) in zip(beads, sizes, strict=True):
        assert bead.max_feret_mm == pytest.approx(diameter, rel=COIN_REL)
        assert abs(bead.max_feret_mm - diameter) < bead.max_feret_u95_mm + TOLERANCE_MM


def test_a_bead_cut_by_the_photos_edge_is_flagged(camera: Camera) -> None:
    # a table top without borders: the card's sheet leaves the whole photo to the beads
    photo = draw(camera, [ball(camera, x, 100.0, 9.0) for x in (2.0, 150.0)])
    card = SHEETS["card"]
    lot = lot_of(Scene(photo=photo, camera=camera, sheet=card))
    assert (len(lot.beads), lot.flags) == (2, (UNSURE_COUNT,))
    beads = lot.beads
    cut, whole = sorted(beads, key=lambda bead: bead.centre_px[0])
    true_px = camera.project(np.array([2.0, 100.0, 4.5]))
    assert cut.centre_px == pytest.approx(true_px, abs=CUT_PLACED_PX)
    assert "cut-off" in cut.flags
    assert whole.flags == ()
    assert set(cut.flags) <= set(DESCRIPTIONS)


def test_half_of_a_bead_at_the_photos_edge_leaves_the_count_uncertain(camera: Camera) -> None:
    balls = [ball(camera, 60.0 + 25 * k, 100.0, 12.0) for k in range(5)]
    photo = draw(camera, [ball(camera, 0.0, 100.0, 12.0), *balls])
    assert lot_of(Scene(photo=photo, camera=camera, sheet=SHEETS["card"])).flags == (UNSURE_COUNT,)


@pytest.mark.parametrize(
    ("kind", "seen"), [(8, 0.01), (4, 0.3), (4, 0.01)], ids=["a coin", "a ring", "a ring unlike a bead"]
)
def test_a_bead_that_the_map_takes_for_another_thing_is_one_by_the_photo_and_doubted(
    camera: Camera, monkeypatch: pytest.MonkeyPatch, kind: int, seen: float
) -> None:
    photo = draw(camera, [ball(camera, x, 100.0, 12.0) for x in (60.0, 100.0, 140.0, 200.0)])

    def mistaken(top: Orthophoto, where: np.ndarray, *, before: BeadMap | None) -> BeadMap:
        maps = bead_map(top, where, before=before)
        right = np.arange(maps.inside.shape[1]) > top.to_cells(np.array([170.0, 100.0]))[0]
        kinds = maps.kinds.copy()
        kinds[1, :, right], kinds[kind, :, right] = kinds[kind, :, right], kinds[1, :, right]
        return replace(maps, inside=np.where(right, seen * maps.inside, maps.inside), kinds=kinds)

    monkeypatch.setattr("vision.topview.reading.bead_map", mistaken)
    lot = lot_of(Scene(photo=photo, camera=camera, sheet=SHEET, scale_rel_u=0.0002))
    assert (len(lot.beads), lot.flags, lot.others) == (4, (UNSURE_COUNT,), ())
    true_px = camera.project(np.array([200.0, 100.0, 6.0]))
    assert lot.beads[-1].centre_px == pytest.approx(true_px, abs=CUT_PLACED_PX)


@pytest.mark.parametrize(("probability", "count", "flags"), [(1.0, 2, ()), (0.7, 2, (UNSURE_COUNT,))])
def test_count_is_certain_where_all_is_surely_bead_or_surely_bed(
    camera: Camera, monkeypatch: pytest.MonkeyPatch, probability: float, count: int, flags: tuple[str, ...]
) -> None:
    photo = draw(camera, [ball(camera, 100.0, 100.0, 12.0), ball(camera, 150.0, 100.0, 12.0)])

    def fainter(top: Orthophoto, where: np.ndarray, *, before: BeadMap | None) -> BeadMap:
        maps = bead_map(top, where, before=before)
        return replace(maps, inside=(probability * maps.inside).astype(np.float32))

    monkeypatch.setattr("vision.topview.reading.bead_map", fainter)
    lot = lot_of(Scene(photo=photo, camera=camera, sheet=SHEET, scale_rel_u=0.0002))
    assert (len(lot.beads), lot.flags) == (count, flags)


@pytest.mark.parametrize(("support", "u_mm"), [(1.0, 1.1), (0.1, 0.1)])
def test_a_size_known_to_no_better_than_a_quarter_is_refused(support: float, u_mm: float) -> None:
    widths = np.array([9.0, 8.0])

    def taken(support: float, u_mm: float) -> bool:
        bead = cast("TracedBead", SimpleNamespace(support=support, contact=0.0))
        return measurable(bead, widths_mm=widths, u_mm=np.array([0.1, u_mm]))

    assert not taken(support, u_mm)
    assert taken(1.0, 0.9)


def test_a_line_on_the_bed_is_no_bead(camera: Camera) -> None:
    s = np.linspace(0, 1, 100)
    edge = np.column_stack([70 + 60 * s, np.full(100, 120.0), np.zeros(100)])
    line = np.vstack([edge, np.add(edge[::-1], [0.0, 0.8, 0.0])])
    beads, _ = measure(
        draw(camera, [line, *(ball(camera, 60.0 + 25 * k, 60.0, 8.0) for k in range(5))]), camera
    )
    assert len(beads) == 5


def test_a_long_strip_is_no_bead(camera: Camera) -> None:
    strip = np.array([[60.0, 110.0, 0], [140.0, 110.0, 0], [140.0, 118.0, 0], [60.0, 118.0, 0]])
    beads, _ = measure(
        draw(camera, [strip, *(ball(camera, 60.0 + 25 * k, 60.0, 8.0) for k in range(5))]), camera
    )
    assert len(beads) == 5


def test_an_empty_bed_is_refused_with_advice(camera: Camera) -> None:
    with pytest.raises(NoBeadsError, match="no beads"):
        measure(draw(camera, []), camera)
