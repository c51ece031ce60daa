"""Strands of rounds, by the closed form of a drilled sphere and by the scatter of drawn strands."""

import numpy as np
import pytest

from vision.strand.round_prior import settle_rounds

DIAMETER_MM, SIDES_U_MM = 8.0, 0.24
TOLERANCE_MM = 1e-3
SHARE_LEFT = 0.5


def strung(diameter_mm: float, hole_mm: float) -> float:
    """Length of a drilled sphere along its hole (closed form, facts.md: 8 mm with a 1.0 mm hole 7.9373)."""
    return float(np.sqrt(diameter_mm**2 - hole_mm**2))


def settled(across_mm: float, along_mm: float, *, sides_u_mm: float = SIDES_U_MM) -> float:
    same = np.ones(10)
    return float(np.median(settle_rounds(across_mm * same, along_mm * same, sides_u_mm * same)))


@pytest.mark.parametrize("hole_mm", [1.0, 1.5, 1.9])
def test_a_round_that_is_seen_whole_is_left_as_measured(hole_mm: float) -> None:
    assert settled(DIAMETER_MM, strung(DIAMETER_MM, hole_mm)) == pytest.approx(DIAMETER_MM, abs=TOLERANCE_MM)


def test_a_round_whose_sides_are_hidden_is_told_by_its_length() -> None:
    along = strung(DIAMETER_MM, 1.0)
    narrow = 0.95 * DIAMETER_MM
    relative_u = SIDES_U_MM / narrow
    trust = relative_u**2 / (relative_u**2 + 0.013**2)
    expected = narrow * (DIAMETER_MM / narrow) ** trust  # weighted in logarithms
    assert settled(narrow, along) == pytest.approx(expected, abs=2e-3 * DIAMETER_MM)
    assert settled(narrow, along) > 0.98 * DIAMETER_MM


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
        found = settle_rounds(across, np.full(len(across), DIAMETER_MM), np.full(len(across), SIDES_U_MM))
        np.testing.assert_array_equal(found, across)


def test_errors_of_hidden_sides_shrink() -> None:
    rng = np.random.default_rng(11)
    before, after = [], []
    for _ in range(400):
        along = strung(DIAMETER_MM, float(rng.uniform(1.0, 1.9)))
        across = DIAMETER_MM - abs(SIDES_U_MM * rng.standard_normal())  # what hides sides makes narrow
        before.append(DIAMETER_MM - across)
        after.append(abs(DIAMETER_MM - settled(across, along)))
    assert np.median(after) < SHARE_LEFT * np.median(before)
