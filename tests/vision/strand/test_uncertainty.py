"""How unlike each other the beads of a strand are, and what that adds to the doubt of their sizes."""

import numpy as np
import pytest

from vision.strand.uncertainty import lumpiness

SD = 0.01
"""Relative, of beads of one kind."""
HARDLY = 0.02


def scattered(sizes: np.ndarray, sd: float, seed: int = 3) -> np.ndarray:
    return sizes * np.exp(np.random.default_rng(seed).normal(0, sd, len(sizes)))


@pytest.mark.parametrize(
    "along",
    [np.full(24, 6.0), np.tile([6.0, 3.0, 6.0, 8.0], 6), np.geomspace(4.0, 10.0, 40)],
    ids=["one kind", "a pattern", "graduated"],
)
def test_regular_strands_are_not_lumpy(along: np.ndarray) -> None:
    across = scattered(1.1 * along, SD, seed=4)
    assert lumpiness(across, scattered(along, SD)) < HARDLY


@pytest.mark.parametrize("sd", [0.1, 0.2])
def test_lumps_are_the_lumpier_the_more_they_differ(sd: float) -> None:
    drawn = [
        lumpiness(scattered(np.full(24, 7.0), sd, seed), scattered(np.full(24, 8.0), sd, seed + 50))
        for seed in range(20)
    ]
    assert 0.3 * sd < np.median(drawn) < sd


def test_three_beads_tell_nothing() -> None:
    assert lumpiness(np.array([5.0, 7.0, 9.0]), np.array([4.0, 9.0, 6.0])) == 0.0
