"""Courses of strings on beds laid by hand."""

import math

import numpy as np
import pytest

from tests.vision.chains.laid import PER_MM, Place, View, ring, row
from vision.chains.courses import Course, courses_on
from vision.chains.strings import strings_of
from vision.topview.bead_map import BeadMap
from vision.topview.kinds import Kind
from vision.topview.orthophoto import Orthophoto

CELL_MM = 1 / PER_MM
"""Outlines run along the middles of cells."""
STEP_MM = 0.5
WIDE_MM = 6.0
LINK_MM, LINKS = 4.0, 13


def courses(view: View, *, origin: Place = (0.0, 0.0)) -> list[Course]:
    seen = view.seen
    shape = seen.bed.shape
    top = Orthophoto(
        rgb=np.zeros((*shape, 3), np.uint8),
        seen=seen.bed,
        origin_mm=origin,
        cells_per_mm=PER_MM,
        height_mm=0.0,
    )
    nothing = np.zeros(shape, np.float32)
    maps = BeadMap(inside=nothing, depth=nothing, kinds=seen.kinds, bed=seen.bed)
    return courses_on(top, maps, shown=view.fragments)


def strung_row(view: View, count: int, y: float, *, x: float = 40.0) -> View:
    """Lay touching beads on a wire."""
    view.line(Kind.STRING, (x - 15, y), (x + WIDE_MM * (count - 1) + 15, y))
    return view.discs(*row(count, (x, y)), wide_mm=WIDE_MM)


def loop(count: int, centre: Place, *, missing: int) -> View:
    """Lay a loop that a clasp closes at its top."""
    there = ring(count, centre)
    clasp, beads = there[:missing], there[missing:]
    view = View().line(Kind.STRING, beads[-1], *clasp, beads[0])
    return view.blot(clasp[missing // 2], 3.0 * missing, Kind.FINDING).discs(*beads)


@pytest.mark.parametrize("count", [4, 9, 16])
def test_a_row_runs_from_outer_end_to_outer_end(count: int) -> None:
    (found,) = courses(strung_row(View(), count, 60.0))
    x, y = found.points_mm.T
    assert not found.closed
    assert x[0] == pytest.approx(40.0 - WIDE_MM / 2, abs=CELL_MM)
    assert x[-1] == pytest.approx(40.0 + WIDE_MM * (count - 0.5), abs=CELL_MM)
    assert y == pytest.approx(60.0, abs=CELL_MM)
    assert found.length_mm == pytest.approx(WIDE_MM * count, abs=2 * CELL_MM)
    assert found.half_mm == pytest.approx(WIDE_MM / 2, abs=CELL_MM)
    assert np.hypot(*np.diff(found.points_mm, axis=0).T) == pytest.approx(STEP_MM, rel=0.1)


def test_the_world_begins_where_the_top_view_says() -> None:
    view = strung_row(View(), 9, 60.0)
    (here,), (there,) = courses(view), courses(view, origin=(100.0, -30.0))
    assert there.points_mm - here.points_mm == pytest.approx(
        np.broadcast_to([100.0, -30.0], here.points_mm.shape)
    )


def test_spacers_leave_the_width_to_the_beads() -> None:
    view = View().line(Kind.STRING, (20, 60), (150, 60))
    for k in range(8):
        view.piece((40 + 10 * k, 60), (8, 8)).piece((45 + 10 * k, 60), (2, 5), kind=Kind.SPACER)
    (found,) = courses(view)
    assert found.half_mm == pytest.approx(4.0, abs=CELL_MM)


@pytest.mark.parametrize("count", [13, 24, 40])
def test_a_ring_is_closed_and_runs_through_its_beads(count: int) -> None:
    """The chords of a circle of touching beads, and no more: the ends of its course meet."""
    centre = np.array([90.0, 65.0])
    radius = WIDE_MM / 2 / math.sin(math.pi / count)
    (found,) = courses(View().discs(*ring(count, (90, 65)), wide_mm=WIDE_MM))
    away = np.hypot(*(found.points_mm - centre).T)
    assert found.closed
    assert found.length_mm == pytest.approx(WIDE_MM * count, rel=0.02)
    ends = round(WIDE_MM / STEP_MM)
    inner = slice(ends, -ends)  # it is straight beyond the outermost middles
    assert away[inner].min() > radius * math.cos(math.pi / count) - CELL_MM
    assert away[inner].max() < radius + CELL_MM


def test_the_course_of_a_loop_leaves_its_clasp_out() -> None:
    (found,) = courses(loop(24, (90, 80), missing=3))
    first, last = found.points_mm[[0, -1]]
    assert found.closed
    assert np.hypot(*(first - last)) == pytest.approx(3 * WIDE_MM, rel=0.1)
    assert found.length_mm == pytest.approx(21 * WIDE_MM, rel=0.02)


def chain_beside_a_loop(start: Place) -> View:
    """Lay a row of small links that runs up from a place, beside a loop with its clasp at (96, 78)."""
    view = loop(24, (90, 100), missing=3)
    x, y = start
    links = row(LINKS, start, step_mm=LINK_MM, heading=-math.pi / 2)
    return view.line(Kind.STRING, start, (x, y - LINKS * LINK_MM)).discs(*links, wide_mm=LINK_MM)


@pytest.mark.parametrize(("start", "closed"), [((100, 61), [True]), ((150, 90), [False, True])])
def test_a_chain_that_hangs_from_the_clasp_of_a_loop_is_no_strand(start: Place, closed: list[bool]) -> None:
    view = chain_beside_a_loop(start)
    assert sorted(string.closed for string in strings_of(view.fragments, view.seen)[1]) == [False, True]
    assert sorted(course.closed for course in courses(view)) == closed


def test_a_short_strand_beside_a_long_one_is_a_strand_too() -> None:
    found = courses(strung_row(strung_row(View(), 15, 40.0), 3, 90.0))
    lengths = [course.length_mm for course in found]
    assert lengths == pytest.approx([15 * WIDE_MM, 3 * WIDE_MM], abs=2 * CELL_MM)


def test_strands_come_in_reading_order() -> None:
    upper, lower = courses(strung_row(strung_row(View(), 9, 90.0), 8, 40.0))
    assert upper.points_mm[:, 1].max() < lower.points_mm[:, 1].min()


def test_an_empty_bed_has_no_courses() -> None:
    assert courses(View()) == []
