"""Bodies estimated from solids that lie all over a bed, whose sizes are known."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.vision.lot.sections import OVAL_MM, ball, coin, drop, oval, places, turned
from vision.common.records import FloatArray
from vision.lot.body_shape import Body, Kind, estimate_bodies
from vision.lot.feret import DIRECTIONS, Section, directions, smallest

EXACT_MM = 0.003
"""What 360 directions and polygons of 1440 points leave."""
BEVELLED_MM = 0.2
"""A sharp cube is no bevelled one, towards the edge of the view (X / H = 0.3)."""
OVAL_TOLERANCE_MM = 0.04
ASPECT_SD = 0.1
SMALL_REL = 0.001
MARBLE_TOLERANCE_MM = 0.05
TOLD_WRONG_MM = 0.2
"""What balls of 2 mm are off by at most where they are said to be flat."""
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


HEIGHTS = np.array([0.08, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 1.0])
PRIOR = np.array([0.04, 0.04, 0.04, 0.04, 0.05, 0.06, 0.07, 0.05, 0.05, 0.56])
"""How often things are so high, over their smallest size (common practice, no source)."""
ABOVE_MM = 300.0
CLOSED = {"rel": 2e-5, "abs": 1e-7}
"""What a few steps towards the height leave."""


def below_the_camera(shape_mm: FloatArray | float) -> Section:
    """Return a thing straight below the camera whose outline on the bed has these sizes."""
    half = np.broadcast_to(shape_mm, DIRECTIONS) / 2
    return Section(low=-half, high=half, above_mm=ABOVE_MM)


def square(side_mm: float, *, longer: float = 1.0) -> FloatArray:
    along, across = np.abs(directions().T)
    return side_mm * (longer * along + across)


def solved(outline_mm: float) -> tuple[FloatArray, FloatArray]:
    """Return sizes and half heights for each of `HEIGHTS` of a disc or ellipsoid whose outline is this large.

    With t the slope of its tangents, w + b t = (H - b) t for a disc and hypot(w, b t) = (H - b) t for an
    ellipsoid, where b = h w.
    """
    t = outline_mm / 2 / ABOVE_MM
    disc = outline_mm / (1 + 2 * HEIGHTS * t)
    ellipsoid = outline_mm / (np.hypot(1, HEIGHTS * t) + HEIGHTS * t)
    sizes = np.where(HEIGHTS < 0.2, disc, ellipsoid)
    return sizes, HEIGHTS * sizes / 2


def prior_of(outline_mm: float, kinds: NDArray[np.bool_]) -> FloatArray:
    """Return the share of each height, of these kinds, among things whose outline is this large.

    A cube whose outline is this large is smaller by 1.9 of its half height times the slope.
    """
    usual = outline_mm / (1 + 1.9 * outline_mm / 2 / ABOVE_MM)
    prior = np.where(HEIGHTS < 0.2, PRIOR * (usual / 10) ** 3, PRIOR) * kinds
    return prior / prior.sum()


def mean_and_u(share: FloatArray, sizes: FloatArray) -> tuple[float, float]:
    """Return the mean of sizes and its uncertainty: their spread, and 0.12 of the height below a ball's."""
    mean = float(share @ sizes)
    slope = (share * (HEIGHTS < 1)) @ np.gradient(sizes, HEIGHTS)
    return mean, math.hypot(math.sqrt(share @ (sizes - mean) ** 2), 0.12 * slope)


@pytest.mark.parametrize("flat", [True, False])
@pytest.mark.parametrize("outline_mm", [6.0, 12.0])
def test_where_the_view_shows_no_height_bodies_are_as_frequent_as_usual(
    outline_mm: float, *, flat: bool
) -> None:
    [body] = estimate_bodies([below_the_camera(outline_mm)], flat=flat)
    sizes, half_heights = solved(outline_mm)
    share = prior_of(outline_mm, (HEIGHTS < 0.4) == flat)
    mean, u = mean_and_u(share, sizes)
    assert body.half_height_mm == pytest.approx(share @ half_heights, **CLOSED)
    assert body.widths_mm == pytest.approx(mean, **CLOSED)
    assert body.widths_u_mm == pytest.approx(u, rel=1e-3)
    assert body.kind == Kind(flat=flat, prismatic=False, aspect_scatter=0.0)
    assert body.dome_rel_u == 0.0


@pytest.mark.parametrize("outline_mm", [6.0, 12.0, 21.9, 23.3])
def test_of_large_things_some_are_domed_and_widest_on_the_bed(outline_mm: float) -> None:
    [body] = estimate_bodies([below_the_camera(outline_mm)], flat=None)
    sizes, half_heights = solved(outline_mm)
    # what lies on the bed and not at the height b is larger by H / (H - b)
    growth = half_heights / (ABOVE_MM - half_heights)
    kinds = np.array([0, 0, 0, 0, 1, 1, 1, 1, 1, 0.1])
    domed = kinds * np.minimum(0.05 * (sizes / 10) ** 3, 0.5)
    share = prior_of(outline_mm, HEIGHTS > 0)
    mean, u = mean_and_u(share, sizes * (1 + domed * growth))
    assert body.widths_mm == pytest.approx(mean, **CLOSED)
    assert body.widths_u_mm == pytest.approx(u, rel=1e-3)
    assert body.half_height_mm == pytest.approx(share @ half_heights, **CLOSED)
    assert body.dome_rel_u == pytest.approx(math.sqrt(share @ (domed * (1 - domed) * growth**2)), rel=1e-3)
    assert body.kind.flat == (share[:4].sum() > 0.5)


