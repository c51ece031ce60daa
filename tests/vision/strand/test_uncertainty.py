"""The budget of a strand's sizes by closed forms, what nuggets add, and which flags are raised."""

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from tests.helpers.handmade import bare_sides, straight_plane
from vision.camera.scene import Scene
from vision.chains.courses import Course
from vision.checks.count import doubts_about
from vision.common import flags
from vision.common.records import Photo
from vision.sheet.geometry import SHEETS
from vision.sheet.sharpness import TYPICAL_BLUR_PX
from vision.strand.axis import STEP_MM
from vision.strand.edges import Rims
from vision.strand.reconciled import Lengths
from vision.strand.row import BeadRow
from vision.strand.search import DividedStrand
from vision.strand.strand_map import StrandMap
from vision.strand.strip import Segment, StringPlane, Strip
from vision.strand.uncertainty import (
    Budget,
    bead_flags,
    count_evidence,
    lies_over,
    lumpiness,
    unlike_in_width,
)
from vision.strand.width import Sizes
from vision.topview.region import Fragment

SD = 0.01
"""Relative, of beads of one kind."""
BARELY = 0.02
EDGE_PX = 0.35
"""Standard uncertainty of one edge in a photo, whatever the model says (set on drawn photos)."""
LUMPY_REL = 0.2


EXACT = Rims(
    aside_mm=np.zeros((1, 2)), along_mm=np.zeros((1, 2)), u_mm=np.zeros((1, 2)), clarity=np.zeros((1, 2))
)


def scattered(sizes: np.ndarray, sd: float, seed: int = 3) -> np.ndarray:
    return sizes * np.exp(np.random.default_rng(seed).normal(0, sd, len(sizes)))


@pytest.mark.parametrize(
    "along",
    [np.full(24, 6.0), np.tile([6.0, 3.0, 6.0, 8.0], 6), np.geomspace(4.0, 10.0, 40)],
    ids=["one kind", "a pattern", "graduated"],
)
def test_regular_strands_are_not_lumpy(along: np.ndarray) -> None:
    across = scattered(1.1 * along, SD, seed=4)
    assert lumpiness(across, scattered(along, SD)) < BARELY


@pytest.mark.parametrize("sd", [0.1, 0.2])
def test_lumps_are_the_lumpier_the_more_they_differ(sd: float) -> None:
    drawn = [
        lumpiness(scattered(np.full(24, 7.0), sd, seed), scattered(np.full(24, 8.0), sd, seed + 50))
        for seed in range(20)
    ]
    assert 0.3 * sd < np.median(drawn) < sd


def third_nearest(sizes: np.ndarray) -> float:
    """Return the median distance of things (N, 2) to the third nearest other, by sorting."""
    away = [sorted(float(np.hypot(*(a - b))) for b in sizes) for a in sizes]
    return float(np.median([row[3] for row in away]))  # the first is the thing itself


def test_lumpiness_is_the_distance_to_the_third_nearest_bead_or_the_scatter_of_proportions() -> None:
    rng = np.random.default_rng(9)
    log_across, log_along = rng.normal(0, 0.3, (2, 30))
    apart = third_nearest(np.column_stack([log_across, log_along]))
    proportion = log_along - log_across
    scatter = 1.4826 * np.median(np.abs(proportion - np.median(proportion)))
    assert apart < scatter
    assert lumpiness(np.exp(log_across), np.exp(log_along)) == pytest.approx(np.sqrt(apart**2 - 0.02**2))
    log_along = log_across + rng.normal(0, 0.03, 30)
    proportion = log_along - log_across
    scatter = 1.4826 * np.median(np.abs(proportion - np.median(proportion)))
    assert scatter < third_nearest(np.column_stack([log_across, log_along]))
    assert lumpiness(np.exp(log_across), np.exp(log_along)) == pytest.approx(np.sqrt(scatter**2 - 0.02**2))


def test_three_beads_tell_nothing_four_do() -> None:
    across, along = np.array([5.0, 7.0, 9.0, 4.0]), np.array([4.0, 9.0, 6.0, 8.0])
    assert lumpiness(across[:3], along[:3]) == 0.0
    assert lumpiness(across, along) > 0.1


