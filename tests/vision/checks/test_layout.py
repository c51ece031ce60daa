"""Beads along curves of known form are strung; beads in a grid, or at random, are loose."""

import numpy as np
import pytest

from vision.checks.layout import looks_loose, looks_strung
from vision.common.records import FloatArray

BEAD_MM, BEADS = 8.0, 24


def along_circle(radius_mm: float, *, gap_mm: float = 0.0, beads: int = BEADS) -> FloatArray:
    """Return middles of beads on an arc, each one chord of a bead and a gap from the next."""
    step = 2 * np.arcsin((BEAD_MM + gap_mm) / (2 * radius_mm))
    angle = step * np.arange(beads)
    return radius_mm * np.column_stack([np.cos(angle), np.sin(angle)])


def seems_loose(count: int, *, gap_mm: float = 0.0, beside: int = 0) -> bool:
    along, gaps = np.full(count, BEAD_MM), np.full(count - 1, gap_mm)
    return looks_loose(along, gaps, seen_beside=beside)


def at_random(seed: int, *, beads: int = BEADS) -> FloatArray:
    """Return middles of beads that do not overlap, in the order of a walk from each to the nearest left."""
    rng, placed = np.random.default_rng(seed), [np.zeros(2)]
    while len(placed) < beads:
        place = rng.uniform(0, 80, 2)
        if min(np.hypot(*(place - other)) for other in placed) > BEAD_MM:
            placed.append(place)
    walk = [placed.pop()]
    while placed:
        walk.append(placed.pop(int(np.argmin([np.hypot(*(p - walk[-1])) for p in placed]))))
    return np.array(walk)


def test_a_few_spaced_beads_of_many_are_no_strand() -> None:
    assert seems_loose(5, gap_mm=20.0, beside=30)
    assert not seems_loose(5, gap_mm=20.0, beside=5)
    assert not seems_loose(5, beside=30)  # the first of several strands


def lengths(middles: FloatArray) -> FloatArray:
    return np.full(len(middles), BEAD_MM)


@pytest.mark.parametrize("radius_mm", [25.0, 60.0, 1e6])
def test_loose_beads_in_one_touching_row_look_strung(radius_mm: float) -> None:
    row = along_circle(radius_mm, beads=12)
    assert looks_strung(row, lengths(row))


@pytest.mark.parametrize("seed", range(8))
def test_scattered_beads_do_not_look_strung(seed: int) -> None:
    beads = at_random(seed)
    assert not looks_strung(beads, lengths(beads))


def test_neither_spread_beads_nor_a_block_nor_a_few_look_strung() -> None:
    spread = along_circle(1e6, gap_mm=5.0)
    block = BEAD_MM * np.stack(np.meshgrid(np.arange(4.0), np.arange(5.0)), axis=-1).reshape(-1, 2)
    few = along_circle(1e6, beads=5)
    assert not any(looks_strung(beads, lengths(beads)) for beads in (spread, block, few))
