"""Where beads may lie, and which blocks they cover, on maps and top views made by hand; never square."""

import cv2
import numpy as np
import pytest

from vision.sheet.geometry import SHEETS
from vision.topview.bead_map import BeadMap
from vision.topview.bed import bed_region
from vision.topview.blocks import Blocks, bead_blocks, disc, thick_part
from vision.topview.instances import possible_beads
from vision.topview.orthophoto import Orthophoto

MAT, CARD = SHEETS["mat-a4"], SHEETS["card"]
CELLS_PER_MM = 5.0
ORIGIN_MM = (12.0, -7.0)
BLOCK_MM = 0.6
"""A little more than the side of a block."""
PLACED_MM = 0.1
"""The middle of a disc of many blocks is known far better."""


def top_view(shape: tuple[int, int], *, origin_mm: tuple[float, float] = ORIGIN_MM) -> Orthophoto:
    return Orthophoto(
        rgb=np.zeros((*shape, 3), np.uint8),
        seen=np.ones(shape, dtype=bool),
        origin_mm=origin_mm,
        cells_per_mm=CELLS_PER_MM,
        height_mm=0.0,
    )


def blocks_of(inside: np.ndarray) -> Blocks:
    maps = BeadMap(inside=inside, depth=inside)
    return bead_blocks(top_view(inside.shape), maps, beads=possible_beads(maps, per_mm=CELLS_PER_MM))


def with_discs(*places: tuple[float, float, float]) -> np.ndarray:
    """Return a map, (300, 460), of discs at (x, y) of diameter d, mm: likely within, unlikely without."""
    x, y = np.meshgrid(
        np.arange(460) / CELLS_PER_MM + ORIGIN_MM[0], np.arange(300) / CELLS_PER_MM + ORIGIN_MM[1]
    )
    beyond = np.min([np.hypot(x - a, y - b) - d / 2 for a, b, d in places], axis=0)
    return (1 / (1 + np.exp(8 * beyond))).astype(np.float32)


def blobs(mask: np.ndarray, blocks: Blocks) -> list[tuple[float, float, float]]:
    """Return (x, y, area) of the parts of a mask, mm and mm2, left to right."""
    _, _, stats, middles = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    area = stats[1:, cv2.CC_STAT_AREA] / blocks.per_mm**2
    return sorted((*blocks.to_mm(m), size) for m, size in zip(middles[1:], area, strict=True))


def test_discs_are_found_where_they_lie() -> None:
    places = [(25.0, 10.0, 4.0), (50.0, 30.0, 8.0), (80.0, 15.0, 12.0)]
    blocks = blocks_of(with_discs(*places))
    found = blobs(blocks.mask, blocks)
    assert len(found) == len(places)
    for (x, y, area), (true_x, true_y, d) in zip(found, places, strict=True):
        assert (x, y) == pytest.approx((true_x, true_y), abs=PLACED_MM)
        assert np.sqrt(4 * area / np.pi) == pytest.approx(d, abs=BLOCK_MM)
    assert blobs(blocks.sure, blocks) == found


def test_blocks_of_low_probability_are_not_sure() -> None:
    blocks = blocks_of(0.7 * with_discs((50.0, 20.0, 8.0)))
    assert blocks.mask.any()
    assert not blocks.sure.any()


def test_a_map_of_nothing_has_no_blocks() -> None:
    blocks = blocks_of(np.full((123, 234), 0.4, np.float32))
    assert not blocks.mask.any()


def test_wire_is_taken_away_and_bead_kept() -> None:
    inside = with_discs((50.0, 20.0, 8.0))
    inside[130:138] = 1.0  # 1.6 mm
    blocks = blocks_of(inside)
    assert np.ptp(np.nonzero(blocks.mask)[1]) > 0.9 * blocks.mask.shape[1]
    [(x, y, _)] = blobs(thick_part(blocks, width_mm=2.5), blocks)
    assert (x, y) == pytest.approx((50.0, 20.0), abs=BLOCK_MM)


def sheet_view(sheet_name: str) -> tuple[Orthophoto, np.ndarray]:
    """Return a top view of a sheet and of 20 mm of table round it, all seen, and its bed."""
    sheet = SHEETS[sheet_name]
    width, height = sheet.page_mm
    shape = round((height + 40) * CELLS_PER_MM), round((width + 40) * CELLS_PER_MM)
    top = top_view(shape, origin_mm=(-20.0, -20.0))
    return top, bed_region(top, sheet, scale=1.0)


def shown(region: np.ndarray, top: Orthophoto, x: float, y: float) -> bool:
    column, row = np.round(top.to_cells(np.array([x, y]))).astype(int)
    return bool(region[row, column])


def test_no_bead_lies_on_the_tags_of_a_mat_or_off_its_page() -> None:
    top, region = sheet_view("mat-a4")
    assert MAT.bed_mm is not None
    assert not any(shown(region, top, *centre) for centre in MAT.centres_mm)
    assert not any(shown(region, top, *MAT.corners_mm(tag).min(axis=0) - 0.3) for tag in MAT.ids)
    assert not shown(region, top, -10.0, 100.0)
    left, up, right, down = MAT.bed_mm
    for x, y in ((left, up), (right, down), (left, down), (right, up)):
        assert shown(region, top, x + np.sign(150 - x) * 2.0, y + np.sign(100 - y) * 2.0)


def test_round_a_card_beads_may_lie_anywhere_but_on_it() -> None:
    top, region = sheet_view("card")
    width, height = CARD.page_mm
    assert shown(region, top, -10.0, height / 2)
    assert shown(region, top, width / 2, height + 10.0)
    assert not shown(region, top, width / 2, height / 2)


def test_where_the_photo_does_not_reach_no_bead_may_lie() -> None:
    top, _ = sheet_view("mat-a4")
    top.seen[:, : top.seen.shape[1] // 2] = False
    region = bed_region(top, MAT, scale=1.0)
    assert not region[:, : top.seen.shape[1] // 2].any()
    assert region.any()


def test_disc_is_round_and_at_least_a_cell_wide() -> None:
    assert disc(0.2).tolist() == [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    kernel = disc(6.0)
    assert kernel.shape == (13, 13)
    assert kernel.sum() == pytest.approx(np.pi * 6.0**2, rel=0.02)  # cells whose centre lies within
    assert np.array_equal(kernel, kernel.T)
