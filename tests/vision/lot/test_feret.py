"""Caliper sizes from tangent planes, against closed forms and solids given by their points."""

import cv2
import numpy as np
import pytest

from tests.helpers.ellipsoid import ellipsoid_outline
from vision.lot.body_shape import judge_build
from vision.lot.feret import DIRECTIONS, Section, directions, smallest

CAMERA = np.array([0.0, 0.0, 300.0])
EXACT_MM = 0.003
"""What 360 directions and polygons of 1440 points leave."""
BEVELLED_MM = 0.2
"""A sharp cube is no bevelled one, towards the edge of the view (X / H = 0.3)."""

OVAL_MM = (10.0, 8.0)
OVAL_TOLERANCE_MM = 0.04
UNLIKE = 0.1
HARDLY_REL = 0.001
MARBLE_TOLERANCE_MM = 0.05

COIN_REL = 0.008
"""A coin's thickness is known only as a share of its diameter."""

COINS_MM = {"cent": 19.05, "nickel": 21.21, "dime": 17.91, "quarter": 24.26}
"""Diameters, US Mint (facts of the project)."""


def on_bed(points: np.ndarray) -> np.ndarray:
    """Return the convex outline of world points (x, y, h), seen from `CAMERA`, on the plane h = 0."""
    rays = points - CAMERA
    ground = CAMERA[:2] - CAMERA[2] / rays[:, 2:] * rays[:, :2]
    return cv2.convexHull(ground.astype(np.float32))[:, 0].astype(float)


def ball(diameter: float, x: float, y: float = 0.0) -> Section:
    centre = np.array([x, y, diameter / 2])
    outline = ellipsoid_outline(centre, np.eye(3) * diameter / 2, CAMERA, points=1440)
    return Section.of(on_bed(outline), CAMERA, 0.0)


def oval(turn: float, x: float, y: float, *, longer: float = 1.25) -> Section:
    """Return a bead of `OVAL_MM`, or so much longer than wide, lying along a direction of its own."""
    axis = np.array([np.cos(turn), np.sin(turn), 0.0])
    axes = np.array([longer * axis, np.cross((0, 0, 1), axis), (0, 0, 1)]) * 4
    outline = ellipsoid_outline(np.array([x, y, 4.0]), axes, CAMERA, points=1440)
    return Section.of(on_bed(outline), CAMERA, 0.0)


def coin(diameter: float, x: float, y: float = 0.0, *, thickness: float = 1.5) -> Section:
    angle = np.linspace(0, 2 * np.pi, 1440, endpoint=False)
    rim = np.stack([x + diameter / 2 * np.cos(angle), y + diameter / 2 * np.sin(angle)], axis=1)
    rims = [np.column_stack([rim, np.full(len(rim), h)]) for h in (0.0, thickness)]
    return Section.of(on_bed(np.vstack(rims)), CAMERA, 0.0)


def drop(diameter: float, x: float, y: float, *, height: float) -> Section:
    """Return a drop of glass, flat below: the upper half of an ellipsoid."""
    angle = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    rise = np.linspace(0, np.pi / 2, 60)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * diameter / 2
    level = [np.column_stack([ring * np.cos(r) + (x, y), np.full(180, height * np.sin(r))]) for r in rise]
    return Section.of(on_bed(np.vstack(level)), CAMERA, 0.0)


def turned(points: np.ndarray, angle: float, x: float) -> Section:
    c, s = np.cos(angle), np.sin(angle)
    plan = points[:, :2] @ np.array([[c, s], [-s, c]]) + (x, 0.0)
    return Section.of(on_bed(np.column_stack([plan, points[:, 2]])), CAMERA, 0.0)


def places(count: int = 24) -> np.ndarray:
    """Return places over a bed, (N, 2), in a spiral out to X / H = 0.45."""
    k = np.arange(1, count + 1)
    return 135 * np.sqrt(k / count)[:, None] * np.stack([np.cos(2.4 * k), np.sin(2.4 * k)], axis=1)


