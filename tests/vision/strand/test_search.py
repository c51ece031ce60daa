"""Which of several courses on a bed are rows of beads."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from vision.strand import search
from vision.strand.search import DividedStrand
from vision.strand.strip import Segment
from vision.topview.region import Fragment

BED = (60, 40)
WIDE, NARROW = slice(0, 40), slice(40, 60)
"""Rows of the bed on which a strand of few large beads lies, and one of many small ones."""


def bead(row: int) -> Fragment:
    return Fragment(mask=np.ones((3, 3), dtype=bool), corner=(5, row), probability=1.0)


def divided(course: object, count: int, from_above: list[Fragment]) -> DividedStrand:
    """Return a strand of so many beads, with what is seen from above near its string."""
    parts: dict[str, Any] = dict.fromkeys(("strip", "sides", "likely", "bare", "network"))
    segments = [Segment(start_mm=k, end_mm=k + 1.0, clarity=1.0) for k in range(count)]
    return DividedStrand(
        **parts,
        segments=segments,
        beads=slice(0, count),
        from_above=from_above,
        surely_seen=len(from_above),
        course=course,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("longest", ["wide", "narrow"])
def test_beads_of_a_strand_near_by_do_not_speak_against_a_wide_one(
    longest: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three large beads, and within their reach a strand of nine: seen alone, twelve contradict three."""
    large, small = [bead(row) for row in (5, 15, 25)], [bead(row) for row in range(41, 59, 2)]
    lengths_mm = {"wide": 30.0, "narrow": 20.0} | {longest: 50.0}
    wide, narrow = (SimpleNamespace(name=name, length_mm=lengths_mm[name]) for name in ("wide", "narrow"))
    rows = {"wide": divided(wide, 3, large + small), "narrow": divided(narrow, 9, small)}
    view = SimpleNamespace(above=SimpleNamespace(pieces=large + small))

    def under(_: object, row: DividedStrand, *__: object) -> np.ndarray:
        cells = np.zeros(BED, dtype=bool)
        cells[WIDE if row is rows["wide"] else NARROW] = True
        return cells

    monkeypatch.setattr(search, "_under", under)
    monkeypatch.setattr(search, "_lies_on", lambda *_: False)
    monkeypatch.setattr(search, "_divided_along", lambda _, course: rows[course.name])
    assert not search._is_a_row(rows["wide"])  # noqa: SLF001 - what is tested
    found = search._rows_on(view, [wide, narrow])  # type: ignore[arg-type,list-item]  # noqa: SLF001
    assert {id(row) for row in found} == {id(row) for row in rows.values()}
    own = search._apart_from(view, others=found, one=rows["wide"])  # type: ignore[arg-type]  # noqa: SLF001
    assert [id(each) for each in own.from_above] == [id(each) for each in large]
    assert own.surely_seen == len(large)
