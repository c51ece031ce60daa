"""The uncertainty budget of a loose bead term by term, and its flags on either side of their limits."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.cameras import SIZE_PX, camera_at
from vision.camera.scene import Scene
from vision.common import flags
from vision.common.records import FloatArray, Photo
from vision.lot.body_shape import Body, Kind
from vision.lot.close_up import BeadSizes
from vision.lot.contour import Outline
from vision.lot.ellipse import Ellipse
from vision.lot.feret import DIRECTIONS, Section, directions
from vision.lot.fourier_ellipse import Curve
from vision.lot.uncertainty import (
    TracedBead,
    certain_enough,
    edge_u_mm,
    flags_of,
    higher_harmonics,
    measurable,
)
from vision.sheet.geometry import SHEETS

SHEET = SHEETS["card"]
HEIGHT_MM, FOCAL_PX = 300.0, 1200.0
CENTRE_MM = np.array([50.0, 40.0, 4.0])
PX_PER_MM = FOCAL_PX / (HEIGHT_MM - CENTRE_MM[2])
"""A camera that looks straight down."""
SIZE_MM = 8.0
POINTS = 100
DIAGONAL_MM = math.hypot(*SHEET.page_mm)
ANGLE = np.arange(DIRECTIONS) * np.pi / DIRECTIONS


def scene(*, scale_rel_u: float = 0.0, focal_rel_u: float = 0.0) -> Scene:
    camera = camera_at(0.0, 0.0, HEIGHT_MM, focal_px=FOCAL_PX)
    covariance = np.zeros((12, 12))
    covariance[6, 6] = focal_rel_u**2  # of the focal length's logarithm
    photo = Photo(name="black.png", rgb=np.zeros((SIZE_PX[1], SIZE_PX[0], 3), np.uint8))
    return Scene(
        photo=photo, camera=replace(camera, covariance=covariance), sheet=SHEET, scale_rel_u=scale_rel_u
    )


def outline(*, contact: int = 0, at_px: tuple[float, float] = (600.0, 500.0), **other: float) -> Outline:
    """Return an outline of so many points that others touch, one of which lies at a place in the photo."""
    points = np.full((POINTS, 2), 400.0)
    points[7] = at_px
    touched = np.arange(POINTS) < contact
    return Outline(points_px=points, seen=~touched, contact=touched, **other)


def curve(*, centre_mm: tuple[float, float] = (50.0, 40.0), spread: float = 0.0, points: int = 144) -> Curve:
    ellipse = Ellipse(centre=np.array(centre_mm), axes=np.eye(2) * SIZE_MM / 2)
    return Curve(ellipse=ellipse, series=np.ones(1), spread=spread, points=points)


def section(slope: float) -> Section:
    """Return a bead that lies so far away from the point below the camera, over the camera's height."""
    middle = slope * HEIGHT_MM * directions() @ (0.6, 0.8)
    return Section(low=middle - SIZE_MM / 2, high=middle + SIZE_MM / 2, above_mm=HEIGHT_MM)


PERFECT = TracedBead(outline=outline(), curve=curve(), section=section(0.0), rim=1.0, agreement=1.0)
"""A bead of which nothing is uncertain."""
ROUND = Body(
    widths_mm=np.full(DIRECTIONS, SIZE_MM),
    widths_u_mm=np.zeros(DIRECTIONS),
    half_height_mm=SIZE_MM / 2,
    dome_rel_u=0.0,
    kind=Kind(flat=False, prismatic=False, aspect_scatter=0.0),
)
SIZES = BeadSizes(
    outline_mm=np.zeros((3, 2)),
    centre_mm=CENTRE_MM,
    sizes_mm=np.full(2, SIZE_MM),
    u_mm=np.zeros(2),
    unseen_rel_u=0.0,
    height_mm=SIZE_MM,
    traced=True,
    measured=True,
)


def cornered(share: float, *, order: int = 4, prismatic: bool = False) -> Body:
    """Return a body whose sizes rise and fall by a share of their mean, so often in a full turn."""
    widths = SIZE_MM * (1 + share * np.cos(order * ANGLE))
    return replace(ROUND, widths_mm=widths, kind=replace(ROUND.kind, prismatic=prismatic))


def uncertainty(bead: TracedBead = PERFECT, body: Body = ROUND, **known: float) -> FloatArray:
    seen = scene(**known)
    camera_rel = float(seen.camera.rel_u(CENTRE_MM))
    return edge_u_mm(bead, seen, body=body, centre_mm=CENTRE_MM, camera_rel=camera_rel)


def test_where_nothing_is_uncertain_the_budget_is_zero() -> None:
    assert uncertainty() == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("points", "independent"), [(144, 24.0), (12, 2.0), (3, 1.0)])
def test_edge_points_are_averaged_six_of_them_as_one(points: int, independent: float) -> None:
    found = uncertainty(replace(PERFECT, curve=curve(spread=0.05, points=points)))
    scatter, facets = 2 * 0.05 / math.sqrt(independent), 1.6 * 0.05
    assert found == pytest.approx(math.hypot(scatter, facets))