def test_uncorrected_ball_reads_as_dandelins_ellipse() -> None:
    # Dandelin 1822, closed form in the project's facts: d 10, H 300, X 100 reads long 10.740, short 10.171
    section = ball(10.0, 100.0)
    widths = section.high - section.low
    assert widths[0] == pytest.approx(10.740, abs=EXACT_MM)
    assert widths[DIRECTIONS // 2] == pytest.approx(10.171, abs=EXACT_MM)


def test_ball_below_the_camera_reads_large_uncorrected() -> None:
    # facts: d 8, H 300 reads 8.109
    section = ball(8.0, 0.0)
    assert (section.high - section.low).max() == pytest.approx(8.109, abs=EXACT_MM)


@pytest.mark.parametrize("x", [0.0, 60.0, 130.0])
def test_ellipsoid_section_gives_a_balls_diameter_in_every_direction(x: float) -> None:
    widths = ball(8.0, x, 20.0).widths(4.0)
    assert widths == pytest.approx(8.0, abs=EXACT_MM)


@pytest.mark.parametrize("angle", [0.0, 0.4, 1.1])
def test_upright_prism_gives_a_cubes_edge_and_diagonal(angle: float) -> None:
    corners = np.array([[x, y, h] for x in (-3, 3) for y in (-3, 3) for h in (0, 6)], dtype=float)
    widths = turned(corners, angle, 40.0).widths(3.0, round_part=0.0)
    # a sharp cube far out touches at different corners than a prism's section in skew directions
    assert widths.max() == pytest.approx(6 * np.sqrt(2), abs=0.02)
    assert smallest(widths) == pytest.approx(6.0, abs=0.02)


def test_smallest_size_is_found_between_directions() -> None:
    # a 24 x 10 rectangle whose short side points a third of a step off the grid
    angle = np.pi / DIRECTIONS / 3
    along = directions() @ np.array([np.cos(angle), np.sin(angle)])
    across = directions() @ np.array([-np.sin(angle), np.cos(angle)])
    widths = 24 * np.abs(along) + 10 * np.abs(across)
    assert smallest(widths) == pytest.approx(10.0, abs=EXACT_MM)


def test_lot_of_balls_is_judged_round_and_measured_true() -> None:
    build = judge_build([ball(8.0, x, y) for x, y in places()], flat=None)
    assert not build.flat
    assert build.widths == pytest.approx(8.0, abs=0.02)


def test_lying_ovals_of_one_shape_are_judged_as_high_as_wide() -> None:
    # each alone could be a flatter oval seen aslant: that all have one length over width tells
    build = judge_build([oval(k, x, y) for k, (x, y) in enumerate(places(30))], flat=None)
    assert build.half_height == pytest.approx(OVAL_MM[1] / 2, rel=0.1)
    assert build.widths.max(axis=1) == pytest.approx(OVAL_MM[0], abs=OVAL_TOLERANCE_MM)
    assert [smallest(w) for w in build.widths] == pytest.approx([OVAL_MM[1]] * 30, abs=OVAL_TOLERANCE_MM)


def test_beads_of_many_shapes_are_unlike_those_of_one_are_not() -> None:
    alike = judge_build([oval(k, x, y) for k, (x, y) in enumerate(places(30))], flat=None)
    assert alike.unlike == 0.0
    longer = np.random.default_rng(4).normal(1.3, UNLIKE, 30)
    mixed = [oval(k, x, y, longer=longer[k]) for k, (x, y) in enumerate(places(30))]
    assert judge_build(mixed, flat=None).unlike == pytest.approx(UNLIKE / 1.3, rel=0.4)


@pytest.mark.parametrize("diameter", [18.0, 25.0])
def test_large_drops_of_glass_lie_within_their_doubt(diameter: float) -> None:
    build = judge_build([drop(diameter, x, y, height=0.4 * diameter) for x, y in places()], flat=None)
    doubt = np.hypot(build.widths_u, build.domed_rel_u[:, None] * build.widths)
    assert (np.abs(build.widths - diameter) < 2 * doubt).mean() > 0.9


def test_marbles_that_are_said_to_be_round_are_no_drops() -> None:
    build = judge_build([ball(25.0, x, y) for x, y in places()], flat=False)
    assert not build.domed_rel_u.any()
    assert build.widths == pytest.approx(25.0, abs=MARBLE_TOLERANCE_MM)


def test_beads_of_usual_sizes_are_hardly_ever_drops() -> None:
    build = judge_build([ball(8.0, x, y) for x, y in places()], flat=None)
    assert build.domed_rel_u.max() < HARDLY_REL


def test_coins_are_judged_flat_and_keep_their_diameters() -> None:
    sizes = list(COINS_MM.values()) * 6
    build = judge_build([coin(d, x, y) for d, (x, y) in zip(sizes, places(24), strict=True)], flat=None)
    assert build.flat
    assert build.widths.mean(axis=1) == pytest.approx(np.array(sizes), rel=COIN_REL)
    assert (np.abs(build.widths - np.array(sizes)[:, None]) < 2 * build.widths_u + EXACT_MM).all()


def test_being_told_overrides_the_evidence() -> None:
    sections = [coin(20.0, x, y) for x, y in places()]
    assert judge_build(sections, flat=True).flat
    assert not judge_build(sections, flat=False).flat


def test_doubt_about_height_is_stated_where_the_view_cannot_tell() -> None:
    # one bead straight below the camera stretches nowhere, whatever its build
    build = judge_build([ball(8.0, 0.0)], flat=None)
    error = np.abs(build.widths - 8.0).max()
    assert error < 2 * build.widths_u.max()


def test_lying_tubes_give_diameter_and_diagonal() -> None:
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    rim = np.stack([np.zeros_like(turn), 5 * np.cos(turn), 5 + 5 * np.sin(turn)], axis=1)
    body = np.vstack([rim - np.array([11.0, 0, 0]), rim + np.array([11.0, 0, 0])])
    build = judge_build([turned(body, 0.7 * k, 10.0 * k) for k in range(8)], flat=None)
    assert build.prismatic
    assert [smallest(w) for w in build.widths] == pytest.approx([10.0] * 8, abs=0.02)
    assert build.widths.max(axis=1) == pytest.approx(np.hypot(10, 22), abs=0.05)


def test_lot_of_cubes_is_judged_prismatic() -> None:
    corners = np.array([[x, y, h] for x in (-3, 3) for y in (-3, 3) for h in (0, 6)], dtype=float)
    build = judge_build([turned(corners, 0.37 * k, 11.0 * k) for k in range(9)], flat=None)
    assert build.prismatic
    assert [smallest(w) for w in build.widths] == pytest.approx([6.0] * 9, abs=BEVELLED_MM)
