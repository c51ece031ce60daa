"""Beads seen in part, set right by the others of their lot; by the closed form of the normal posterior."""

from dataclasses import replace

import numpy as np
import pytest
from lots import lot_of

from vision.alike import evened_out
from vision.records import LooseBead

MOST_MM, TOLERANCE_MM = 8.0, 1e-9


def lot(*ratios: float) -> list[LooseBead]:
    made = lot_of([MOST_MM] * len(ratios), u95_mm=0.1).beads
    return [replace(b, min_feret_mm=r * MOST_MM) for b, r in zip(made, ratios, strict=True)]


def least(beads: list[LooseBead], relied: list[float]) -> list[float]:
    return [b.min_feret_mm for b in evened_out(beads, np.array(relied))]


def test_a_dented_round_is_drawn_to_its_fellows_as_its_doubt_demands() -> None:
    found = evened_out(lot(*[1.0] * 9, 0.9), np.array([1.0] * 9 + [0.5]))
    # all others round: own scatter 0.01; doubt of the ratio from its 0.1 mm and from half its dent of 0.1
    u2 = (0.1 / 2 / MOST_MM) ** 2 + 0.05**2
    weight = 0.01**2 / (0.01**2 + u2)
    assert found[-1].min_feret_mm == pytest.approx(MOST_MM * (1 - 0.1 * weight), abs=TOLERANCE_MM)
    expected_u = np.hypot(0.1, 2 * MOST_MM * np.sqrt(weight * u2))
    assert found[-1].min_feret_u95_mm == pytest.approx(expected_u, abs=TOLERANCE_MM)
    assert [b.min_feret_mm for b in found[:-1]] == [MOST_MM] * 9


@pytest.mark.parametrize(
    ("ratios", "relied"),
    [
        ([1.0] * 9 + [0.9], [1.0] * 10),  # seen well: an oval among rounds stays one
        ([1.0] * 6 + [0.9], [1.0] * 6 + [0.5]),  # too few to tell what is usual
        ([0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 0.9, 0.8, 0.7, 0.4], [1.0] * 9 + [0.5]),  # all differ
        ([0.8] * 9 + [1.0], [1.0] * 9 + [0.5]),  # rounder than the others: nothing was lost
    ],
)
def test_others_are_left_alone(ratios: list[float], relied: list[float]) -> None:
    beads = lot(*ratios)
    assert least(beads, relied) == [b.min_feret_mm for b in beads]
