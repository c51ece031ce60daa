"""Patterns on beads, what is pressed into them, and what glass holds."""

import numpy as np
import pytest

from tests.rendering.courses import rotation
from tests.rendering.meshes import Mesh, pressed, sphere_points, superquadric
from tests.rendering.surfaces import Surface
from tests.rendering.things import swirl

EXACT = 1e-9
SPHERE = sphere_points(4)
RED, BLUE = (0.6, 0.1, 0.1), (0.1, 0.1, 0.6)
HALF = 0.2
"""How far the share of a sphere's vertices on one side may be off a half: seams lie off the middle."""


def patterned(pattern: str) -> Surface:
    return Surface(look="gloss", colour=RED, second=BLUE, pattern=pattern)


def shares(pattern: str, mesh: Mesh = SPHERE, seed: int = 3) -> np.ndarray:
    """Return how much of the second colour each vertex has."""
    red, blue = np.array(RED), np.array(BLUE)
    off = patterned(pattern).colours(mesh, seed) - red
    return off @ (blue - red) / ((blue - red) ** 2).sum()


@pytest.mark.parametrize("pattern", ["bands", "veins", "patches", "halves"])
def test_a_pattern_shows_on_one_bead_and_lies_in_it_wherever_that_lies(pattern: str) -> None:
    """A bead is small on a table: a pattern as wide as the table would be one colour on it."""
    spreads = [np.ptp(shares(pattern, seed=seed)) for seed in range(20)]
    assert np.median(spreads) > 0.5
    lying = SPHERE.scaled(4.0).moved(rotation(0.7, 0.3), (80.0, -40.0, 4.0))
    assert shares(pattern, lying) == pytest.approx(shares(pattern), abs=EXACT)


@pytest.mark.parametrize("pattern", ["patches", "halves"])
def test_sharp_patterns_have_two_colours(pattern: str) -> None:
    assert set(np.round(shares(pattern), 6)) == {0.0, 1.0}


def test_halves_are_about_halves() -> None:
    parts = [shares("halves", seed=seed).mean() for seed in range(40)]
    assert np.median(parts) == pytest.approx(0.5, abs=HALF)


def test_a_line_is_pressed_as_deep_as_it_is_told_and_goes_no_further() -> None:
    disc = superquadric((5.0, 5.0, 1.0), 6.0, plan=2.0, count=72)
    line = np.array([[[0.0, -1.2], [0.0, 1.2]]])
    done = pressed(disc, line, deep=0.2, wide=0.4)
    down = disc.points[:, 2] - done.points[:, 2]
    top = disc.normals[:, 2] > 0.99
    assert down[top & (np.abs(disc.points[:, 0]) < EXACT)] == pytest.approx(0.2, abs=EXACT)
    assert np.abs(down[np.abs(disc.points[:, 0]) > 1.6]).max() < 0.2 * np.exp(-16) + EXACT
    assert done.points[:, :2] == pytest.approx(disc.points[:, :2], abs=EXACT)


def test_a_disc_is_round_from_above_and_a_box_from_the_side() -> None:
    """Its volume nears that of a cylinder, pi r^2 h, as its power grows."""
    disc = superquadric((5.0, 5.0, 1.0), 40.0, plan=2.0, count=120)
    a, b, c = disc.points[disc.faces].transpose(1, 0, 2)
    volume = np.einsum("ij,ij->", a, np.cross(b, c)) / 6
    assert volume == pytest.approx(np.pi * 25.0 * 2.0, rel=0.03)
    assert np.hypot(*disc.points[:, :2].T).max() == pytest.approx(5.0, rel=EXACT)


@pytest.mark.parametrize("seed", range(8))
def test_a_swirl_lies_within_its_bead(seed: int) -> None:
    bead = SPHERE.scaled((6.0, 4.0, 4.0)).moved(rotation(0.4), (30.0, 20.0, 4.0))
    flake = swirl(bead, np.random.default_rng(seed))
    assert np.linalg.norm(flake.points - (30.0, 20.0, 4.0), axis=1).max() < 0.81 * 4.0
