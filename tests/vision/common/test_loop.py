"""Beads on closed curves of known length: the way round, and the limb that goes through."""

from dataclasses import replace

import numpy as np
import pytest

from vision.common.loop import Parts, all_round

AROUND_REL = 2e-3
"""Beads are straight pieces of the curve: 60 of them are off it by about 6 / 60^2."""
ROUND_MM = 35.0
WIDE_MM = 3.0
U95_MM = 0.2
OFF_MM = 5.0


def along_curve(curve: np.ndarray, *, count: int, taken: float) -> Parts:
    """Lay round beads evenly over the first part of a closed curve (N, 2), as large a share as `taken`."""
    travel = np.r_[0.0, np.cumsum(np.hypot(*np.diff(curve, axis=0).T))]
    step = taken * travel[-1] / count
    at = step * (np.arange(count) + 0.5)
    places = np.column_stack([np.interp(at, travel, column) for column in curve.T])
    sizes = np.full(count, WIDE_MM)
    return Parts(places_mm=places, along_mm=sizes, across_mm=sizes, gaps_mm=np.full(count, step - WIDE_MM))


def ellipse(long: float, wide: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 20001)
    return np.column_stack([long * np.cos(turn), wide * np.sin(turn)])


def length(curve: np.ndarray) -> float:
    return float(np.hypot(*np.diff(curve, axis=0).T).sum())


def inside(long: float, wide: float, by: float) -> np.ndarray:
    """Return the curve that runs beside an ellipse, inside of it at a distance."""
    curve = ellipse(long, wide)
    normal = curve / np.array([long, wide]) ** 2
    return curve - by * normal / np.linalg.norm(normal, axis=1, keepdims=True)


def ring(*, taken: float) -> Parts:
    return along_curve(ellipse(ROUND_MM, ROUND_MM), count=60, taken=taken)


@pytest.mark.parametrize("taken", [0.97, 0.9, 0.85, 0.8])
def test_a_ring_with_a_gap_is_a_circle_all_round(taken: float) -> None:
    found = all_round(ring(taken=taken), strung_u95_mm=U95_MM)
    assert found.around_mm == pytest.approx(2 * np.pi * ROUND_MM, rel=AROUND_REL)
    assert found.inner_girth_mm == pytest.approx(2 * np.pi * (ROUND_MM - WIDE_MM / 2), rel=AROUND_REL)
    free = taken * 2 * np.pi * ROUND_MM / 60 - WIDE_MM  # half of it at either end of the beads
    assert found.clasp_mm == pytest.approx(
        (1 - taken) * 2 * np.pi * ROUND_MM + free, abs=AROUND_REL * found.around_mm
    )


@pytest.mark.parametrize("taken", [0.97, 0.9, 0.85, 0.8])
def test_the_way_through_the_clasp_is_uncertain_by_arc_less_chord(taken: float) -> None:
    """The chord of an angle a is 2 R sin(a / 2).

    A triangle of half width w has the standard deviation w / 6^0.5 (JCGM 100:2008, 4.3.9); it counts doubled.
    """
    found = all_round(ring(taken=taken), strung_u95_mm=U95_MM)
    arc = (1 - taken + taken / 60) * 2 * np.pi * ROUND_MM  # from middle to middle
    chord = 2 * ROUND_MM * np.sin(arc / ROUND_MM / 2)
    expected = np.hypot(U95_MM, 2 * (arc - chord) / np.sqrt(6))
    assert found.around_u95_mm == pytest.approx(expected, rel=0.06)
    assert found.inner_girth_u95_mm == found.around_u95_mm


@pytest.mark.parametrize("count", [9, 12, 20, 40])
def test_beads_as_large_as_the_string_bends_go_as_well_round(count: int) -> None:
    """The string is a polygon through their middles, 4 to 17 mm apart, closed by the arc over the clasp."""
    radius, clasp = 29.0, 22.0
    taken = 1 - clasp / (2 * np.pi * radius)
    parts = along_curve(ellipse(radius, radius), count=count, taken=taken)
    turn = 2 * np.pi * taken / count
    polygon = (count - 1) * 2 * radius * np.sin(turn / 2)
    found = all_round(parts, strung_u95_mm=0.0)
    assert found.around_mm == pytest.approx(polygon + clasp + turn * radius, rel=AROUND_REL)


def random_course(rng: np.random.Generator) -> np.ndarray:
    """Draw a closed course that waves by a few millimetres, of a bracelet's length."""
    turn = np.linspace(0, 2 * np.pi, 20001)
    waves = sum(rng.normal(0, 0.06 / k) * np.cos(k * turn + rng.uniform(0, 6)) for k in (2, 3, 4))
    curve = ellipse(rng.uniform(0.85, 1.15), 1.0) * (1 + waves)[:, None]
    return curve * rng.uniform(160, 230) / length(curve)


@pytest.mark.parametrize("wide_mm", [4.0, 8.0, 12.0])
def test_the_way_round_is_as_uncertain_as_stated_on_random_courses(wide_mm: float) -> None:
    rng = np.random.default_rng([17, int(wide_mm)])
    held, off = [], []
    for _ in range(60):
        curve = random_course(rng)
        total = length(curve)
        count = round((total - 22) / wide_mm)
        parts = along_curve(curve, count=count, taken=count * wide_mm / total)
        steps = np.linalg.norm(np.diff(parts.places_mm, axis=0), axis=1)
        true = float(steps.sum()) + total - (count - 1) * wide_mm
        found = all_round(parts, strung_u95_mm=U95_MM)
        off.append(found.around_mm - true)
        held.append(abs(off[-1]) < found.around_u95_mm)
    assert np.mean(held) > 0.9
    assert abs(np.median(off)) < 0.3


