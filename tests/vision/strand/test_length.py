"""Lengths along the string: places in space, and boundaries separated from the beads' own spread."""

import numpy as np
import pytest

from tests.helpers.handmade import straight_plane
from tests.helpers.lengths import CAMERA, PLANE_MM, measured
from vision.strand.length import BeadBodies, lengths_along, with_unseen_gaps
from vision.strand.reconciled import Lengths, reconciled
from vision.strand.strip import Segment

LEAST_COVERED = 0.75


def test_exact_boundaries_give_exact_lengths() -> None:
    found = measured(5.0 + 8.0 * np.arange(11))
    assert found.uniform
    assert found.along_mm == pytest.approx(np.full(10, 8.0), abs=1e-6)
    assert found.gaps_mm == pytest.approx(np.zeros(10), abs=1e-9)
    assert not found.odd.any()


def test_what_lies_higher_than_the_plane_is_smaller_than_it_looks() -> None:
    # similar triangles: (H - h) / (H - plane)
    found = measured(5.0 + 8.0 * np.arange(11), centre_mm=6.0)
    assert found.along_mm == pytest.approx(np.full(10, 8.0 * 294 / 296), abs=1e-6)


def test_gaps_are_free_string_and_slivers_are_none() -> None:
    starts = np.array([5.0, 13.0, 24.0, 32.03, 40.0, 48.0])
    found = measured(np.column_stack([starts, starts + 8.0]))
    assert found.gaps_mm == pytest.approx([0.0, 3.0, 0.0, 0.0, 0.0, 0.0], abs=1e-6)


def test_misplaced_boundaries_do_not_become_differing_beads() -> None:
    rng = np.random.default_rng(1)
    edges = 5.0 + 8.0 * np.arange(31)
    seen = edges + np.r_[0.0, rng.normal(0, 0.12, 29), 0.0]
    found, raw = measured(seen), np.diff(seen)
    assert np.std(found.along_mm - 8.0) < 0.6 * np.std(raw - 8.0)
    assert found.along_mm.sum() == pytest.approx(240.0, abs=0.2)


def test_one_larger_bead_keeps_its_length_and_is_called_odd() -> None:
    lengths = np.full(14, 8.0)
    lengths[5] = 10.5
    found = measured(5.0 + np.r_[0.0, np.cumsum(lengths)])
    assert np.flatnonzero(found.odd).tolist() == [5]
    assert found.along_mm[5] == pytest.approx(10.5, abs=1e-6)
    assert np.delete(found.along_mm, 5) == pytest.approx(np.full(13, 8.0), abs=0.01)


def test_beads_of_several_shapes_are_read_one_by_one() -> None:
    lengths = np.array([6.0, 8.0, 10.0, 8.0, 6.0, 10.0, 8.0, 6.0])
    found = measured(5.0 + np.r_[0.0, np.cumsum(lengths)])
    assert not found.uniform
    assert found.along_mm == pytest.approx(lengths, abs=1e-6)
    assert not found.odd.any()


def test_beads_of_one_shape_in_several_sizes_are_as_long_as_their_widths_say() -> None:
    widths = np.array([9.0, 6.0, 6.0, 8.0, 8.0, 9.0, 8.0, 8.0, 8.0, 9.0, 8.0])
    lengths = 1.5 * widths
    edges = 5.0 + np.r_[0.0, np.cumsum(lengths)]
    edges[-1] += 1.2  # a stopper of the beads' colour
    found = measured(edges, width_mm=widths)
    assert not found.uniform
    assert found.along_mm[:-1] == pytest.approx(lengths[:-1], abs=0.02)
    assert found.along_mm[-1] == pytest.approx(lengths[-1], abs=0.15)


