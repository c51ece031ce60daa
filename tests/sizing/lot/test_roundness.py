"""Roundness by the pearl trade's classes."""

import math

import pytest

from sizing.lot.roundness import roundness
from tests.helpers.lots import bead

EXACT = 1e-12


@pytest.mark.parametrize(
    ("difference", "name"),
    [
        (0.0, "round"),
        (0.0199, "round"),
        (0.0201, "semi-round"),
        (0.0499, "semi-round"),
        (0.0501, "not round"),
    ],
)
def test_published_limits(difference: float, name: str) -> None:
    # Official Tahitian pearl classification, as reported: under 2 % round, 2 to 5 % semi-round.
    seen = bead(1, 10 * (1 - difference / 2), 10 * (1 + difference / 2), u95_mm=0.0)
    assert roundness(seen).name == name
    assert roundness(seen).difference == pytest.approx(difference, abs=EXACT)


@pytest.mark.parametrize(
    ("difference", "u95_mm", "name"),
    [
        (0.005, 0.05, "round"),
        (0.015, 0.10, "round or semi-round"),
        (0.045, 0.10, "semi-round or not round"),
        (0.035, 0.30, "undecided"),
        (0.500, 0.30, "not round"),
    ],
)
def test_uncertainty_leaves_classes_open(difference: float, u95_mm: float, name: str) -> None:
    seen = bead(1, 10 * (1 - difference / 2), 10 * (1 + difference / 2), u95_mm=u95_mm)
    assert roundness(seen).name == name


def test_uncertainty_of_the_difference_adds_in_squares() -> None:
    # JCGM 100:2008, 5.1.2.
    assert roundness(bead(1, 10.0, 10.0, u95_mm=0.1)).difference_u95 == pytest.approx(0.01 * math.sqrt(2))


def test_scale_cancels() -> None:
    seen = bead(1, 10.0, 10.0, u95_mm=2 * 10.0 * 0.004)
    assert roundness(seen, scale_rel_u=0.004).difference_u95 < 1e-8  # the root of a rounding error


def test_an_unmeasured_bead_has_no_roundness() -> None:
    assert roundness(bead(1, math.nan, math.nan)).name == "not measured"
