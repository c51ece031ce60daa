"""Outlines of discs drawn on a bed, with glints and neighbours, where the network puts them a little off."""

import math

import cv2
import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from tests.helpers.srgb import to_srgb
from vision.camera.scene import Scene
from vision.common.records import Photo
from vision.lot.contour import Outline, trace
from vision.sheet.geometry import SHEETS
from vision.topview.orthophoto import orthophoto
from vision.topview.region import Fragment

CARD = SHEETS["card"]
SIZE_PX = (1120, 800)
PER_MM = 8.0
HEIGHT_MM = 300.0
CAMERA = camera_at(50.0, 35.0, HEIGHT_MM, focal_px=PER_MM * HEIGHT_MM, size_px=SIZE_PX)
CELLS_PER_MM = 5.0
FINE = 6
BLUR_PX = 0.7
BED, BEAD, GLINT = (0.45, 0.45, 0.44), (0.10, 0.18, 0.30), (0.95, 0.95, 0.95)
SOFT_MM, OFF_MM = 0.09, 0.10
"""How softly the network draws an outline, and how far off, on drawn rounds."""
RADIUS_MM = 0.04
"""A third of a pixel: twice the common uncertainty of a lone outline, as its finish is unknown."""
POINT_MM = 0.08
"""Any one point of an outline."""

Disc = tuple[float, float, float]
"""Middle (x, y) and radius, mm on the sheet."""
ALONE: Disc = (62.0, 28.0, 4.0)


def painted(discs: list[tuple[Disc, tuple[float, float, float]]]) -> Photo:
    """Photograph flat discs lying on a bed, each in its colour of linear light, the last one on top."""
    light = np.full((SIZE_PX[1] * FINE, SIZE_PX[0] * FINE, 3), BED, np.float32)
    for (x, y, radius), colour in discs:
        centre = (CAMERA.project(np.array([x, y, 0.0])) + 0.5) * FINE - 0.5
        at = [round(float(v) * 256) for v in centre]
        cv2.circle(light, at, round(radius * PER_MM * FINE * 256), colour, cv2.FILLED, cv2.LINE_8, 8)
    seen = cv2.resize(light, SIZE_PX, interpolation=cv2.INTER_AREA)
    seen = cv2.GaussianBlur(seen, (0, 0), BLUR_PX)
    seen += np.random.default_rng(5).normal(0, 0.003, seen.shape).astype(np.float32)
    return Photo(name="discs.png", rgb=to_srgb(seen))


def traced(photo: Photo, discs: list[Disc], *, off_mm: float = 0.0) -> list[Outline]:
    """Trace discs whose outlines the network puts `off_mm` too far out; touching ones meet midway."""
    scene = Scene(photo=photo, camera=CAMERA, sheet=CARD)
    top = orthophoto(scene, finest_cells_per_mm=CELLS_PER_MM)
    rows, columns = np.mgrid[: top.rgb.shape[0], : top.rgb.shape[1]]
    cells = top.to_mm(np.stack([columns, rows], axis=-1))
    beyond = np.array([np.hypot(cells[..., 0] - x, cells[..., 1] - y) - r - off_mm for x, y, r in discs])
    inside = (1 / (1 + np.exp(np.clip(beyond.min(axis=0) / SOFT_MM, -30, 30)))).astype(np.float32)
    nearest = beyond.argmin(axis=0)
    beads = [_fragment((inside > 0.5) & (nearest == k)) for k in range(len(discs))]
    return trace(scene, top, beads=beads, inside=inside)


def _fragment(mask: np.ndarray) -> Fragment:
    x, y, w, h = cv2.boundingRect(mask.astype(np.uint8))
    return Fragment(mask=mask[y : y + h, x : x + w], corner=(x, y))


def radii(outline: Outline, disc: Disc) -> np.ndarray:
    """Return the distances of an outline's points from a disc's true middle, mm."""
    ground = CAMERA.to_plane(outline.points_px, 0.0)
    return np.linalg.norm(ground - disc[:2], axis=1)


def test_top_view_covers_the_discs() -> None:
    scene = Scene(photo=painted([]), camera=CAMERA, sheet=CARD)
    top = orthophoto(scene, finest_cells_per_mm=CELLS_PER_MM)
    assert top.cells_per_mm == pytest.approx(CELLS_PER_MM)
    assert top.rgb.shape[0] != top.rgb.shape[1]


@pytest.mark.parametrize("off_mm", [-OFF_MM, 0.0, OFF_MM])
@pytest.mark.parametrize("radius", [1.5, 4.0, 9.0])
def test_the_outline_of_a_disc_is_its_rim(radius: float, off_mm: float) -> None:
    disc = (*ALONE[:2], radius)
    [outline] = traced(painted([(disc, BEAD)]), [disc], off_mm=off_mm)
    assert np.median(radii(outline, disc)) == pytest.approx(radius, abs=RADIUS_MM)
    assert radii(outline, disc) == pytest.approx(radius, abs=POINT_MM)
    assert outline.seen.all()
    assert not outline.contact.any()


@pytest.mark.parametrize("off_mm", [-OFF_MM, 0.0, OFF_MM])
@pytest.mark.parametrize("inside_mm", [0.3, 0.5, 1.0])
def test_the_outline_runs_along_the_rim_and_not_along_a_glint(inside_mm: float, off_mm: float) -> None:
    """The glint is far brighter than bed and bead, and its edge far sharper than the rim."""
    x, y, radius = ALONE
    spots = [(x + (radius - 1.2 - inside_mm) * sign, y, 1.2) for sign in (-1, 1)]
    photo = painted([(ALONE, BEAD), *((spot, GLINT) for spot in spots)])
    [outline] = traced(photo, [ALONE], off_mm=off_mm)
    assert np.median(radii(outline, ALONE)) == pytest.approx(radius, abs=RADIUS_MM)
    assert radii(outline, ALONE) == pytest.approx(radius, abs=POINT_MM)


@pytest.mark.parametrize("gap_mm", [0.0, 3.0])
def test_contact_is_where_a_neighbour_touches(gap_mm: float) -> None:
    x, y, radius = ALONE
    turn = math.radians(25)
    apart = 2 * radius + gap_mm
    other = (x + apart * math.cos(turn), y + apart * math.sin(turn), radius)
    photo = painted([(ALONE, BEAD), (other, BEAD)])
    outlines = traced(photo, [ALONE, other])
    for outline, disc, towards in zip(outlines, (ALONE, other), (turn, turn + math.pi), strict=True):
        ground = CAMERA.to_plane(outline.points_px, 0.0) - disc[:2]
        aside = np.abs((np.arctan2(ground[:, 1], ground[:, 0]) - towards + math.pi) % (2 * math.pi) - math.pi)
        # two discs are nearer than 0.3 mm to each other within 16 degrees: 2 r (1 - cos a) = 0.3
        assert outline.contact[aside < math.radians(8)].all() == (gap_mm == 0)
        assert not outline.contact[aside > math.radians(30)].any()
        assert not (outline.seen & outline.contact).any()
        clear = aside > math.radians(30)
        assert np.median(radii(outline, disc)[clear]) == pytest.approx(radius, abs=RADIUS_MM)


def test_many_outlines_of_one_photo_keep_their_order() -> None:
    discs = [(10.0 + 20 * k, -12.0, 2.0 + 0.7 * k) for k in range(5)]
    outlines = traced(painted([(d, BEAD) for d in discs]), discs)
    assert [np.median(radii(o, d)) for o, d in zip(outlines, discs, strict=True)] == pytest.approx(
        [d[2] for d in discs], abs=RADIUS_MM
    )
