"""How far beads gape where the string bends, read from the beads beside."""

import numpy as np
import pytest

from tests.helpers.lengths import measured
from vision.strand.length import gape_share
from vision.strand.reconciled import Lengths

BENDING_MM = np.r_[np.zeros(8), np.linspace(0.0, 0.4, 16), np.zeros(8)]
"""The most that the joints of 33 beads can gape by: a strand that bends in its middle."""


def bent(share: float, *, most_mm: np.ndarray = BENDING_MM, noise_mm: float = 0.0, seed: int = 0) -> Lengths:
    """Measure 8 mm beads whose joints gape by a share of the most: a boundary shows half way across."""
    gapes = share * most_mm
    joints = 5.0 + 8.0 * np.arange(1, len(gapes) + 1) + np.cumsum(gapes) - gapes / 2
    joints += np.random.default_rng(seed).normal(0.0, noise_mm, len(gapes))
    last = 5.0 + 8.0 * (len(gapes) + 1) + gapes.sum()
    return measured(np.r_[5.0, joints, last], gape_mm=most_mm)


@pytest.mark.parametrize("share", [0.0, 0.4, 1.1])
def test_how_far_beads_gape_in_a_bend_is_read_from_the_beads_beside_it(share: float) -> None:
    found = bent(share)
    assert found.along_mm == pytest.approx(np.full(33, 8.0), abs=0.001)
    assert found.gapes_mm == pytest.approx(np.r_[share * BENDING_MM, 0.0], abs=0.001)
    assert found.along_mm.sum() + found.apart_mm.sum() == pytest.approx(33 * 8 + share * BENDING_MM.sum())
    assert found.gaps_mm == pytest.approx(np.zeros(33))


def test_gapes_lie_within_what_is_stated_of_them() -> None:
    """Boundaries misplaced by chance: of stated expanded uncertainties 95 in 100 cover (JCGM 100:2008)."""
    true = 0.6 * BENDING_MM.sum()
    found = [bent(0.6, noise_mm=0.05, seed=seed) for seed in range(200)]
    inside = [abs(np.sum(each.gapes_mm) - true) <= 2 * each.gapes_u_mm for each in found]
    assert 0.9 <= np.mean(inside) <= 1.0
    assert np.median([each.gapes_u_mm for each in found]) < 0.3 * BENDING_MM.sum()


def test_a_ring_that_bends_the_same_everywhere_leaves_open_how_far_it_gapes() -> None:
    even = np.full(20, 0.2)
    found = bent(0.9, most_mm=even)
    assert np.sum(found.gapes_mm) == pytest.approx(even.sum() / 2, rel=0.05)
    assert 2 * found.gapes_u_mm == pytest.approx(even.sum(), rel=0.05)


def test_string_that_is_seen_between_beads_is_no_gape() -> None:
    found = measured(np.array([[5.0, 13.0], [16.0, 24.0], [24.0, 32.0]]), gape_mm=np.full(2, 0.2))
    assert found.gapes_mm == pytest.approx([0.0, 0.1, 0.0])
    assert found.apart_mm == pytest.approx([3.0, 0.1, 0.0])
    assert found.along_mm == pytest.approx([8.0, 7.95, 7.95])


@pytest.mark.parametrize("count", [0, 1, 3])
def test_too_few_beads_do_not_say_how_far_they_gape(count: int) -> None:
    eights = np.full(count, 8.0)
    assert gape_share(eights, np.linspace(0.1, 0.3, count), width_mm=eights) == (0.5, 0.5)


@pytest.mark.parametrize("turn", [0.0, 0.1, 0.125])
def test_joints_that_turn_alike_for_their_width_leave_open_how_far_they_gape(turn: float) -> None:
    width = np.array([4.0, 8.0, 5.0, 7.0, 6.0] * 3)
    assert gape_share(1.2 * width, turn * width, width_mm=width) == (0.5, 0.5)


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_that_larger_beads_of_a_graduated_loop_are_longer_is_no_gape(share: float) -> None:
    """Barrels of 6 to 12 mm, longer than wide, on a circle: larger ones have wider joints, turned more."""
    rng = np.random.default_rng(9)
    width = np.r_[np.linspace(6.0, 12.0, 12), np.linspace(11.5, 6.5, 11)]
    most = 0.35 * width * (1.2 * width / 33.0)  # joints of 0.7 of the width; the circle's radius is 33 mm
    raw = 1.2 * width * (1 + rng.normal(0.0, 0.005, 23)) + share * most
    found, u = gape_share(raw, most, width_mm=width)
    assert abs(found - share) < 2 * u
    assert u <= 0.5