def test_turned_cubes_predict_no_lengths() -> None:
    """Cubes of several sizes show widths of 1 to 1.41 times their length, as they happen to lie."""
    rng = np.random.default_rng(8)
    lengths = rng.choice([8.0, 10.0, 12.0, 14.0], 20)
    turn = rng.uniform(0, np.pi / 2, 20)
    edges = np.concatenate([[0.0], np.cumsum(lengths)])
    found = measured(edges, width_mm=lengths * (np.cos(turn) + np.sin(turn)))
    assert not found.uniform
    assert found.along_mm == pytest.approx(lengths, abs=0.01)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_few_beads(count: int) -> None:
    found = measured(5.0 + 8.0 * np.arange(count + 1))
    assert found.along_mm == pytest.approx(np.full(count, 8.0), abs=1e-6)
    assert found.along_u_mm.shape == found.gaps_mm.shape == found.odd.shape == (count,)


@pytest.mark.parametrize("boundary_mm", [0.03, 0.1])
def test_stated_uncertainty_covers_beads_of_one_kind(boundary_mm: float) -> None:
    """Beads that spread by 0.6 %, boundaries that are misplaced: most within twice the uncertainty."""
    rng = np.random.default_rng(2)
    inside = []
    for _ in range(30):
        lengths = 8.0 * (1 + rng.normal(0, 0.006, 24))
        edges = 5.0 + np.r_[0.0, np.cumsum(lengths)]
        found = measured(edges + rng.normal(0, boundary_mm, 25))
        inside.append(np.abs(found.along_mm - lengths) <= 2 * found.along_u_mm)
    assert LEAST_COVERED <= np.mean(inside) <= 0.99


MAD_TO_SD = 1.4826
"""Standard deviation of normal values over their median absolute deviation, 1 / Phi^-1(3/4)."""
LEAST_OWN, MOST_OWN, MOST_OWN_SHAPE = 0.003, 0.015, 0.03
"""Relative standard deviations of beads' own lengths (common practice, no source)."""
EXACT_MM = 1e-9


def lengths_of(raw: np.ndarray, width_mm: np.ndarray | float = 8.0) -> Lengths:
    return reconciled(raw, np.zeros(len(raw)), width_mm=np.broadcast_to(width_mm, len(raw)))


def scattered(count: int, off: float, mm: np.ndarray | float = 8.0) -> np.ndarray:
    """Return lengths alternately longer and shorter by a share: their robust sd is 1.4826 times that."""
    return mm * (1 + off * np.resize([1.0, -1.0], count))


def best_linear(raw: np.ndarray, expected: np.ndarray, inner: slice, most: float) -> dict[str, np.ndarray]:
    """Return the best linear estimate (JCGM 102, Gauss-Markov) of lengths whose boundaries are misplaced.

    The covariance of neighbours is minus the variance of a boundary; what is left of the variance once two
    boundaries are taken out is the beads' own, between bounds; the rest is noise.
    """
    relative = raw[inner] / expected[inner] - 1
    sd = MAD_TO_SD * np.median(np.abs(relative))
    mean = expected * (1 + relative[np.abs(relative) < max(4 * sd, 0.1)].mean())
    limit = 3 * sd * mean[inner] + 0.02
    off = np.maximum(np.minimum(relative * mean[inner], limit), -limit)
    boundary = max(-(off[:-1] * off[1:]).mean(), 0.0)
    typical, total = np.median(mean), (off**2).mean()
    own = min(max(total - 2 * boundary, (LEAST_OWN * typical) ** 2), (most * typical) ** 2)
    noise = max(total - own, 1e-4)
    return {
        "mean": mean,
        "along": mean + (raw - mean) * own / (own + noise),
        "u": np.sqrt(own * noise / (own + noise)),
        "end_u": np.sqrt(own + noise),
        "own": own,
        "noise": noise,
        "total_u": np.sqrt(2 * (own + noise) + 2 * max(boundary, 4e-4)),
    }


