"""Widths of turned facets, by the closed form of a regular prism's width."""

import numpy as np
import pytest

from vision.across import settle_widths

DIAMETER_MM, BEADS, NOISE_MM = 9.0, 60, 0.02
LEAST_COVERED = 0.9
EXACT_MM, BETTER = 0.12, 0.8


def prism_widths(turn_rad: np.ndarray, sides: int) -> np.ndarray:
    """Width of regular prisms of `DIAMETER_MM`: how far their corners reach apart, square to the view."""
    corners = 2 * np.pi * np.arange(sides) / sides + turn_rad[:, None]
    return np.ptp(np.cos(corners), axis=1) * DIAMETER_MM / 2


def settled(sides: int, lean_deg: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return what the jaws read, what the camera sees, and what is settled on, with its doubt."""
    rng = np.random.default_rng(3)
    turn = rng.uniform(0, 2 * np.pi, BEADS)
    lean = np.full(BEADS, np.radians(lean_deg))
    seen = prism_widths(turn + lean, sides) + NOISE_MM * rng.standard_normal(BEADS)
    along = np.full(BEADS, 8.0)
    found, u = settle_widths(seen, NOISE_MM * rng.standard_normal(BEADS) / 2, lean_rad=lean, along_mm=along)
    return prism_widths(turn, sides), seen, found, u


def rms(off: np.ndarray) -> float:
    return float(np.sqrt(np.mean(off**2)))


@pytest.mark.parametrize("lean_deg", [10.0, 16.0, 22.0])
def test_facets_seen_aslant_say_little_about_the_jaws(lean_deg: float) -> None:
    true, seen, found, u = settled(8, lean_deg)
    assert rms(found - true) < BETTER * rms(seen - true)
    assert np.mean(np.abs(found - true) < 2 * u) >= LEAST_COVERED


@pytest.mark.parametrize("sides", [4, 8])
def test_facets_seen_from_above_are_believed(sides: int) -> None:
    true, _, found, u = settled(sides, 0.0)
    assert rms(found - true) < EXACT_MM
    assert np.mean(np.abs(found - true) < 2 * u) >= LEAST_COVERED


def test_widths_of_several_kinds_are_left_as_seen() -> None:
    seen = np.array([4.0, 6.0, 8.0] * 5)
    found, _ = settle_widths(seen, np.zeros(15), lean_rad=np.full(15, 0.3), along_mm=None)
    np.testing.assert_array_equal(found, seen)


def test_a_bead_that_really_differs_is_left_alone() -> None:
    seen = np.full(20, 8.0) + 0.02 * np.random.default_rng(1).standard_normal(20)
    seen[7] = 6.0
    found, _ = settle_widths(seen, np.zeros(20), lean_rad=np.full(20, 0.3), along_mm=np.full(20, 8.0))
    assert found[7] == seen[7]


def test_beads_that_differ_in_length_differ_in_width_too() -> None:
    rng = np.random.default_rng(2)
    size = 8.0 * (1 + 0.02 * rng.standard_normal(BEADS))
    found, _ = settle_widths(size, np.zeros(BEADS), lean_rad=np.full(BEADS, 0.35), along_mm=0.9 * size)
    assert rms(found - size) < EXACT_MM / 2