def test_the_inside_is_uncertain_by_the_thickness_of_the_beads_too() -> None:
    """The girth is the length all round less pi times the thickness (JCGM 100:2008, 5.1.3)."""
    found = all_round(replace(ring(taken=0.9), across_u95_mm=0.3), strung_u95_mm=U95_MM)
    assert found.inner_girth_u95_mm == pytest.approx(np.hypot(found.around_u95_mm, 0.3 * np.pi))


@pytest.mark.parametrize(("long", "wide"), [(35.0, 35.0), (40.0, 30.0), (45.0, 25.0)])
def test_an_inner_curve_is_shorter_by_two_pi_times_the_distance(long: float, wide: float) -> None:
    """Steiner's formula for parallel curves, against the length of the parallel curve itself."""
    found = all_round(along_curve(ellipse(long, wide), count=60, taken=0.98), strung_u95_mm=U95_MM)
    assert found.inner_girth_mm == pytest.approx(length(inside(long, wide, WIDE_MM / 2)), rel=AROUND_REL)


def test_the_distance_is_half_the_mean_width_by_length() -> None:
    """Five parts of 9 mm along and 6 mm across, five of 1 and 2: a limb touches 9 to 1 of the wide ones."""
    turn = 2 * np.pi * np.arange(10) / 10
    parts = Parts(
        places_mm=np.column_stack([10 * np.cos(turn), 10 * np.sin(turn)]),
        along_mm=np.tile([9.0, 1.0], 5),
        across_mm=np.tile([6.0, 2.0], 5),
        gaps_mm=np.zeros(10),
    )
    found = all_round(parts, strung_u95_mm=U95_MM)
    assert found.around_mm - found.inner_girth_mm == pytest.approx(np.pi * (0.9 * 6.0 + 0.1 * 2.0))


def aside(parts: Parts, *, by: float) -> Parts:
    """Lay the first part and the last beside the course, outwards."""
    places = parts.places_mm.copy()
    for end in (0, -1):
        places[end] *= 1 + by / ROUND_MM
    return Parts(places_mm=places, along_mm=parts.along_mm, across_mm=parts.across_mm, gaps_mm=parts.gaps_mm)


def ends(first: int, last: int) -> np.ndarray:
    """Return which of 60 parts are so many at the beginning and at the end."""
    return (np.arange(60) < first) | (np.arange(60) >= 60 - last)


def test_doubtful_ends_on_the_course_change_nothing() -> None:
    parts = ring(taken=0.9)
    sure = all_round(parts, strung_u95_mm=U95_MM)
    doubted = all_round(parts, strung_u95_mm=U95_MM, doubtful=ends(1, 1))
    assert doubted.around_mm == sure.around_mm
    assert doubted.around_u95_mm == pytest.approx(sure.around_u95_mm, abs=0.1)


@pytest.mark.parametrize(("first", "last"), [(1, 1), (2, 1)])
def test_doubtful_ends_beside_the_course_make_it_as_uncertain_as_they_change_it(
    first: int, last: int
) -> None:
    parts = aside(ring(taken=0.9), by=OFF_MM)
    sure = all_round(parts, strung_u95_mm=U95_MM)
    doubted = all_round(parts, strung_u95_mm=U95_MM, doubtful=ends(first, last))
    change = abs(sure.around_mm - 2 * np.pi * ROUND_MM)
    assert change > 10 * AROUND_REL * ROUND_MM
    assert doubted.around_mm == sure.around_mm
    assert doubted.around_u95_mm - sure.around_u95_mm == pytest.approx(change, rel=0.1)


def test_a_doubtful_part_beside_the_course_makes_it_as_uncertain_as_its_way_there_and_back() -> None:
    parts = ring(taken=0.9)
    places = parts.places_mm.copy()
    places[30] *= 1 + OFF_MM / ROUND_MM
    step = 0.9 * 2 * np.pi * ROUND_MM / 60
    doubted = all_round(replace(parts, places_mm=places), strung_u95_mm=U95_MM, doubtful=np.arange(60) == 30)
    more = 2 * np.hypot(step, OFF_MM) - 2 * step
    sure = all_round(parts, strung_u95_mm=U95_MM)
    assert doubted.around_u95_mm - sure.around_u95_mm == pytest.approx(more, rel=0.1)


def test_two_parts_tell_no_course_without_the_doubtful_ones() -> None:
    parts = aside(ring(taken=0.9), by=OFF_MM)
    sure = all_round(parts, strung_u95_mm=U95_MM)
    assert all_round(parts, strung_u95_mm=U95_MM, doubtful=ends(30, 28)) == sure


def test_two_parts_are_closed_by_the_way_back() -> None:
    parts = ring(taken=0.9)
    two = Parts(
        places_mm=parts.places_mm[[0, 20]],
        along_mm=parts.along_mm[:2],
        across_mm=parts.across_mm[:2],
        gaps_mm=parts.gaps_mm[:2],
    )
    apart = float(np.linalg.norm(parts.places_mm[0] - parts.places_mm[20]))
    assert all_round(two, strung_u95_mm=U95_MM).around_mm == pytest.approx(2 * apart)
