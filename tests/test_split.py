"""Beads drawn as discs, ovals and bars on an even bed are parted one by one."""

import cv2
import numpy as np
import pytest

from vision.bed import study_bed
from vision.fragment import Fragment
from vision.orthophoto import Orthophoto
from vision.sheet import SHEETS
from vision.split import bead_regions

PER_MM = 6.0
SHEET = SHEETS["mat-a4"]
PLACED_MM = 0.6
EDGE_SHARE = 0.2
"""A region holds the blurred edge too: a fifth of a millimetre all round."""


def bed(grain: float = 2.0) -> np.ndarray:
    """Return a bare top view of the sheet, (H, W, 3): paper with a grey bed, a little noisy."""
    width, height = (round(side * PER_MM) for side in SHEET.page_mm)
    image = np.full((height, width, 3), 235.0)
    assert SHEET.bed_mm is not None
    left, top, right, bottom = (round(edge * PER_MM) for edge in SHEET.bed_mm)
    image[top:bottom, left:right] = 160.0
    noise = np.random.default_rng(2).normal(0, grain, image.shape[:2])
    return image + cv2.GaussianBlur(noise, (0, 0), 0.7)[..., None]


def found(image: np.ndarray) -> list[Fragment]:
    top = Orthophoto(
        rgb=np.clip(image, 0, 255).astype(np.uint8),
        seen=np.ones(image.shape[:2], dtype=bool),
        origin_mm=(0.0, 0.0),
        cells_per_mm=PER_MM,
        height_mm=0.0,
    )
    return bead_regions(study_bed(top, SHEET, scale=1.0))


def draw(image: np.ndarray, x: float, y: float, semi: tuple[float, float], *, tilt: float = 0.0) -> None:
    """Draw an orange oval, anti-aliased, its place and semi-axes in mm."""
    centre = (round(16 * (x * PER_MM)), round(16 * (y * PER_MM)))
    axes = (round(16 * semi[0] * PER_MM), round(16 * semi[1] * PER_MM))
    cv2.ellipse(image, centre, axes, tilt, 0, 360, (200, 120, 40), cv2.FILLED, cv2.LINE_AA, 4)


def centres(fragments: list[Fragment]) -> np.ndarray:
    boxes = [(f.hull.min(axis=0) + f.hull.max(axis=0)) / 2 / PER_MM for f in fragments]
    return np.array(sorted(boxes, key=lambda p: (round(p[0]), p[1])))


def test_a_bare_bed_holds_nothing() -> None:
    assert found(bed()) == []


def test_a_shadow_is_no_bead() -> None:
    image = bed()
    shade = np.zeros(image.shape[:2])
    cv2.circle(shade, (600, 600), 40, 1.0, cv2.FILLED)
    image *= (1 - 0.3 * cv2.GaussianBlur(shade, (0, 0), 12))[..., None]
    assert found(image) == []


@pytest.mark.parametrize("apart", [8.0, 8.6, 12.0])
def test_two_discs_touching_or_not_are_two(apart: float) -> None:
    image = bed()
    for x in (120.0, 120.0 + apart):
        draw(image, x, 95.0, (4.0, 4.0))
    assert centres(found(image)) == pytest.approx(
        np.array([[120.0, 95.0], [120 + apart, 95.0]]), abs=PLACED_MM
    )


def test_a_clump_of_ten_with_gaps_inside_is_ten() -> None:
    image = bed()
    rows = [(100.0, 90.0, 4), (104.0, 96.93, 3), (100.0, 103.86, 3)]
    for x, y in [(left + 8.0 * k, y) for left, y, count in rows for k in range(count)]:
        draw(image, x, y, (4.0, 4.0))
    assert len(found(image)) == 10


def test_a_large_and_a_small_disc_are_two() -> None:
    image = bed()
    draw(image, 120.0, 95.0, (7.0, 7.0))
    draw(image, 130.0, 95.0, (3.0, 3.0))
    sizes = sorted(f.area / PER_MM**2 for f in found(image))
    assert sizes == pytest.approx([np.pi * 9, np.pi * 49], rel=EDGE_SHARE)


def test_one_oval_and_one_bar_stay_one_each() -> None:
    image = bed()
    draw(image, 90.0, 95.0, (9.0, 5.0), tilt=30.0)
    corners = cv2.boxPoints(((160 * PER_MM, 95 * PER_MM), (24 * PER_MM, 10 * PER_MM), 20.0))
    cv2.fillPoly(image, [corners.astype(np.int32)], (60, 90, 190))
    assert centres(found(image)) == pytest.approx(np.array([[90.0, 95.0], [160.0, 95.0]]), abs=PLACED_MM)


def test_a_grey_disc_with_the_bright_look_of_paper_is_found_by_its_edge() -> None:
    image = bed()
    cv2.circle(image, (700, 600), 30, (120.0, 120.0, 120.0), cv2.FILLED, cv2.LINE_AA)
    (only,) = found(image)
    assert centres([only])[0] * PER_MM == pytest.approx([700, 600], abs=2.0)


def test_a_disc_of_the_beds_colour_and_its_facets_is_one_by_its_rim() -> None:
    image = bed()
    at, turn = np.array([700.0, 600.0]), np.arange(6) * np.pi / 3
    corners = at + 30 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    for corner in corners:
        cv2.line(
            image, (700, 600), tuple(np.round(corner).astype(int).tolist()), (200.0,) * 3, 2, cv2.LINE_AA
        )
    cv2.circle(image, (700, 600), 30, (100.0, 100.0, 100.0), 2, cv2.LINE_AA)
    (only,) = found(image)
    assert centres([only])[0] * PER_MM == pytest.approx(at, abs=PLACED_MM * PER_MM)
    assert only.area == pytest.approx(np.pi * 31**2, rel=EDGE_SHARE)