SAME_MM = {
    "loosely placed": [8.3, 8.02, 7.9, 8.16, 7.9, 8.1, 7.89, 8.0, 7.93, 8.12, 8.5, 7.4],
    "scattered themselves": [8.0, 8.0, 8.3, 8.3, 8.28, 7.7, 7.72, 7.7, 8.0, 8.0, 8.1, 8.0, 8.0],
    "nearly equal": [8.0, 8.01, 8.0, 8.0, 7.99, 8.01, 8.0, 8.0, 8.0],
    "few": [8.0, 8.1, 7.9, 8.1],
    "one at each end left out": [9.0, 8.05, 7.9, 8.1, 8.03, 7.93, 8.08, 7.97, 7.1],
    "one far off": [8.0, 8.0, 8.06, 7.95, 8.04, 8.75, 7.97, 8.03, 7.94, 8.05, 8.0, 8.0],
}


@pytest.mark.parametrize("name", SAME_MM)
def test_lengths_of_one_kind_are_the_best_linear_estimates(name: str) -> None:
    raw = np.array(SAME_MM[name])
    count = len(raw)
    edge = 2 if count >= 10 else 1 if count > 4 else 0
    inner = slice(edge, count - edge)
    best = best_linear(raw, np.full(count, np.median(raw[inner])), inner, MOST_OWN)
    found = lengths_of(raw)
    assert found.uniform
    assert not found.odd.any()
    assert found.along_mm[1:-1] == pytest.approx(best["along"][1:-1], abs=EXACT_MM)
    assert found.along_u_mm[1:-1] == pytest.approx(np.full(count - 2, best["u"]), abs=EXACT_MM)
    # no neighbour marks the outer ends: there the mean alone counts
    assert found.along_mm[[0, -1]] == pytest.approx(best["mean"][[0, -1]], abs=EXACT_MM)
    assert found.along_u_mm[[0, -1]] == pytest.approx(np.hypot(best["u"], best["end_u"]), abs=EXACT_MM)
    assert found.total_u_mm == pytest.approx(best["total_u"], abs=EXACT_MM)


def test_lengths_of_one_shape_are_drawn_to_what_the_widths_say() -> None:
    widths = np.array([9.0, 6.0, 6.0, 8.0, 8.0, 9.0, 7.0, 8.0, 5.0, 9.0, 8.0, 6.0])
    raw = 1.5 * widths + np.array([0.5, -0.1, 0.1, -0.1, 0.15, -0.2, 0.1, 0.12, -0.1, 0.2, -0.1, -0.4])
    inner = slice(2, 10)
    best = best_linear(raw, widths * np.median(raw[inner] / widths[inner]), inner, MOST_OWN_SHAPE)
    found = lengths_of(raw, widths)
    assert not found.uniform
    assert found.along_mm[1:-1] == pytest.approx(best["along"][1:-1], abs=EXACT_MM)
    u = np.hypot(best["u"], 0.03 * best["mean"])
    assert found.along_u_mm[1:-1] == pytest.approx(u[1:-1], abs=EXACT_MM)
    # an outer end is off by a further 4 % of the width
    for k in (0, -1):
        share = best["own"] / (best["own"] + best["noise"] + (0.04 * widths[k]) ** 2)
        assert found.along_mm[k] == pytest.approx(best["mean"][k] + share * (raw - best["mean"])[k])
        assert found.along_u_mm[k] == pytest.approx(np.hypot(u[k], best["end_u"]))


@pytest.mark.parametrize(("sd", "uniform"), [(0.044, True), (0.046, False)])
def test_lengths_that_scatter_more_than_those_of_one_kind_are_of_none(
    sd: float,
    uniform: bool,  # noqa: FBT001
) -> None:
    """Three times the 1.5 % of one kind; no bead is the shorter for its neighbour's being long."""
    off = np.sqrt(3 / 2) * sd * np.resize([1.0, 1.0, 0.0, -1.0, -1.0, 0.0], 16)
    assert lengths_of(8.0 * (1 + off)).uniform == uniform


