"""The closed loop, checked against closed formulas and geometry worked out by hand."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.base.loop import Link, fewest_beads, inner_girth

GEOMETRY_MM = 1e-6
TABLE_MM = 5e-4  # half a unit of the table's last place


def round_bead(diameter_mm: float) -> Link:
    return Link(along_mm=diameter_mm, across_mm=diameter_mm)


def polygon_girth(count: int, diameter_mm: float) -> float:
    """Girth inside equal touching rounds: centres on d / (2 sin(pi/N)), half a bead outside the cylinder."""
    return math.pi * diameter_mm * (1 / math.sin(math.pi / count) - 1)


@pytest.mark.parametrize(
    ("diameter_mm", "count", "girth_mm"),
    [(8, 22, 151.467), (6, 28, 149.503), (10, 20, 169.409), (4, 44, 163.583)],
)
def test_equal_rounds(diameter_mm: float, count: int, girth_mm: float) -> None:
    # The largest cylinder inside, as in ISO 8653:2016; values from the closed formula for a polygon.
    assert polygon_girth(count, diameter_mm) == pytest.approx(girth_mm, abs=TABLE_MM)
    assert inner_girth([round_bead(diameter_mm)] * count) == pytest.approx(girth_mm, abs=TABLE_MM)


@pytest.mark.parametrize(
    ("diameter_mm", "counts"),
    [
        (4, (41, 44, 46, 49)),
        (6, (29, 30, 32, 34)),
        (8, (22, 24, 25, 26)),
        (10, (19, 20, 21, 22)),
        (12, (16, 17, 18, 19)),
    ],
)
def test_fewest_beads_for_a_girth(diameter_mm: float, counts: tuple[int, ...]) -> None:
    # Regular polygon, closed formula.
    found = tuple(fewest_beads(girth, round_bead(diameter_mm)) for girth in (150, 160, 170, 180))
    assert found == counts


def test_fewest_beads_counts_the_findings_in() -> None:
    findings = (Link(along_mm=22),)
    count = fewest_beads(165, round_bead(6), findings=findings)
    assert inner_girth([round_bead(6)] * count + list(findings)) >= 165
    assert inner_girth([round_bead(6)] * (count - 1) + list(findings)) < 165


def test_refuses_a_girth_beyond_reason() -> None:
    with pytest.raises(ValueError, match="a girth of 1000000 mm takes more than 10000 beads"):
        fewest_beads(1e6, round_bead(2))


def test_thickness_costs_pi_times_the_thickness_in_a_long_loop() -> None:
    # Strung length less inner girth is pi d - pi^2 d / (6 N) + O(N^-3) (series of the formula above).
    diameter, count = 8.0, 60
    loss = diameter * count - inner_girth([round_bead(diameter)] * count)
    assert loss == pytest.approx(math.pi * diameter - math.pi**2 * diameter / (6 * count), abs=0.01)


def test_four_touching_rounds_of_two_sizes_around_a_cylinder() -> None:
    # Rounds of radii a, b, a, b around a cylinder of radius r: neighbouring centres see each other at a
    # right angle from the axis, so (r + a)^2 + (r + b)^2 = (a + b)^2, a quadratic in r.
    a, b = 5.0, 4.0
    radius = (-(a + b) + math.sqrt((a + b) ** 2 + 4 * a * b)) / 2
    loop = [round_bead(2 * a), round_bead(2 * b)] * 2
    assert inner_girth(loop) == pytest.approx(2 * math.pi * radius, abs=GEOMETRY_MM)


def test_string_runs_straight_over_thin_spacers() -> None:
    # 14 rounds of 10 mm with 2 mm spacers between: the spacers hang on straight string, so the centres of
    # the large ones form a regular polygon of side 12.
    loop = [round_bead(10), round_bead(2)] * 14
    radius = 12 / (2 * math.sin(math.pi / 14)) - 5
    assert inner_girth(loop) == pytest.approx(2 * math.pi * radius, abs=GEOMETRY_MM)


def test_a_short_clasp_hangs_straight_between_two_beads() -> None:
    # Isosceles triangle over the clasp: N - 1 steps of d and one of d + clasp fill the turn.
    diameter, count, clasp = 10.0, 18, 8.0
    girth = inner_girth([round_bead(diameter)] * count + [Link(along_mm=clasp)])
    centres = girth / (2 * math.pi) + diameter / 2
    turn = (count - 1) * 2 * math.asin(diameter / 2 / centres) + 2 * math.asin(
        (diameter + clasp) / 2 / centres
    )
    assert turn == pytest.approx(2 * math.pi, abs=1e-9)


def test_a_flat_tape_is_its_own_girth() -> None:
    # Without thickness the chain becomes the circle as its links grow short.
    assert inner_girth([Link(along_mm=0.5)] * 320) == pytest.approx(160, abs=0.01)


@pytest.mark.parametrize(
    ("girth_mm", "diameter_mm"),
    [
        (49, 15.6),
        (52, 16.6),
        (54, 17.2),
        (57, 18.1),
        (60, 19.1),
        (63, 20.1),
        (66, 21.0),
        (70, 22.3),
        (72, 22.9),
    ],
)
def test_a_ring_s_size_is_its_inner_girth(girth_mm: int, diameter_mm: float) -> None:
    # ISO 8653 table of ring sizes; its diameters are rounded to 0.1 mm.
    tape = [Link(along_mm=0.25)] * (4 * girth_mm)
    assert inner_girth(tape) / math.pi == pytest.approx(diameter_mm, abs=0.06)


@pytest.mark.parametrize("diameter_mm", [54.0, 57.2, 60.3, 63.5, 66.7, 69.9])
def test_beads_around_a_bangle(diameter_mm: float) -> None:
    # Bangle sizes 2-2 to 2-12, inside diameters from trade tables. Centres of N touching rounds stand on a
    # circle of d / (2 sin(pi/N)), half a bead outside the bangle.
    exact = math.pi / math.asin(8 / (diameter_mm + 8))
    assert fewest_beads(math.pi * diameter_mm, round_bead(8)) == math.ceil(exact)


@pytest.mark.parametrize(
    "links", [[], [round_bead(8)], [round_bead(8)] * 2, [Link(along_mm=1, across_mm=60)] * 3]
)
def test_too_few_or_too_thick_close_on_nothing(links: list[Link]) -> None:
    assert inner_girth(links) == 0


sizes = st.floats(2, 14)
beads = st.builds(Link, along_mm=sizes, across_mm=sizes)


@given(st.lists(beads, min_size=8, max_size=30), sizes, st.data())
@settings(max_examples=60, deadline=None)
def test_one_more_round_never_makes_a_smaller_loop(
    loop: list[Link], diameter_mm: float, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(loop)))
    longer = [*loop[:at], round_bead(diameter_mm), *loop[at:]]
    assert inner_girth(longer) >= inner_girth(loop) - GEOMETRY_MM


@given(st.lists(beads, min_size=8, max_size=30), st.integers(1, 7))
@settings(max_examples=60, deadline=None)
def test_where_the_loop_starts_does_not_matter(loop: list[Link], start: int) -> None:
    turned = [*loop[start:], *loop[:start]]
    assert inner_girth(turned) == pytest.approx(inner_girth(loop), abs=GEOMETRY_MM)
    assert inner_girth(loop[::-1]) == pytest.approx(inner_girth(loop), abs=GEOMETRY_MM)


@given(st.integers(3, 200), sizes)
@settings(deadline=None)
def test_the_solver_agrees_with_the_polygon(count: int, diameter_mm: float) -> None:
    solved = inner_girth([round_bead(diameter_mm)] * count)
    assert solved == pytest.approx(polygon_girth(count, diameter_mm), abs=GEOMETRY_MM)
