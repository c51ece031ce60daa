"""Lengths along the string: places in space, and boundaries separated from the beads' own spread."""

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from tests.helpers.handmade import straight_plane
from vision.strand.length import BeadBodies, Lengths, lengths_along
from vision.strand.strip import Segment

CAMERA = camera_at(40.0, 10.0, 300.0)
PLANE_MM = 4.0
LEAST_COVERED = 0.75


def measured(
    edges: np.ndarray, *, centre_mm: float = PLANE_MM, width_mm: float | np.ndarray = 8.0
) -> Lengths:
    """Measure touching beads whose boundaries lie at `edges`, or pairs of edges (B, 2)."""
    pairs = edges if edges.ndim == 2 else np.column_stack([edges[:-1], edges[1:]])
    bodies = BeadBodies(
        centre_mm=np.full(len(pairs), centre_mm),
        width_mm=np.broadcast_to(width_mm, len(pairs)),
        aside_mm=np.zeros(len(pairs)),
    )
    plane = straight_plane(float(pairs.max()) + 5.0, height_mm=PLANE_MM, camera=CAMERA)
    segments = [Segment(start_mm=float(a), end_mm=float(b)) for a, b in pairs]
    return lengths_along(plane, segments, bodies=bodies)


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


def test_turned_cubes_tell_nothing_of_their_lengths() -> None:
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
def test_stated_doubt_covers_beads_of_one_kind(boundary_mm: float) -> None:
    """Beads that spread by 0.6 %, boundaries that are misplaced: most within twice the doubt."""
    rng = np.random.default_rng(2)
    inside = []
    for _ in range(30):
        lengths = 8.0 * (1 + rng.normal(0, 0.006, 24))
        edges = 5.0 + np.r_[0.0, np.cumsum(lengths)]
        found = measured(edges + rng.normal(0, boundary_mm, 25))
        inside.append(np.abs(found.along_mm - lengths) <= 2 * found.along_u_mm)
    assert LEAST_COVERED <= np.mean(inside) <= 0.99
