"""Which beads, as seen from above, lie along a loop, and which hang from it."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vision.strand.axis import STEP_MM, Axis
from vision.strand.straightened import View
from vision.topview.region import Fragment

CELLS_PER_MM = 5.0
ROUND_MM, BEAD_MM = 200.0, 8.0
REACH_MM = 1.5 * BEAD_MM
SLACK_MM = 6.0
"""By how much an axis runs on beyond either end of a loop."""


def circle(along_mm: np.ndarray) -> np.ndarray:
    """Return places (N, 2) round a circle that is closed after 200 mm, its start at the right."""
    radius = ROUND_MM / (2 * np.pi)
    return 60.0 + radius * np.column_stack([np.cos(along_mm / radius), np.sin(along_mm / radius)])


def bead(x: float, y: float) -> Fragment:
    side = round(BEAD_MM * CELLS_PER_MM)
    corner = (round(x * CELLS_PER_MM - side / 2), round(y * CELLS_PER_MM - side / 2))
    return Fragment(mask=np.ones((side, side), dtype=bool), corner=corner, probability=0.9)


def seen_along(beads: list[Fragment], *, within: tuple[float, float]) -> list[Fragment]:
    """Return what is seen along a loop of 200 mm from above."""
    points = circle(np.arange(-SLACK_MM, ROUND_MM + SLACK_MM, STEP_MM))
    axis = Axis(points_mm=points, directions=np.gradient(points, STEP_MM, axis=0), straight=False)
    above: Any = SimpleNamespace(pieces=beads, top=SimpleNamespace(to_mm=lambda cells: cells / CELLS_PER_MM))
    nowhere: Any = None
    return View(scene=nowhere, above=above).beads_along(axis, REACH_MM, within=within)


@pytest.mark.parametrize("away_mm", [6.0, 9.0, 11.0])
def test_a_bead_that_hangs_where_a_loop_closes_is_none_of_its_beads(away_mm: float) -> None:
    loop = [bead(x, y) for x, y in circle(np.arange(BEAD_MM / 2, ROUND_MM, BEAD_MM))]
    x, y = circle(np.zeros(1))[0]
    tassel = bead(x + away_mm, y)
    assert seen_along([*loop, tassel], within=(SLACK_MM, SLACK_MM + ROUND_MM)) == loop
    assert len(seen_along([*loop, tassel], within=(-np.inf, np.inf))) == len(loop) + 1


def test_a_bead_that_lies_beside_a_loop_may_be_one_of_its_beads() -> None:
    loop = [bead(x, y) for x, y in circle(np.arange(BEAD_MM / 2, ROUND_MM, BEAD_MM))]
    x, y = circle(np.array([ROUND_MM / 2]))[0]
    found = seen_along([*loop, bead(x - 9.0, y), bead(x - 20.0, y)], within=(SLACK_MM, SLACK_MM + ROUND_MM))
    assert len(found) == len(loop) + 1
