"""Kinds of beads on a mixed strand."""

import numpy as np
import pytest

from sizing.piece.measured_kinds import Measured, kinds_of

U95_MM = 0.3


def kinds(along_mm: list[float], across_mm: list[float]) -> list[int]:
    """Return the kinds, numbered in order of first use."""
    sizes = Measured(
        along_mm=np.array(along_mm),
        across_mm=np.array(across_mm),
        along_u95_mm=np.full(len(along_mm), U95_MM),
        across_u95_mm=np.full(len(along_mm), U95_MM),
        scale_rel_u=0.001,
    )
    found = [tuple(kind) for kind in kinds_of(sizes)]
    names = list(dict.fromkeys(found))
    return [names.index(kind) for kind in found]


def test_noise_makes_no_kinds() -> None:
    # Three sizes, scattered by half of their expanded uncertainty.
    rng = np.random.default_rng(3)
    true = [10, 6, 8, 10, 8, 6, 10] * 5
    measured = [size + rng.normal(0, U95_MM / 2) for size in true]
    assert kinds(measured, measured) == [[10, 6, 8].index(size) for size in true]


@pytest.mark.parametrize(
    ("along_mm", "across_mm"), [([2.0, 8.0] * 6, [8.0] * 12), ([8.0] * 12, [4.0, 8.0] * 6)]
)
def test_one_dimension_is_enough_to_differ(along_mm: list[float], across_mm: list[float]) -> None:
    assert kinds(along_mm, across_mm) == [0, 1] * 6