def test_lengths_that_scatter_as_misplaced_boundaries_make_them_are_of_one_kind() -> None:
    assert lengths_of(scattered(12, 0.06)).uniform


@pytest.mark.parametrize(
    ("off", "odd", "uniform"), [(0.125, 4, False), (0.125, 3, True), (0.1, 4, True), (-0.125, 4, False)]
)
def test_a_fifth_of_other_lengths_makes_a_strand_of_no_one_kind(
    off: float,
    odd: int,
    uniform: bool,  # noqa: FBT001
) -> None:
    """Of twenty that count, sixteen alike are not more than eight in ten."""
    raw = np.full(24, 8.0)
    raw[3 : 3 + 2 * odd : 2] *= 1 + off
    assert lengths_of(raw).uniform == uniform


@pytest.mark.parametrize(
    ("sd", "sd_over_widths", "uniform"),
    [(0.019, 0.0, True), (0.021, 0.0, False), (0.043, 0.02, True), (0.045, 0.02, False)],
)
def test_widths_count_where_lengths_agree_with_them_better_than_with_each_other(
    sd: float,
    sd_over_widths: float,
    uniform: bool,  # noqa: FBT001
) -> None:
    raw = scattered(24, sd / MAD_TO_SD)
    widths = raw / (1 + sd_over_widths / MAD_TO_SD * np.resize([1.0, 1.0, -1.0, -1.0], 24))
    assert lengths_of(raw, widths).uniform == uniform


@pytest.mark.parametrize(("sd", "related"), [(0.058, True), (0.062, False)])
def test_lengths_over_widths_that_scatter_say_nothing(sd: float, related: bool) -> None:  # noqa: FBT001
    widths = np.resize([5.0, 9.0, 12.0, 7.0, 10.0], 20)
    raw = scattered(20, sd / MAD_TO_SD, widths)
    assert (lengths_of(raw, widths).along_mm != pytest.approx(raw)) == related


def test_unrelated_lengths_stay_and_their_outer_ends_are_less_certain() -> None:
    raw, widths = np.array([6.0, 14.0, 9.0, 3.0, 11.0, 7.0]), np.array([5.0, 8.0, 3.0, 7.0, 9.0, 10.0])
    found = lengths_of(raw, widths)
    ends = 0.04 * widths[[0, -1]]
    assert found.along_mm == pytest.approx(raw)
    u = np.hypot(0.06, 0.03 * raw)
    assert found.along_u_mm[1:-1] == pytest.approx(u[1:-1])
    assert found.along_u_mm[[0, -1]] == pytest.approx(np.hypot(u[[0, -1]], ends))
    assert found.total_u_mm == pytest.approx(np.hypot(*ends))
    assert not found.odd.any()


@pytest.mark.parametrize(("off_mm", "odd"), [(0.95, False), (0.97, True), (-0.95, False), (-0.97, True)])
def test_a_bead_more_than_an_eighth_off_is_odd_and_keeps_its_length(
    off_mm: float,
    odd: bool,  # noqa: FBT001
) -> None:
    raw = np.full(16, 8.0)
    raw[7] += off_mm
    found = lengths_of(raw)
    assert found.odd[7] == odd
    assert (found.along_mm[7] == raw[7]) == odd


def test_of_beads_that_scatter_one_is_odd_beyond_four_standard_deviations() -> None:
    ratios = {False: [0.0], True: [np.inf]}
    for off in np.linspace(1.0, 4.0, 61):
        raw = scattered(24, 0.05)
        raw[11] = 8.0 + off
        best = best_linear(raw, np.full(24, np.median(raw[2:-2])), slice(2, 22), MOST_OWN)
        ratios[bool(lengths_of(raw).odd[11])].append(abs(raw[11] - best["mean"][11]) / best["end_u"])
    assert max(ratios[False]) <= 4.0 <= min(ratios[True])
    assert max(ratios[False]) > 3.9