def scene(*, scale_rel_u: float = 0.0, above_mm: float = 300.0, bed_mm: float = 0.0) -> Scene:
    photo = Photo(name="none.png", rgb=np.zeros((120, 160, 3), np.uint8))
    camera = camera_at(50.0, 40.0, above_mm + bed_mm, focal_px=1200.0)
    sheet = SHEETS["card"]
    return Scene(photo=photo, camera=camera, sheet=sheet, scale_rel_u=scale_rel_u, bed_height_mm=bed_mm)


def test_a_budget_holds_pixels_scale_and_heights() -> None:
    """A pixel covers its height over the focal length; a height by the radius shifts what is seen aslant."""
    places = np.array([[40.0, 40.0, 5.0], [50.0, 40.0, 5.0], [60.0, 40.0, 5.0]])
    made = Budget.of(
        scene(scale_rel_u=0.003, above_mm=250.0, bed_mm=50.0), places=places, radius=np.array([3.0, 4.0, 5.0])
    )
    assert made.px_mm == pytest.approx((300.0 - 5.0) / 1200.0, rel=1e-6)
    assert made.scale_u == pytest.approx(np.full(3, 0.003), abs=1e-12)  # this camera is exactly known
    assert made.height_u == pytest.approx(0.2 * np.array([3.0, 4.0, 5.0]) / 250.0)


def test_a_blurred_edge_counts_as_many_pixels_as_it_is_wider() -> None:
    places, radius = np.array([[50.0, 40.0, 5.0]]), np.array([4.0])
    sharp = Budget.of(scene(), places=places, radius=radius)
    blurred = Budget.of(replace(scene(), blur_px=3 * TYPICAL_BLUR_PX), places=places, radius=radius)
    assert blurred.px_mm == pytest.approx(3 * sharp.px_mm, rel=1e-9)
    assert blurred.sides_u(EXACT) == pytest.approx(3 * sharp.sides_u(EXACT))


def test_an_uncertain_camera_adds_to_the_scale() -> None:
    exact = scene(scale_rel_u=0.003)
    focal = np.zeros((12, 12))
    focal[6, 6] = 0.004**2  # of the logarithm of the focal length
    unsure = replace(exact, camera=replace(exact.camera, covariance=focal))
    made = Budget.of(unsure, places=np.array([[50.0, 40.0, 5.0]]), radius=np.array([4.0]))
    assert made.scale_u == pytest.approx([np.hypot(0.003, 0.004)], rel=0.01)


def test_an_uncertain_height_of_the_rod_adds_to_the_scale() -> None:
    """What lies higher is seen larger by its share of the height of the camera."""
    made = Budget.of(
        scene(above_mm=250.0), places=np.array([[50.0, 40.0, 5.0]]), radius=np.array([4.0]), height_u_mm=1.0
    )
    assert made.scale_u == pytest.approx([1.0 / 250.0], rel=1e-6)


BUDGET = Budget(px_mm=0.2, scale_u=np.array([0.004, 0.002, 0.006]), height_u=np.array([0.003, 0.005, 0.001]))


def test_rims_leave_their_own_noise_and_what_fools_every_edge() -> None:
    u, exact = np.array([[0.03, 0.04], [0.0, 0.0], [0.12, 0.05]]), np.zeros((3, 2))
    rims = Rims(aside_mm=exact, along_mm=exact, u_mm=u, clarity=exact)
    expected = np.hypot([0.05, 0.0, 0.13], 2 * EDGE_PX * 0.2)
    assert BUDGET.sides_u(rims) == pytest.approx(expected)


def lengths(along: np.ndarray, u: np.ndarray, *, gaps: np.ndarray, total_u: float) -> Lengths:
    return Lengths(
        along_mm=along,
        along_u_mm=u,
        gaps_mm=gaps,
        total_u_mm=total_u,
        uniform=True,
        odd=np.zeros(len(along), bool),
    )


