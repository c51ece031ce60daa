"""How one-sidedly one reading goes beyond another, against closed forms of directional statistics."""

import math

import numpy as np
import pytest

from vision.topview.shadows import one_sidedness

SIDE, RADIUS, REACH = 400, 40, 120
CELLS_OFF = 0.02
"""Of a mean resultant length: cells are square, circles are not."""
RANDOM_SDS = 3.0
ROUND = np.hypot(*(np.mgrid[:SIDE, :SIDE] - SIDE // 2))
BEAD = ROUND < RADIUS


def sector(middle: float, half: float) -> np.ndarray:
    """Return the cells within an angle of a direction, in radians."""
    rows, columns = np.mgrid[:SIDE, :SIDE] - SIDE // 2
    off = np.angle(np.exp(1j * (np.arctan2(rows, columns) - middle)))
    return (np.abs(off) <= half) & (ROUND < REACH)


@pytest.mark.parametrize("half_degrees", [30, 60, 90, 135, 180])
@pytest.mark.parametrize("towards_degrees", [0, 70, 200])
def test_directions_spread_evenly_over_an_arc(half_degrees: int, towards_degrees: int) -> None:
    """For an arc of half angle a it is the mean of the cosine over the arc, sin(a) / a (closed form)."""
    half = math.radians(half_degrees)
    found = one_sidedness(BEAD | sector(math.radians(towards_degrees), half), BEAD)
    assert found == pytest.approx(math.sin(half) / half, abs=CELLS_OFF)


def test_shadows_of_many_beads_add_up_only_to_one_side() -> None:
    rng = np.random.default_rng(1)
    tiles = 25
    same, apart, beads = [], [], []
    for _ in range(tiles):
        beads.append(BEAD)
        same.append(BEAD | sector(1.0, 0.5))
        apart.append(BEAD | sector(rng.uniform(-np.pi, np.pi), 0.5))
    bead = np.hstack(beads)
    assert one_sidedness(np.hstack(same), bead) == pytest.approx(math.sin(0.5) / 0.5, abs=CELLS_OFF)
    # the length of a mean of so many random directions (Rayleigh) has a root mean square of n ** -0.5
    assert one_sidedness(np.hstack(apart), bead) < RANDOM_SDS / math.sqrt(tiles)


def test_what_touches_no_piece_does_not_count() -> None:
    shadow = sector(0.0, 0.5)
    far = np.roll(BEAD, 150, axis=0)
    assert one_sidedness(BEAD | shadow | far, BEAD) == one_sidedness(BEAD | shadow, BEAD)
    assert one_sidedness(BEAD | far, BEAD) == 0


def test_readings_that_agree_or_are_empty_are_not_one_sided() -> None:
    nothing = np.zeros_like(BEAD)
    for wider, narrower in [(BEAD, BEAD), (nothing, BEAD), (BEAD, nothing), (nothing, nothing)]:
        assert one_sidedness(wider, narrower) == 0
