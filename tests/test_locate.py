"""What lies on a bed and what does not, on top views painted by hand."""

import cv2
import numpy as np
import pytest

from vision.locate import Surroundings, disc, solid_mask, survey, thick_part
from vision.orthophoto import Orthophoto
from vision.sheet import SHEETS

MAT = SHEETS["mat-a4"]
CELLS_PER_MM = 5.0
BLOCK_MM = 0.6
ROUND_ABOUT_MM = 1.2
"""A mask says where to look: blocks of half a millimetre, edges with their blur."""
SMALLEST_MM2 = 8.0
"""What is smaller than a 3 mm bead is dust."""
BEDS = {"white": (225, 224, 220), "grey": (125, 126, 128), "felt": (58, 56, 54)}
GRAIN = {"white": 1.5, "grey": 1.5, "felt": 4.0}


def bed_only(bed: str = "white", *, seed: int = 1) -> np.ndarray:
    """Paint a mat's page: white paper, the bed in its colour and grain, light falling off to the right."""
    rng = np.random.default_rng(seed)
    rows, columns = (round(side * CELLS_PER_MM) for side in MAT.page_mm[::-1])
    rgb = np.full((rows, columns, 3), 226.0)
    left, top, right, bottom = (round(edge * CELLS_PER_MM) for edge in MAT.bed_mm)
    rgb[top:bottom, left:right] = BEDS[bed]
    noise = rng.normal(0, 1, (rows, columns)).astype(np.float32)
    rgb += GRAIN[bed] * 2 * cv2.GaussianBlur(noise, (0, 0), 0.8)[..., None]
    rgb *= np.linspace(1.0, 0.85, columns)[None, :, None]
    return np.clip(rgb, 0, 255).astype(np.uint8)


def put(rgb: np.ndarray, at_mm: tuple[float, float], d_mm: float, colour: tuple[int, int, int]) -> None:
    centre = tuple(round(v * CELLS_PER_MM * 16) for v in at_mm)
    cv2.circle(rgb, centre, round(d_mm / 2 * CELLS_PER_MM * 16), colour, cv2.FILLED, cv2.LINE_AA, 4)


def seen(rgb: np.ndarray) -> Surroundings:
    rgb = cv2.GaussianBlur(rgb, (0, 0), 0.8)
    top = Orthophoto(
        rgb=rgb,
        seen=np.ones(rgb.shape[:2], dtype=bool),
        origin_mm=(0.0, 0.0),
        cells_per_mm=CELLS_PER_MM,
        height_mm=0.0,
    )
    return survey(top, MAT, scale=1.0)


def blobs(mask: np.ndarray, around: Surroundings) -> list[tuple[float, float, float]]:
    """Return (x, y, area) of the parts of a mask, mm and mm2, left to right."""
    _, _, stats, middles = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    area = stats[1:, cv2.CC_STAT_AREA] / around.blocks_per_mm**2
    found = [(*around.to_mm(m), size) for m, size in zip(middles[1:], area, strict=True)]
    return sorted(blob for blob in found if blob[2] > SMALLEST_MM2)


@pytest.mark.parametrize("bed", list(BEDS))
def test_bare_bed_holds_nothing(bed: str) -> None:
    around = seen(bed_only(bed))
    assert blobs(thick_part(solid_mask(around), around, width_mm=2.0), around) == []


@pytest.mark.parametrize(
    ("bed", "colour"),
    [
        ("white", (30, 60, 150)),
        ("white", (10, 10, 12)),
        ("white", (200, 170, 120)),
        ("grey", (250, 250, 250)),
        ("grey", (170, 110, 115)),
        ("felt", (170, 40, 40)),
        ("felt", (250, 250, 250)),
    ],
)
def test_discs_are_found_where_they_lie(bed: str, colour: tuple[int, int, int]) -> None:
    rgb = bed_only(bed)
    places = [(80.0, 60.0, 4.0), (140.0, 120.0, 8.0), (210.0, 90.0, 12.0)]
    for x, y, d in places:
        put(rgb, (x, y), d, colour)
    around = seen(rgb)
    found = blobs(thick_part(solid_mask(around), around, width_mm=2.0), around)
    assert len(found) == len(places)
    for (x, y, area), (true_x, true_y, d) in zip(found, places, strict=True):
        assert (x, y) == pytest.approx((true_x, true_y), abs=BLOCK_MM)
        assert np.sqrt(4 * area / np.pi) == pytest.approx(d, abs=2 * ROUND_ABOUT_MM)


def test_wire_is_taken_away_and_bead_kept() -> None:
    rgb = bed_only("grey")
    cv2.line(rgb, (300, 500), (1100, 520), (60, 60, 62), round(0.6 * CELLS_PER_MM))
    put(rgb, (140.0, 102.0), 8.0, (150, 30, 40))
    around = seen(rgb)
    found = blobs(thick_part(solid_mask(around), around, width_mm=2.0), around)
    assert len(found) == 1
    assert found[0][:2] == pytest.approx((140.0, 102.0), abs=BLOCK_MM)


def test_soft_shadow_is_no_bead() -> None:
    rgb = bed_only("white").astype(float)
    y, x = np.mgrid[0 : rgb.shape[0], 0 : rgb.shape[1]] / CELLS_PER_MM
    shade = 1 - 0.4 * np.exp(-(((x - 150) / 18) ** 2 + ((y - 100) / 12) ** 2))
    around = seen((rgb * shade[..., None]).astype(np.uint8))
    assert blobs(thick_part(solid_mask(around), around, width_mm=2.0), around) == []


def test_tags_and_printed_borders_are_known() -> None:
    around = seen(bed_only())
    for centre in MAT.centres_mm:
        column, row = np.round((centre - around.origin_mm) * around.blocks_per_mm).astype(int)
        assert around.known[row, column]
        assert around.ratio[row, column] == 0
    column, row = np.round((np.array([148.5, 105.0]) - around.origin_mm) * around.blocks_per_mm).astype(int)
    assert not around.known[row, column]


def test_disc_is_round_and_at_least_a_cell_wide() -> None:
    assert disc(0.2).tolist() == [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    kernel = disc(6.0)
    assert kernel.shape == (13, 13)
    assert kernel.sum() == pytest.approx(np.pi * 6.0**2, rel=0.02)  # cells whose centre lies within
    assert np.array_equal(kernel, kernel.T)