def test_contributions_add_as_squares_and_are_doubled() -> None:
    """JCGM 100:2008, 5.1 and 6.2.1."""
    along, u_along = np.array([8.0, 10.0, 6.0]), np.array([0.05, 0.03, 0.08])
    across, u_across = np.array([7.0, 9.0, 5.0]), np.array([0.1, 0.2, 0.05])
    stated = BUDGET.u95(
        Sizes(mm=across, u_mm=u_across), lengths(along, u_along, gaps=np.array([1.0, 3.0, 0.0]), total_u=0.3)
    )
    assert stated.across_mm == pytest.approx(
        2 * np.sqrt(u_across**2 + (across * BUDGET.scale_u) ** 2 + (0.003 * across) ** 2)
    )
    relative = np.hypot(BUDGET.scale_u, BUDGET.height_u)
    assert stated.along_mm == pytest.approx(
        2 * np.sqrt(u_along**2 + (0.005 * along) ** 2 + (0.1 * 0.2) ** 2 + (along * relative) ** 2)
    )
    whole = 28.0 * np.median(relative)
    assert stated.total_mm == pytest.approx(2 * np.sqrt(0.3**2 + whole**2 + (0.5 * 0.2) ** 2))


def test_a_rim_that_may_be_a_shadows_adds_half_of_how_far_it_lies_from_the_map() -> None:
    """A cell of the map, 0.2 mm, is the map's own error: sqrt(0.52^2 - 0.2^2) = 0.48."""
    size, nothing = np.array([4.0, 4.0, 4.0, 4.0]), np.zeros(4)
    budget = Budget(px_mm=0.0, scale_u=nothing, height_u=nothing)
    across, along = Sizes(mm=size, u_mm=nothing), lengths(size, nothing, gaps=nothing, total_u=0.0)
    stated = budget.u95(across, along, wider_mm=np.array([0.0, 0.1, 0.52, -0.52]))
    alone = budget.u95(across, along).across_mm
    assert stated.across_mm == pytest.approx(np.hypot(alone, [0.0, 0.0, 0.48, 0.48]))


def test_lumps_add_a_share_of_how_far_they_are_from_similar_ones() -> None:
    rng = np.random.default_rng(9)
    across, along = (8.0 * np.exp(rng.normal(0, LUMPY_REL, 30)) for _ in range(2))
    nothing = np.zeros(30)
    budget = Budget(px_mm=0.0, scale_u=nothing, height_u=nothing)
    stated = budget.u95(Sizes(mm=across, u_mm=nothing), lengths(along, nothing, gaps=nothing, total_u=0.0))
    lumpy = lumpiness(across, along)
    assert stated.across_mm == pytest.approx(2 * across * np.hypot(0.003, 0.25 * lumpy))
    assert stated.along_mm == pytest.approx(2 * along * np.hypot(0.005, 0.35 * lumpy))
    assert stated.total_mm == 0.0


@pytest.mark.parametrize(
    ("clarity", "edge", "odd", "raised"),
    [
        (0.61, 0.51, False, ()),
        (0.59, 0.51, False, (flags.UNSURE_SPLIT,)),
        (0.61, 0.49, False, (flags.WEAK_EDGE,)),
        (0.59, 0.49, True, (flags.WEAK_EDGE, flags.UNSURE_SPLIT, flags.ODD_SIZE)),
        (1.0, 1.0, True, (flags.ODD_SIZE,)),
    ],
)
def test_a_bead_is_flagged_for_its_ends_its_edges_and_its_size(
    clarity: float,
    edge: float,
    odd: bool,  # noqa: FBT001
    raised: tuple[str, ...],
) -> None:
    segment = Segment(start_mm=0.0, end_mm=8.0, clarity=clarity)
    assert bead_flags(segment, edge_clarity=edge, odd=odd) == raised


def odd_widths(widths: list[float], *, u95: float = 0.2, along: float | list[float] = 8.0) -> list[int]:
    """Return which beads of these widths are odd, all of one length unless said otherwise."""
    across, lengths_mm = np.array(widths), np.broadcast_to(along, len(widths))
    unlike = unlike_in_width(across, np.full(len(widths), u95), along_mm=np.asarray(lengths_mm, dtype=float))
    return np.flatnonzero(unlike).tolist()


@pytest.mark.parametrize(("width", "odd"), [(8.27, []), (8.29, [5]), (7.73, []), (7.71, [5])])
def test_a_bead_is_odd_in_width_by_more_than_both_uncertainties(width: float, odd: list[int]) -> None:
    """With 0.2 mm each the difference is known to 0.283 mm."""
    assert odd_widths([8.0] * 5 + [width]) == odd


