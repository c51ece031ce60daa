"""Strands of rounds, by the closed form of a drilled sphere and by the scatter of drawn strands."""

import numpy as np
import pytest

from vision.strand.width import Sizes, as_rounds

DIAMETER_MM, SIDES_U_MM = 8.0, 0.24
TOLERANCE_MM = 1e-3
ROUNDED_MM = 5e-5
"""Lengths stand to four digits."""
VERY_UNCERTAIN = 0.2
"""Standard uncertainty over size at which the sides count for almost nothing."""
IMPLIED_REL = 0.004
"""Holes are known to a range only: a 4 mm round with a hole of 0.96 mm and one of 1 mm differ by 0.3 %."""
SHARE_LEFT = 0.5


def strung(diameter_mm: float, hole_mm: float) -> float:
    """Length of a drilled sphere along its hole (closed form: its rims lie that far apart)."""
    return float(np.sqrt(diameter_mm**2 - hole_mm**2))


def settled(across_mm: float, along_mm: float, *, sides_u_mm: float = SIDES_U_MM) -> float:
    same = np.ones(10)
    return float(np.median(as_rounds(Sizes(mm=across_mm * same, u_mm=sides_u_mm * same), along_mm * same).mm))


@pytest.mark.parametrize("hole_mm", [1.0, 1.5, 1.9])
def test_a_round_that_is_seen_whole_is_left_as_measured(hole_mm: float) -> None:
    assert settled(DIAMETER_MM, strung(DIAMETER_MM, hole_mm)) == pytest.approx(DIAMETER_MM, abs=TOLERANCE_MM)


@pytest.mark.parametrize(
    ("diameter_mm", "hole_mm", "along_mm", "measured_mm"),
    [
        (8.0, 1.0, 7.9373, 7.6),
        (12.0, 1.5, 11.9059, 11.5),
        (4.0, 1.0, 3.8730, 4.08),  # a wide hole; measured too wide
        (6.0, 1.5, 5.8095, 6.12),
    ],
)
def test_a_round_with_very_uncertain_sides_gets_the_diameter_its_length_implies(
    diameter_mm: float, hole_mm: float, along_mm: float, measured_mm: float
) -> None:
    """The diameter of a drilled sphere of known length and hole (closed form)."""
    assert along_mm == pytest.approx(strung(diameter_mm, hole_mm), abs=ROUNDED_MM)
    found = settled(measured_mm, along_mm, sides_u_mm=VERY_UNCERTAIN * measured_mm)
    assert found == pytest.approx(diameter_mm, rel=IMPLIED_REL)


def test_the_more_uncertain_the_sides_the_more_the_length_counts() -> None:
    narrow, along = 0.95 * DIAMETER_MM, strung(DIAMETER_MM, 1.0)
    sizes = [settled(narrow, along, sides_u_mm=u) for u in (0.15, 0.24, 0.5, 1.0, 2.0)]
    assert sizes == sorted(set(sizes))
    assert narrow < sizes[0]
    assert sizes[-1] <= DIAMETER_MM + TOLERANCE_MM


@pytest.mark.parametrize(
    ("ratio", "sides_u_mm"),
    [
        (0.95, 0.01),  # narrower, and clearly so
        (0.80, 0.24),  # an oval
        (1.10, 0.40),  # cut with facets
        (1.60, 0.40),  # a rondelle
        (0.50, 0.40),  # a tube
    ],
)
def test_other_shapes_are_left_alone(ratio: float, sides_u_mm: float) -> None:
    across = ratio * DIAMETER_MM
    shift = abs(settled(across, DIAMETER_MM, sides_u_mm=sides_u_mm) - across)
    assert shift < TOLERANCE_MM * DIAMETER_MM


def test_uneven_and_few_beads_are_no_strand_of_rounds() -> None:
    rng = np.random.default_rng(5)
    nuggets = DIAMETER_MM * (1 + 0.08 * rng.standard_normal(30))
    for across in (nuggets, np.full(3, 0.96 * DIAMETER_MM)):
        sizes = Sizes(mm=across, u_mm=np.full(len(across), SIDES_U_MM))
        found = as_rounds(sizes, np.full(len(across), DIAMETER_MM))
        np.testing.assert_array_equal(found.mm, across)


def test_errors_of_hidden_sides_shrink() -> None:
    rng = np.random.default_rng(11)
    before, after = [], []
    for _ in range(400):
        along = strung(DIAMETER_MM, float(rng.uniform(1.0, 1.9)))
        across = DIAMETER_MM - abs(SIDES_U_MM * rng.standard_normal())  # what hides sides makes narrow
        before.append(DIAMETER_MM - across)
        after.append(abs(DIAMETER_MM - settled(across, along)))
    assert np.median(after) < SHARE_LEFT * np.median(before)