@pytest.mark.parametrize("inward_px", [3.0, -3.0])
def test_half_of_what_edge_and_network_lie_apart_is_uncertain_on_either_side(inward_px: float) -> None:
    found = uncertainty(replace(PERFECT, outline=outline(inward_px=inward_px)))
    assert found == pytest.approx(2 * 0.5 * 3.0 / PX_PER_MM)


def test_what_all_edges_share_counts_on_either_side() -> None:
    found = uncertainty(replace(PERFECT, outline=outline(common_u_px=0.2)))
    assert found == pytest.approx(2 * 0.2 / PX_PER_MM)


def test_what_is_not_known_of_the_body_counts_in_every_direction() -> None:
    body_u = 0.1 + 0.05 * np.cos(ANGLE)
    assert uncertainty(body=replace(ROUND, widths_u_mm=body_u)) == pytest.approx(body_u)


@pytest.mark.parametrize("scale_rel_u", [0.0, 0.04])
def test_focal_length_counts_and_how_the_sheet_was_measured_does_not(scale_rel_u: float) -> None:
    # a focal length too long by 0.4 % makes every pixel stand for 0.4 % less
    found = uncertainty(scale_rel_u=scale_rel_u, focal_rel_u=0.004)
    assert found == pytest.approx(0.004 * SIZE_MM, rel=0.01)


@pytest.mark.parametrize(("slope", "seen"), [(0.0, 0.25), (0.1, 0.65), (0.18, 0.97), (0.3, 1.0)])
def test_corners_count_more_the_more_aslant_they_are_seen(slope: float, seen: float) -> None:
    bead = replace(PERFECT, section=section(slope))
    body = cornered(0.02)
    # the root mean square of a cosine is 1 / sqrt 2
    assert uncertainty(bead, body) == pytest.approx(1.1 * 0.02 / math.sqrt(2) * seen * body.widths_mm)


def test_ellipses_and_prisms_are_seen_aslant_as_from_above() -> None:
    bead = replace(PERFECT, section=section(0.2))
    assert uncertainty(bead, cornered(0.02, order=2)) == pytest.approx(0.0, abs=1e-9)
    assert uncertainty(bead, cornered(0.02, prismatic=True)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("rim", "agreement", "guessed"), [(0.5, 1.0, 0.16), (0.9, 0.5, 0.25), (0.8, 1.0, 0)])
def test_a_rim_that_was_not_seen_was_guessed(rim: float, agreement: float, guessed: float) -> None:
    found = uncertainty(replace(PERFECT, rim=rim, agreement=agreement))
    assert found == pytest.approx(guessed * SIZE_MM, abs=1e-9)


def test_terms_add_as_squares_those_in_proportion_times_the_size() -> None:
    widths, body_u = np.full(DIRECTIONS, SIZE_MM), np.full(DIRECTIONS, 0.1)
    widths[90], body_u[90] = 10.0, 0.5
    bead = replace(
        PERFECT,
        outline=outline(inward_px=1.0, common_u_px=0.2),
        curve=curve(spread=0.05),
        rim=0.5,
    )
    body = replace(ROUND, widths_mm=widths, widths_u_mm=body_u, kind=replace(ROUND.kind, prismatic=True))
    edges2 = (0.1 / math.sqrt(24)) ** 2 + 0.08**2 + (1 / PX_PER_MM) ** 2 + (0.4 / PX_PER_MM) ** 2
    found = uncertainty(bead, body)
    assert found[0] == pytest.approx(math.sqrt(edges2 + 0.1**2 + (0.16 * SIZE_MM) ** 2))
    assert found[90] == pytest.approx(math.sqrt(edges2 + 0.5**2 + (0.16 * 10.0) ** 2))


@pytest.mark.parametrize("mean", [1.0, 8.0])
def test_harmonics_beyond_an_ellipses_add_as_squares(mean: float) -> None:
    waves = 0.3 * np.cos(2 * ANGLE) + 0.03 * np.cos(4 * ANGLE) + 0.04 * np.sin(6 * ANGLE)
    assert higher_harmonics(mean * (1 + waves)) == pytest.approx(0.05 / math.sqrt(2))


def raised(bead: TracedBead = PERFECT, body: Body = ROUND, sizes: BeadSizes = SIZES) -> tuple[str, ...]:
    return flags_of(bead, scene(), body=body, sizes=sizes)


def test_a_bead_seen_well_has_no_flag() -> None:
    assert raised() == ()