@pytest.mark.parametrize(("count", "odd"), [(1, [9]), (2, [9, 10]), (3, [])])
def test_several_beads_of_another_width_are_a_kind_of_their_own(count: int, odd: list[int]) -> None:
    assert odd_widths([8.0] * 9 + [6.0] * count) == odd


def test_a_bead_is_compared_with_those_as_long_and_with_no_fewer_than_four() -> None:
    graduated = [6.0, 7.0, 8.0, 9.0, 10.0, 11.0]
    assert odd_widths(graduated, along=graduated) == []
    assert odd_widths([8.0, 8.0, 8.0, 6.0]) == []
    assert odd_widths([8.0, 8.0, 8.0, 8.0, 6.0]) == [4]


GAPLESS = (0.0,) * 6
CELL = Fragment(mask=np.ones((2, 2), bool), corner=(0, 0))


def divided(
    *, rod: bool = False, likely: dict[int, float] | None = None, beads: slice = slice(1, 7)
) -> DividedStrand:
    """Divide a string of 64 mm into eight pieces, six of them beads, which are likely; the others are not."""
    plane = straight_plane(64.0)
    axis = replace(plane.axis, straight=rod)
    plane = StringPlane(axis=axis, height_mm=0.0, camera=plane.camera)
    steps = len(axis.points_mm)
    strip = Strip(rgb=np.zeros((3, steps, 3), np.uint8), aside_mm=np.array([-0.1, 0.0, 0.1]), plane=plane)
    shown = np.repeat([0.0, *[1.0] * 6, 0.0], 80)
    for piece, value in (likely or {}).items():
        shown[80 * piece : 80 * piece + 80] = value
    layer = np.zeros(steps, np.float32)
    return DividedStrand(
        strip=strip,
        sides=bare_sides(np.zeros(steps), np.zeros(steps)),
        segments=[
            Segment(start_mm=8.0 * k, end_mm=8.0 * k + 8.0, likely=float(shown[80 * k])) for k in range(8)
        ],
        beads=beads,
        likely=shown,
        bare=shown < 0,
        network=StrandMap(
            cell_mm=0.1, inside=layer[None], ends=layer, between=layer, across_log=layer, across_u_log=layer
        ),
        from_above=[CELL] * (beads.stop - beads.start),
        surely_seen=beads.stop - beads.start,
        course=Course(points_mm=axis.points_mm[:, :2], half_mm=4.0, closed=False),
    )


def test_a_rod_is_as_uncertain_in_height_as_the_radius_of_its_thickest_bead() -> None:
    """Stoppers leave 0.3 mm, a bead that a finger hides 0.4 mm: 0.5 mm of 250 mm."""
    found, nothing = divided(rod=True), np.zeros((6, 2))
    row = BeadRow(
        scene=scene(above_mm=250.0),
        found=found,
        rims=Rims(aside_mm=nothing, along_mm=nothing, u_mm=nothing, clarity=nothing),
        middle_mm=np.zeros(6),
        across_mm=np.full(6, 8.0),
        centre_mm=np.full(6, 4.0),
        height_u_mm=0.3,
    )
    assert row.budget().scale_u == pytest.approx(np.full(6, 0.3 / 250.0), rel=1e-6)
    assert row.budget(0.4).scale_u == pytest.approx(np.full(6, 0.5 / 250.0), rel=1e-6)


def counted(found: DividedStrand, gaps: tuple[float, ...] = GAPLESS) -> bool:
    """Return whether the count of a strand of 8 mm beads is certain."""
    nothing = np.zeros(6)
    eights = lengths(np.full(6, 8.0), nothing, gaps=np.array(gaps), total_u=0.0)
    return not doubts_about(count_evidence(found, eights, hidden=np.zeros(6, dtype=bool)))


@pytest.mark.parametrize("rod", [True, False])
def test_a_count_is_certain_where_nothing_is_unclear(rod: bool) -> None:  # noqa: FBT001
    assert counted(divided(rod=rod))


@pytest.mark.parametrize(("gap_mm", "certain"), [(5.5, True), (5.7, False)])
def test_a_gap_of_seven_tenths_of_a_bead_may_hide_one(gap_mm: float, certain: bool) -> None:  # noqa: FBT001
    assert counted(divided(), (0.0, 0.0, gap_mm, 0.0, 0.0, 0.0)) == certain


