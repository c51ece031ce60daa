"""Parts of a clasp at the ends of loops painted by hand."""

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.handmade import pieces_of, round_widths
from vision.common.records import PartKind
from vision.strand.axis import STEP_MM
from vision.strand.stoppers import Pieces, strung_range

BLUE, BLACK = (40, 60, 150), (30, 30, 32)


def loop_of(ends: list[float], strung: list[float], *, kind: PartKind = "bead") -> Pieces:
    """Lay ten rounds of 8 mm, and parts of these lengths after them, so likely strung; all lie on a loop."""
    width, places = round_widths([*[8.0] * 10, *ends])
    pieces = pieces_of(width, places, np.ones(len(width)), colours=[*[BLUE] * 10, *[BLACK] * len(ends)])
    shown = np.full(len(width), 0.98)
    for (a, b), share in zip(places[10:], strung, strict=True):
        shown[round(a / STEP_MM) : round(b / STEP_MM)] = share
    segments = [*pieces.segments[:10], *(replace(s, kind=kind) for s in pieces.segments[10:])]
    return replace(pieces, segments=segments, strung=shown)


def test_all_pieces_of_a_loop_without_a_clasp_are_strung() -> None:
    strung, chances = strung_range(loop_of([], []))
    assert strung == slice(0, 10)
    assert chances.min() > 0.9


@pytest.mark.parametrize(
    ("strung", "last"),
    [
        ([0.5], 10),
        ([0.5, 0.95, 0.5], 10),
        ([0.95], 11),
        ([0.95, 0.5], 11),
        ([0.5, 0.98], 10),
        ([0.9, 0.98], 12),
    ],
)
def test_parts_of_a_clasp_that_together_are_likelier_none_are_left_out(
    strung: list[float], last: int
) -> None:
    """What is so unlike all beads is one in ten times (common practice, no source)."""
    found, _ = strung_range(loop_of([4.0] * len(strung), strung))
    assert found == slice(0, last)


@pytest.mark.parametrize(("kind", "last"), [("cover", 11), ("bead", 10)])
def test_a_cover_is_strung_though_no_bead_is_like_it(kind: PartKind, last: int) -> None:
    assert strung_range(loop_of([3.0], [0.8], kind=kind))[0] == slice(0, last)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_of_a_few_pieces_none_is_left_out(count: int) -> None:
    width, places = round_widths([8.0] * count)
    found, chances = strung_range(pieces_of(width, places, np.zeros(len(width)), colours=[BLUE]))
    assert found == slice(0, count)
    assert len(chances) == count
