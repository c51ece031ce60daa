"""Bodies estimated from solids that lie all over a bed, whose sizes are known."""

import numpy as np
import pytest

from tests.vision.lot.sections import OVAL_MM, ball, coin, drop, oval, places, turned
from vision.common.records import FloatArray
from vision.lot.body_shape import Body, estimate_bodies
from vision.lot.feret import smallest

EXACT_MM = 0.003
"""What 360 directions and polygons of 1440 points leave."""
BEVELLED_MM = 0.2
"""A sharp cube is no bevelled one, towards the edge of the view (X / H = 0.3)."""
OVAL_TOLERANCE_MM = 0.04
ASPECT_SD = 0.1
SMALL_REL = 0.001
MARBLE_TOLERANCE_MM = 0.05
COIN_REL = 0.008
"""A coin's thickness is known only as a share of its diameter."""
COINS_MM = {"cent": 19.05, "nickel": 21.21, "dime": 17.91, "quarter": 24.26}
"""Diameters, US Mint (facts of the project)."""


def widths(bodies: list[Body]) -> FloatArray:
    """Return the sizes of all bodies, mm, one row each."""
    return np.array([body.widths_mm for body in bodies])


def widths_u(bodies: list[Body]) -> FloatArray:
    """Return their standard uncertainties, mm, one row each."""
    return np.array([body.widths_u_mm for body in bodies])


def dome_rel_u(bodies: list[Body]) -> FloatArray:
    return np.array([body.dome_rel_u for body in bodies])


def test_lot_of_balls_is_round_and_measured_true() -> None:
    bodies = estimate_bodies([ball(8.0, x, y) for x, y in places()], flat=None)
    assert not bodies[0].kind.flat
    assert widths(bodies) == pytest.approx(8.0, abs=0.02)


def test_lying_ovals_of_one_shape_are_as_high_as_wide() -> None:
    # each alone could be a flatter oval seen aslant: that all have one length over width decides
    bodies = estimate_bodies([oval(k, x, y) for k, (x, y) in enumerate(places(30))], flat=None)
    assert [b.half_height_mm for b in bodies] == pytest.approx([OVAL_MM[1] / 2] * 30, rel=0.1)
    assert widths(bodies).max(axis=1) == pytest.approx(OVAL_MM[0], abs=OVAL_TOLERANCE_MM)
    assert [smallest(b.widths_mm) for b in bodies] == pytest.approx([OVAL_MM[1]] * 30, abs=OVAL_TOLERANCE_MM)


def test_aspects_of_many_shapes_scatter_those_of_one_do_not() -> None:
    same = estimate_bodies([oval(k, x, y) for k, (x, y) in enumerate(places(30))], flat=None)
    assert same[0].kind.aspect_scatter == 0.0
    longer = np.random.default_rng(4).normal(1.3, ASPECT_SD, 30)
    mixed = [oval(k, x, y, longer=longer[k]) for k, (x, y) in enumerate(places(30))]
    scatter = estimate_bodies(mixed, flat=None)[0].kind.aspect_scatter
    assert scatter == pytest.approx(ASPECT_SD / 1.3, rel=0.4)


@pytest.mark.parametrize("diameter", [18.0, 25.0])
def test_large_drops_of_glass_lie_within_their_uncertainty(diameter: float) -> None:
    bodies = estimate_bodies([drop(diameter, x, y, height=0.4 * diameter) for x, y in places()], flat=None)
    u = np.hypot(widths_u(bodies), dome_rel_u(bodies)[:, None] * widths(bodies))
    assert (np.abs(widths(bodies) - diameter) < 2 * u).mean() > 0.9


def test_marbles_that_are_said_to_be_round_are_no_drops() -> None:
    bodies = estimate_bodies([ball(25.0, x, y) for x, y in places()], flat=False)
    assert not dome_rel_u(bodies).any()
    assert widths(bodies) == pytest.approx(25.0, abs=MARBLE_TOLERANCE_MM)


def test_beads_of_usual_sizes_are_almost_never_drops() -> None:
    bodies = estimate_bodies([ball(8.0, x, y) for x, y in places()], flat=None)
    assert dome_rel_u(bodies).max() < SMALL_REL


def test_coins_are_flat_and_keep_their_diameters() -> None:
    sizes = np.array(list(COINS_MM.values()) * 6)
    bodies = estimate_bodies([coin(d, x, y) for d, (x, y) in zip(sizes, places(24), strict=True)], flat=None)
    assert bodies[0].kind.flat
    assert widths(bodies).mean(axis=1) == pytest.approx(sizes, rel=COIN_REL)
    assert (np.abs(widths(bodies) - sizes[:, None]) < 2 * widths_u(bodies) + EXACT_MM).all()


@pytest.mark.parametrize("flat", [True, False])
def test_what_the_maker_says_overrides_the_evidence(flat: bool) -> None:  # noqa: FBT001
    bodies = estimate_bodies([coin(20.0, x, y) for x, y in places()], flat=flat)
    assert bodies[0].kind.flat == flat


def test_height_is_uncertain_where_the_view_cannot_show_it() -> None:
    # one bead straight below the camera stretches nowhere, whatever its body
    [body] = estimate_bodies([ball(8.0, 0.0)], flat=None)
    error = np.abs(body.widths_mm - 8.0).max()
    assert error < 2 * body.widths_u_mm.max()


def test_lying_tubes_give_diameter_and_diagonal() -> None:
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    rim = np.stack([np.zeros_like(turn), 5 * np.cos(turn), 5 + 5 * np.sin(turn)], axis=1)
    tube = np.vstack([rim - np.array([11.0, 0, 0]), rim + np.array([11.0, 0, 0])])
    bodies = estimate_bodies([turned(tube, 0.7 * k, 10.0 * k) for k in range(8)], flat=None)
    assert bodies[0].kind.prismatic
    assert [smallest(b.widths_mm) for b in bodies] == pytest.approx([10.0] * 8, abs=0.02)
    assert widths(bodies).max(axis=1) == pytest.approx(np.hypot(10, 22), abs=0.05)


def test_lot_of_cubes_is_prismatic() -> None:
    corners = np.array([[x, y, h] for x in (-3, 3) for y in (-3, 3) for h in (0, 6)], dtype=float)
    bodies = estimate_bodies([turned(corners, 0.37 * k, 11.0 * k) for k in range(9)], flat=None)
    assert bodies[0].kind.prismatic
    assert [smallest(b.widths_mm) for b in bodies] == pytest.approx([6.0] * 9, abs=BEVELLED_MM)