@pytest.mark.parametrize(
    ("at_px", "cut"),
    [
        ((1.9, 500.0), True),
        ((2.0, 500.0), False),
        ((600.0, 1.9), True),
        ((600.0, 2.0), False),
        ((SIZE_PX[0] - 2.9, 500.0), True),
        ((SIZE_PX[0] - 3.0, 500.0), False),
        ((600.0, SIZE_PX[1] - 2.9), True),
        ((600.0, SIZE_PX[1] - 3.0), False),
    ],
)
def test_a_bead_is_cut_off_at_the_edge_of_the_photo(at_px: tuple[float, float], *, cut: bool) -> None:
    assert (flags.CUT_OFF in raised(replace(PERFECT, outline=outline(at_px=at_px)))) == cut


@pytest.mark.parametrize(("contact", "covered"), [(35, False), (36, True)])
def test_a_bead_is_covered_where_others_touch_a_third_of_it(contact: int, *, covered: bool) -> None:
    assert (flags.COVERED in raised(replace(PERFECT, outline=outline(contact=contact)))) == covered


@pytest.mark.parametrize(
    ("rim", "agreement", "contact", "weak"),
    [
        (0.6, 1.0, 0, False),
        (0.59, 1.0, 0, True),
        (0.5, 1.0, 10, False),
        (0.5, 1.0, 8, True),
        (0.8, 0.7, 0, True),
    ],
)
def test_an_edge_is_weak_where_less_than_this_of_it_was_seen(
    rim: float, agreement: float, contact: int, *, weak: bool
) -> None:
    bead = replace(PERFECT, rim=rim, agreement=agreement, outline=outline(contact=contact))
    assert (flags.WEAK_EDGE in raised(bead)) == weak


def test_an_edge_is_weak_where_it_gives_no_sizes() -> None:
    assert raised(sizes=replace(SIZES, traced=False)) == (flags.WEAK_EDGE,)


@pytest.mark.parametrize(("share", "irregular"), [(0.0165, False), (0.0175, True)])
def test_a_bead_is_irregular_by_its_higher_harmonics_unless_a_prism(share: float, *, irregular: bool) -> None:
    assert raised(body=cornered(share)) == ((flags.IRREGULAR,) if irregular else ())
    assert raised(body=cornered(share, prismatic=True)) == ()


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("way", "limit"), [((1.0, 0.0), 1.0), ((0.0, 1.0), 1.0), ((0.6, 0.8), 1.0)])
def test_a_bead_is_far_from_the_sheet_beyond_its_diagonal(
    way: tuple[float, float], limit: float, sign: int
) -> None:
    corner = np.array(SHEET.page_mm) if sign > 0 else np.zeros(2)
    for far, expected in ((0.97, ()), (1.03, (flags.FAR_FROM_SHEET,))):
        x, y = corner + sign * far * limit * DIAGONAL_MM * np.array(way)
        assert raised(replace(PERFECT, curve=curve(centre_mm=(x, y)))) == expected


@pytest.mark.parametrize(("u_mm", "assumed"), [(0.08, False), (0.084, True)])
def test_height_is_assumed_where_the_largest_size_depends_on_it(u_mm: float, *, assumed: bool) -> None:
    widths, u = np.full(DIRECTIONS, 7.9), np.full(DIRECTIONS, 0.2)
    widths[90], u[90] = 8.0, u_mm
    body = replace(ROUND, widths_mm=widths, widths_u_mm=u)
    assert (flags.HEIGHT_ASSUMED in raised(body=body)) == assumed


def test_what_is_unsure_or_not_measured_is_flagged() -> None:
    assert raised(replace(PERFECT, outline=outline(unsure_split=True))) == (flags.UNSURE_SPLIT,)
    assert raised(replace(PERFECT, outline=outline(probability=0.9))) == (flags.UNSURE_BEAD,)
    assert raised(sizes=replace(SIZES, measured=False)) == (flags.UNMEASURED,)


def test_of_two_beads_one_on_the_other_both_are_flagged_and_neither_is_surely_one() -> None:
    under, over = (replace(PERFECT, outline=outline(**{side: True})) for side in ("under", "over"))
    assert (raised(under), raised(over)) == ((flags.COVERED,), (flags.HEIGHT_ASSUMED,))


@pytest.mark.parametrize(
    ("rim", "agreement", "expected"), [(0.5, 1.0, True), (0.49, 1.0, False), (0.7, 0.7, False)]
)
def test_half_of_an_outline_gives_sizes(rim: float, agreement: float, *, expected: bool) -> None:
    bead = replace(PERFECT, rim=rim, agreement=agreement)
    assert measurable(bead, widths_mm=ROUND.widths_mm, u_mm=ROUND.widths_u_mm) == expected


@pytest.mark.parametrize(
    ("u_mm", "expected"), [((1.0, 0.5), True), ((1.04, 0.5), False), ((1.0, 0.52), False)]
)
def test_sizes_are_certain_enough_to_a_quarter_of_each(u_mm: tuple[float, float], *, expected: bool) -> None:
    sizes = np.array([8.0, 4.0])
    assert certain_enough(sizes, np.array(u_mm)) == expected
    assert measurable(PERFECT, widths_mm=sizes, u_mm=np.array(u_mm)) == expected