def test_end_beads_are_never_odd() -> None:
    raw = np.full(12, 8.0)
    raw[[0, -1]] = 12.0, 4.0
    assert not lengths_of(raw).odd.any()


@pytest.mark.parametrize(("gap_mm", "seen_mm"), [(0.045, 0.0), (0.055, 0.055)])
def test_a_gap_as_narrow_as_a_boundary_is_uncertain_is_none(gap_mm: float, seen_mm: float) -> None:
    found = measured(np.array([[5.0, 13.0], [13.0 + gap_mm, 21.0]]))
    assert found.gaps_mm == pytest.approx([seen_mm, 0.0], abs=1e-6)


def test_boundaries_lie_half_way_between_the_heights_of_their_beads() -> None:
    """A ray moved up by similar triangles, and the distance of two points in space (Pythagoras)."""
    centre = np.array([4.0, 5.0, 7.0])
    bodies = BeadBodies(
        centre_mm=centre,
        width_mm=np.full(3, 8.0),
        aside_mm=np.array([0.0, 0.4, 0.0]),
        gape_mm=np.zeros(2),
    )
    plane = straight_plane(40.0, height_mm=PLANE_MM, camera=CAMERA)
    segments = [Segment(start_mm=5.0 + 8 * k, end_mm=13.0 + 8 * k) for k in range(3)]
    x, aside, h = np.array([5.0, 13.0, 21.0, 29.0]), np.array([0.0, 0.2, 0.2, 0.0]), [4.0, 4.5, 6.0, 7.0]
    share = (300.0 - np.array(h)) / (300.0 - PLANE_MM)
    ends = np.column_stack([40.0 + (x - 40.0) * share, 10.0 + (aside - 10.0) * share, h])
    found = lengths_along(plane, segments, bodies=bodies)
    assert found.along_mm == pytest.approx(np.linalg.norm(np.diff(ends, axis=0), axis=1), abs=1e-6)


def test_gaps_too_short_to_be_seen_are_part_of_the_uncertainty() -> None:
    """Lengths too long by anything up to r scatter about the true ones by r / sqrt(3) (mean square)."""
    seen = measured(np.array([[5.0, 13.0], [13.0, 21.0], [24.0, 32.0]]))
    resolved_mm = 0.3
    wider = with_unseen_gaps(seen, resolved_mm=resolved_mm)
    gaps = np.random.default_rng(5).uniform(0.0, resolved_mm, 200_000)
    added = np.sqrt(wider.along_u_mm**2 - seen.along_u_mm**2)
    assert added[[0, 2]] == pytest.approx(np.sqrt(np.mean(gaps**2)), rel=0.01)
    assert added[1] == 0.0
    assert np.array_equal(wider.along_mm, seen.along_mm)


def test_covers_at_the_ends_and_spacers_between_are_not_as_long_as_the_beads() -> None:
    true = np.array([3.0, *[8.0] * 6, 1.5, *[8.0] * 6, 3.0])
    edges = 5.0 + np.r_[0.0, np.cumsum(true)]
    kinds = ["cover", *["bead"] * 6, "spacer", *["bead"] * 6, "cover"]
    bodies = BeadBodies(
        centre_mm=np.full(15, PLANE_MM),
        width_mm=np.minimum(true + 1, 8.0),
        aside_mm=np.zeros(15),
        gape_mm=np.zeros(14),
    )
    plane = straight_plane(130.0, height_mm=PLANE_MM, camera=CAMERA)
    segments = [
        Segment(start_mm=float(a), end_mm=float(b), kind=kind)
        for a, b, kind in zip(edges[:-1], edges[1:], kinds, strict=True)
    ]
    found = lengths_along(plane, segments, bodies=bodies)
    assert found.along_mm == pytest.approx(true, abs=1e-6)
    assert not found.odd.any()
