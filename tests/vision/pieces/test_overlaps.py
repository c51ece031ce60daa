"""Which beads lie on others, on cells of discs laid by hand."""

import numpy as np
import pytest

from vision.pieces.merge import mark_overlaps
from vision.topview.region import Fragment

SHAPE = (120, 170)
RADIUS = 20.0


def cells(x: float, y: float = 60.0, radius: float = RADIUS) -> np.ndarray:
    """Return which cells a disc covers."""
    rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]]
    return np.asarray((columns - x) ** 2 + (rows - y) ** 2 <= radius**2)


def fragment(mask: np.ndarray) -> Fragment:
    rows, columns = np.nonzero(mask)
    top, left = int(rows.min()), int(columns.min())
    return Fragment(mask=mask[top : rows.max() + 1, left : columns.max() + 1], corner=(left, top))


def marks(*masks: np.ndarray) -> list[tuple[bool, bool]]:
    """Return for each mask, the last on top of all, whether it lies under and over another."""
    seen = [mask & ~np.any([*masks[k + 1 :], np.zeros(SHAPE, bool)], axis=0) for k, mask in enumerate(masks)]
    return [(f.under, f.over) for f in mark_overlaps([fragment(m) for m in seen], shape=SHAPE)]


def test_beads_that_touch_lie_neither_under_nor_over_another() -> None:
    packed = [cells(60), cells(60 + 2 * RADIUS), cells(60 + RADIUS, 60 - np.sqrt(3) * RADIUS)]
    assert marks(*packed) == [(False, False)] * 3


def test_a_large_bead_beside_a_small_one_does_not_lie_under_it() -> None:
    assert marks(cells(60), cells(60 + RADIUS + 6, radius=6.0)) == [(False, False)] * 2


@pytest.mark.parametrize("apart", [0.8, 1.0, 1.3])
def test_of_two_beads_one_on_the_other_the_lower_is_hollow(apart: float) -> None:
    lower, upper = cells(60), cells(60 + apart * RADIUS)
    assert marks(lower, upper) == [(True, False), (False, True)]


def test_a_bead_on_two_others_lies_over_both() -> None:
    lower, other, upper = cells(50), cells(50 + 2 * RADIUS), cells(50 + RADIUS, 60 + 0.5 * RADIUS)
    assert marks(lower, other, upper) == [(True, False), (True, False), (False, True)]


def test_no_beads_lie_on_each_other_where_there_are_none() -> None:
    assert mark_overlaps([], shape=SHAPE) == []
