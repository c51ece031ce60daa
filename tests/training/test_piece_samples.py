"""What a piece of a drawn table is follows from which beads its cells show."""

import cv2
import numpy as np
import pytest

from tests.rendering.views import HIDDEN
from tests.training.piece_samples import judged, read
from vision.pieces.second_look import CELLS, Whole
from vision.topview.kinds import Kind
from vision.topview.region import Fragment

SHAPE = (40, 120)
BEADS = {1: slice(10, 30), 2: slice(30, 50)}
"""Columns of two beads that touch, of 20 rows from the tenth on."""
FELT, WHITE, RADIUS, COUNT = 70, 225, 18, 12


def table() -> tuple[np.ndarray, np.ndarray]:
    owner = np.zeros(SHAPE, np.uint8)
    for number, columns in BEADS.items():
        owner[10:30, columns] = number
    return owner, np.where(owner > 0, np.uint8(Kind.BEAD), np.uint8(Kind.BED))


def piece(left: int, right: int) -> Fragment:
    return Fragment(mask=np.ones((20, right - left), dtype=bool), corner=(left, 10))


@pytest.mark.parametrize(
    ("left", "right", "what"),
    [
        (10, 30, Whole.ONE),
        (10, 26, Whole.ONE),
        (10, 18, Whole.PART),
        (10, 50, Whole.SEVERAL),
        (60, 80, Whole.NONE),
        (47, 67, Whole.NONE),
        (4, 30, Whole.ONE),
        (44, 56, None),
    ],
)
def test_a_piece_is_what_its_cells_show(left: int, right: int, what: Whole | None) -> None:
    assert judged(piece(left, right), *table()) is what


def test_of_a_bead_that_nobody_could_make_out_nothing_is_learnt() -> None:
    owner, kind = table()
    kind[owner == 1] = HIDDEN
    assert judged(piece(10, 30), owner, kind) is None
    assert judged(piece(30, 50), owner, kind) is Whole.ONE


def test_white_discs_on_felt_are_told_to_be_beads() -> None:
    owner = np.zeros((220, 280), np.uint8)
    for number in range(COUNT):
        cv2.circle(owner, (40 + 65 * (number % 4), 40 + 65 * (number // 4)), RADIUS, number + 1, cv2.FILLED)
    codes = np.where(owner > 0, WHITE, FELT).astype(np.uint8)
    rgb = np.repeat(cv2.GaussianBlur(codes, (0, 0), 1.0)[..., None], 3, axis=2)
    told = read({"rgb": rgb, "owner": owner, "kind": (owner > 0).astype(np.uint8)}, np.random.default_rng(1))
    assert told is not None
    count = len(told["what"])
    assert told["seen"].shape[:3] == (count, CELLS, CELLS)
    assert set(told["what"][told["sort"] == 0]) == {Whole.ONE}
    assert set(told["what"][told["sort"] == 2]) <= {Whole.SEVERAL}