def test_how_many_ovals_are_domed_depends_on_their_width() -> None:
    width_mm, axes = 14.0, np.array([1.3, 1.0])
    [body] = estimate_bodies(
        [below_the_camera(width_mm * np.linalg.norm(directions() * axes, axis=1))], flat=None
    )
    sizes, half_heights = solved(width_mm)
    growth = half_heights / (ABOVE_MM - half_heights)
    domed = np.array([0, 0, 0, 0, 1, 1, 1, 1, 1, 0.1]) * 0.05 * (sizes / 10) ** 3
    share = prior_of(width_mm, HEIGHTS > 0)
    mean, u = mean_and_u(share, sizes * (1 + domed * growth))
    # of one height, it is longer than wide by as much as its outline, and as uncertain in proportion
    assert (body.widths_mm.min(), body.widths_mm.max()) == pytest.approx((mean, 1.3 * mean), **CLOSED)
    assert (body.widths_u_mm.min(), body.widths_u_mm.max()) == pytest.approx((u, 1.3 * u), rel=1e-3)
    assert body.dome_rel_u == pytest.approx(math.sqrt(share @ (domed * (1 - domed) * growth**2)), rel=1e-3)


def test_what_is_usual_depends_on_the_size_of_most() -> None:
    lot = [below_the_camera(size) for size in (6.0, 6.0, 20.0)]
    body = estimate_bodies(lot, flat=True)[0]
    sizes, half_heights = solved(6.0)
    share = prior_of(6.0, HEIGHTS < 0.4)
    assert body.widths_mm == pytest.approx(share @ sizes, **CLOSED)
    assert body.half_height_mm == pytest.approx(share @ half_heights, **CLOSED)


@pytest.mark.parametrize(("fourth", "prismatic"), [(0.065, False), (0.068, True)])
def test_bodies_are_prisms_by_the_fourth_harmonic_of_most(fourth: float, *, prismatic: bool) -> None:
    wave = np.cos(4 * np.arange(DIRECTIONS) * np.pi / DIRECTIONS)
    lot = [below_the_camera(8 * (1 + share * wave)) for share in (fourth, fourth, 0.0 if prismatic else 0.2)]
    assert {body.kind.prismatic for body in estimate_bodies(lot, flat=None)} == {prismatic}
    assert {body.kind.prismatic for body in estimate_bodies(lot, flat=False)} == {prismatic}
    said_flat = estimate_bodies(lot, flat=True)[0].kind
    assert (said_flat.prismatic, said_flat.flat) == (False, True)


def test_an_upright_prism_is_uncertain_by_its_height_and_by_its_corners() -> None:
    outline = square(8.0)
    [body] = estimate_bodies([below_the_camera(outline)], flat=None)
    # the outline is larger by 2 b t; a bevel takes a tenth of b from all but flat things
    t = 8.0 / 2 / ABOVE_MM
    sides = 8.0 / (1 + np.where(HEIGHTS > 0.4, 1.9, 2.0) * HEIGHTS * t)
    share = prior_of(8.0, HEIGHTS > 0)
    mean, u = mean_and_u(share, sides)
    assert smallest(body.widths_mm) == pytest.approx(mean, rel=1e-4)
    assert body.widths_u_mm[0] == pytest.approx(u, rel=1e-3)
    corner = math.hypot(u * math.sqrt(2), 0.015 * mean)
    assert body.widths_u_mm[DIRECTIONS // 4] == pytest.approx(corner, rel=1e-3)
    assert body.dome_rel_u == 0.0


@pytest.mark.parametrize(("longer", "lies"), [(1.14, False), (1.26, True)])
def test_long_prisms_lie(longer: float, *, lies: bool) -> None:
    lot = [below_the_camera(square(8.0, longer=k)) for k in (longer, longer, 1.0 if lies else 2.0)]
    body = estimate_bodies(lot, flat=None)[0]
    # a tube is as high as it is wide, an upright prism is so only as a rule
    assert (body.half_height_mm > 0.49 * smallest(body.widths_mm)) == lies
    assert body.kind.prismatic
    assert not body.kind.flat


def test_lot_of_balls_is_round_and_measured_true() -> None:
    bodies = estimate_bodies([ball(8.0, x, y) for x, y in places()], flat=None)
    assert not bodies[0].kind.flat
    assert widths(bodies) == pytest.approx(8.0, abs=0.02)


def test_a_large_lot_of_balls_that_are_said_to_be_flat_has_sizes() -> None:
    """That 800 are balls is likelier by more than a float holds."""
    bodies = estimate_bodies([ball(2.0, x, y) for x, y in places(40)] * 20, flat=True)
    assert bodies[0].kind.flat
    assert widths(bodies) == pytest.approx(2.0, abs=TOLD_WRONG_MM)


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
def test_what_the_maker_says_overrides_the_evidence(*, flat: bool) -> None:
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
