"""Sides of what shows on a strip, on maps whose widths are known by construction."""

import numpy as np
import pytest

from vision.strand.axis import STEP_MM
from vision.strand.sides import sides_of

ROWS, STEPS = 61, 90
ASIDE_MM = (np.arange(ROWS) - ROWS // 2) * STEP_MM
ROUNDING_MM = 1e-9


def bar(low_mm: float, high_mm: float) -> np.ndarray:
    """Return a map that shows a bar between two distances from the string; a cell is a step wide."""
    covered = np.clip((high_mm - ASIDE_MM) / STEP_MM + 0.5, 0, 1)
    covered -= np.clip((low_mm - ASIDE_MM) / STEP_MM + 0.5, 0, 1)
    return np.repeat(covered[:, None], STEPS, axis=1)


def test_a_bar_reaches_as_far_as_its_cells_show_it_in_parts() -> None:
    found = sides_of(bar(-1.23, 0.87))
    assert found.left_mm == pytest.approx(np.full(STEPS, -1.23), abs=ROUNDING_MM)
    assert found.right_mm == pytest.approx(np.full(STEPS, 0.87), abs=ROUNDING_MM)


def test_what_lies_apart_is_no_part_of_it() -> None:
    beside = bar(-1.2, 0.9) + bar(1.5, 2.4)
    assert sides_of(beside).width_mm == pytest.approx(np.full(STEPS, 2.1), abs=ROUNDING_MM)


def test_where_the_middle_shows_nothing_there_is_nothing() -> None:
    assert sides_of(bar(0.5, 1.5)).width_mm == pytest.approx(np.zeros(STEPS), abs=ROUNDING_MM)