@pytest.mark.parametrize(("from_mm", "certain"), [(27.0, True), (30.0, False)])
def test_no_bead_hides_where_bare_string_is_seen(from_mm: float, certain: bool) -> None:  # noqa: FBT001
    """Of the string from 24 to 32 mm 3 or 6 mm are not seen: less or more than seven tenths of a bead."""
    found = divided(beads=slice(1, 7))
    segments = [*found.segments[:3], *found.segments[4:]]
    bare = np.arange(len(found.likely)) * STEP_MM >= from_mm
    row = replace(found, segments=segments, beads=slice(1, 6), bare=bare, from_above=[CELL] * 5)
    gaps, eights = np.array([0.0, 8.0, 0.0, 0.0, 0.0]), np.full(5, 8.0)
    sizes = lengths(eights, np.zeros(5), gaps=gaps, total_u=0.0)
    assert (not doubts_about(count_evidence(row, sizes, hidden=np.zeros(5, dtype=bool)))) == certain


@pytest.mark.parametrize(("clarity", "certain"), [(0.61, True), (0.59, False)])
def test_the_least_clear_bead_decides(clarity: float, certain: bool) -> None:  # noqa: FBT001
    found = divided()
    found.segments[3] = replace(found.segments[3], clarity=clarity)
    assert counted(found) == certain
    found.segments[3] = replace(found.segments[3], clarity=1.0)
    found.segments[0] = replace(found.segments[0], clarity=0.0)  # no bead
    assert counted(found)


@pytest.mark.parametrize(("likely", "certain"), [(0.86, True), (0.84, False)])
def test_a_bead_that_is_none_too_likely_may_be_a_stopper(likely: float, certain: bool) -> None:  # noqa: FBT001
    assert counted(divided(likely={4: likely})) == certain


@pytest.mark.parametrize("piece", [0, 7])
@pytest.mark.parametrize("rod", [False, True])
@pytest.mark.parametrize(("likely", "certain"), [(0.14, True), (0.16, False)])
def test_what_was_left_out_at_an_end_may_be_a_bead(
    piece: int,
    likely: float,
    *,
    rod: bool,
    certain: bool,
) -> None:
    assert counted(divided(rod=rod, likely={piece: likely})) == certain


@pytest.mark.parametrize(
    ("rod", "more", "certain"),
    [
        (False, -1, False), (False, 0, True), (False, 1, False),
        (True, -1, False), (True, 1, True), (True, 2, True), (True, 3, False),
    ],
)  # fmt: skip
def test_the_network_of_beads_may_count_a_rods_stoppers_too(rod: bool, more: int, certain: bool) -> None:  # noqa: FBT001
    found = divided(rod=rod)
    assert counted(replace(found, from_above=[CELL] * (6 + more))) == certain
    unsure = [replace(CELL, divided=True), *[CELL] * (5 + more)]
    assert counted(replace(found, from_above=unsure))


@pytest.mark.parametrize(
    ("size_mm", "odd", "over"), [(16.1, True, True), (15.9, True, False), (16.1, False, False)]
)
def test_what_is_odd_and_covers_as_much_as_four_beads_may_lie_over_them(
    size_mm: float,
    odd: bool,  # noqa: FBT001
    over: bool,  # noqa: FBT001
) -> None:
    """Large beads of a pattern are not odd."""
    along, nothing = np.full(6, 8.0), np.zeros(6)
    along[3] = size_mm
    row = replace(lengths(along, nothing, gaps=nothing, total_u=0.0), odd=np.arange(6) * odd == 3)
    hidden = lies_over(row, across_mm=along)
    assert hidden.tolist() == [False] * 3 + [over] + [False] * 2
    assert bool(doubts_about(count_evidence(divided(), row, hidden=hidden))) == over


@pytest.mark.parametrize(
    ("piece", "kind", "certain"),
    [(3, "spacer", True), (3, "bead", False), (1, "cover", False), (6, "spacer", False)],
)
def test_a_spacer_among_beads_need_not_look_like_one(piece: int, kind: str, *, certain: bool) -> None:
    """At an end it may be a part of the clasp."""
    found = divided(rod=False, likely={piece: 0.8})
    segments = [replace(s, kind=kind) if k == piece else s for k, s in enumerate(found.segments)]
    assert counted(replace(found, segments=segments)) == certain
