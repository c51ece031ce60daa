"""Round beads are told by their rims where regions do not part or join them."""

import cv2
import numpy as np
import pytest

from vision.discs import round_beads
from vision.fragment import Fragment

RADIUS = 24.0
PLACED = 2.0
"""Cells: the rings are looked for at one cell in three."""
ALONE = [(60.0 + 90 * k, 60.0) for k in range(6)]


def disc(x: float, y: float, radius: float = RADIUS) -> Fragment:
    low = np.floor([x - radius, y - radius]).astype(int)
    size = int(2 * radius) + 2
    row, column = np.mgrid[0:size, 0:size]
    return Fragment(
        mask=np.hypot(column + low[0] - x, row + low[1] - y) <= radius, corner=(int(low[0]), int(low[1]))
    )


def edges(middles: list[tuple[float, float]], radius: float = RADIUS) -> np.ndarray:
    """Return a map of edges: grain below 1, and sharp rims round the middles."""
    image = np.random.default_rng(4).uniform(0, 0.9, (420, 620)).astype(np.float32)
    for x, y in middles:
        at = (round(16 * x), round(16 * y))
        cv2.circle(image, at, round(16 * radius), 8.0, 2, cv2.LINE_AA, 4)
    return image


def one(parts: list[Fragment]) -> Fragment:
    """Return fragments as one."""
    mask = np.zeros((420, 620), bool)
    for f in parts:
        (x, y), (h, w) = f.corner, f.mask.shape
        mask[y : y + h, x : x + w] |= f.mask
    return Fragment(mask=mask, corner=(0, 0))


def middles(fragments: list[Fragment]) -> np.ndarray:
    """Return their middles by rows."""
    found = [np.argwhere(f.mask).mean(axis=0)[::-1] + f.corner for f in fragments]
    return np.array(sorted(found, key=lambda p: (round(p[1] / 20), p[0])))


def looked_at(found: list[Fragment], sharp: np.ndarray) -> list[Fragment]:
    return round_beads(found, sharp, np.ones(len(found), bool))


def test_a_clump_taken_for_one_becomes_its_beads() -> None:
    clump = [(200.0, 200.0), (248.0, 200.0), (224.0, 241.6)]
    found = [disc(*m) for m in ALONE] + [one([disc(*m) for m in clump])]
    beads = looked_at(found, edges(ALONE + clump))
    assert middles(beads) == pytest.approx(np.array(ALONE + clump), abs=PLACED)
    assert [f.ring for f in beads] == [False] * 6 + [True] * 3


def test_scraps_within_one_rim_become_one_bead() -> None:
    scraps = [disc(290.0, 300.0, 5.0), disc(310.0, 308.0, 6.0)]
    beads = looked_at([disc(*m) for m in ALONE] + scraps, edges([*ALONE, (300.0, 300.0)]))
    assert middles(beads) == pytest.approx(np.array([*ALONE, (300.0, 300.0)]), abs=PLACED)


def test_a_bead_seen_by_its_rim_alone_is_found() -> None:
    beads = looked_at([disc(*m) for m in ALONE], edges([*ALONE, (300.0, 300.0)]))
    assert middles(beads) == pytest.approx(np.array([*ALONE, (300.0, 300.0)]), abs=PLACED)


def test_the_gap_within_a_wreath_is_no_bead() -> None:
    turn = np.arange(6) * np.pi / 3
    wreath = [(300 + 2.05 * RADIUS * np.cos(t), 260 + 2.05 * RADIUS * np.sin(t)) for t in turn]
    found = [disc(*m) for m in ALONE + wreath]
    assert len(looked_at(found, edges(ALONE + wreath))) == len(found)


def test_a_clump_of_two_sizes_becomes_both() -> None:
    small = [(60.0 + 90 * k, 130.0) for k in range(6)]
    sharp = np.maximum(edges([*ALONE, (200.0, 260.0)]), edges([*small, (240.0, 260.0)], 16.0))
    clump = one([disc(200.0, 260.0), disc(240.0, 260.0, 16.0)])
    beads = looked_at([disc(*m) for m in ALONE] + [disc(*m, 16.0) for m in small] + [clump], sharp)
    assert middles(beads[12:]) == pytest.approx(np.array([(200.0, 260.0), (240.0, 260.0)]), abs=PLACED)
    small_cells, large_cells = sorted(f.area for f in beads[12:])
    assert large_cells / small_cells == pytest.approx((RADIUS / 16.0) ** 2, rel=0.2)


def test_what_stands_alone_stays_as_it_was() -> None:
    found = [disc(*m) for m in ALONE]
    assert looked_at(found, edges(ALONE)) == found


def test_too_few_beads_tell_no_size() -> None:
    found = [disc(*m) for m in ALONE[:3]]
    assert looked_at(found, edges([*ALONE[:3], (300.0, 300.0)])) == found
