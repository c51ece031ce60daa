"""What the network estimates of the strands among the sample photos, against their truth."""

import json

import numpy as np
import pytest

from tests.helpers.cameras import scene_of
from tests.helpers.paths import SAMPLES
from vision.image.photo import load_photo
from vision.strand.axis import STEP_MM
from vision.strand.search import DividedStrand, divide
from vision.strand.strand_map import REACH, StrandMap, from_both_ends, strand_map
from vision.strand.strip import Segment, straighten

ENDS_TOLERANCE = 0.03
"""Median distance of a bead's end from the nearest likely one, over the bead's size."""
WIDTH_TOLERANCE = 0.06
ACROSS_TOLERANCE_MM, LEAST_COVERED = 0.15, 0.9
HALF_WIDTH = {"anklet": 3.2, "mixed-strand": 5.0}
"""Of the widest beads, about, mm."""


@pytest.fixture(scope="module", params=sorted(HALF_WIDTH))
def looked_at(request: pytest.FixtureRequest) -> tuple[StrandMap, DividedStrand, dict]:
    name = request.param
    truth = json.loads((SAMPLES / f"{name}.json").read_text())
    scene = scene_of(load_photo(SAMPLES / f"{name}.jpg"), truth["bed_height_mm"])
    (found,) = divide(scene)
    half = HALF_WIDTH[name]
    seen = strand_map(straighten(scene.photo, found.plane, half_mm=REACH * half), half_mm=half)
    return seen, found, truth


def test_layers_cover_the_whole_strip(looked_at: tuple[StrandMap, DividedStrand, dict]) -> None:
    seen, found, _ = looked_at
    length = (len(found.plane.axis.points_mm) - 1) * STEP_MM
    assert seen.inside.shape[1] == len(seen.ends) == len(seen.between)
    assert len(seen.ends) * seen.cell_mm == pytest.approx(length, abs=seen.cell_mm)
    for layer in (seen.inside, seen.ends, seen.between):
        assert layer.min() >= 0
        assert layer.max() <= 1


def test_sides_lie_where_half_of_the_probability_ends() -> None:
    """Fourteen whole cells and a half one to the left of the axis, ten to the right, of 0.2 mm."""
    inside = np.zeros((128, 30), np.float32)
    inside[50:74] = 1.0
    inside[49] = 0.5
    nothing = np.zeros(30, np.float32)
    seen = StrandMap(
        cell_mm=0.2, inside=inside, ends=nothing, between=nothing, across_log=nothing, across_u_log=nothing
    )
    left, right = seen.sides_mm(40)
    assert left == pytest.approx(np.full(40, 14.5 * 0.2))
    assert right == pytest.approx(np.full(40, 10 * 0.2))
    assert seen.widths_mm(40) == pytest.approx(left + right)


def test_a_turned_strand_is_read_alike() -> None:
    rng = np.random.default_rng(5)
    pictured = rng.uniform(-0.5, 0.5, (128, 96, 5)).astype(np.float32)
    turned = pictured[::-1, ::-1] * np.array([1, 1, 1, -1, -1], np.float32)
    forth, back = from_both_ends(pictured)
    turned_forth, turned_back = from_both_ends(turned)
    assert forth.shape == (5, 128, 96)
    assert np.array_equal(forth, turned_back[:, ::-1, ::-1])
    assert np.array_equal(back, turned_forth[:, ::-1, ::-1])
    assert not np.allclose(forth, back)  # the two readings differ: a mean says more than either


def test_ends_are_likely_where_beads_touch(looked_at: tuple[StrandMap, DividedStrand, dict]) -> None:
    seen, _, truth = looked_at
    likely = np.flatnonzero(seen.ends > 0.5) * seen.cell_mm
    lengths = np.array([bead["along_mm"] for bead in truth["beads"]])
    joints = np.cumsum(lengths)[:-1]
    # ends lie as far from one another as the beads are long, wherever the first is
    first = likely[0] + seen.cell_mm + lengths[0]
    off = [np.abs(likely - (first - joints[0] + joint)).min() for joint in joints]
    assert np.median(off) < ENDS_TOLERANCE * lengths.mean() + seen.cell_mm


def test_as_many_stretches_as_beads_lie_between_ends(
    looked_at: tuple[StrandMap, DividedStrand, dict],
) -> None:
    seen, _, truth = looked_at
    bead = (seen.between > 0.5) & (seen.ends < 0.5)
    assert np.count_nonzero(np.diff(bead.astype(int)) == 1) == len(truth["beads"])


def test_widths_are_those_of_the_beads(looked_at: tuple[StrandMap, DividedStrand, dict]) -> None:
    seen, found, truth = looked_at
    width = seen.widths_mm(len(found.likely))
    tallest = float(np.percentile(width, 97))
    assert tallest == pytest.approx(max(b["across_mm"] for b in truth["beads"]), rel=WIDTH_TOLERANCE)


def test_sizes_across_are_within_their_uncertainty(looked_at: tuple[StrandMap, DividedStrand, dict]) -> None:
    seen, found, truth = looked_at
    beads = found.bead_segments
    true, along = np.array([(bead["across_mm"], bead["along_mm"]) for bead in truth["beads"]]).T
    lengths = np.array([bead.length_mm for bead in beads])
    if np.abs(lengths - along[::-1]).sum() < np.abs(lengths - along).sum():  # an axis runs either way
        true = true[::-1]
    sizes, u = seen.across_mm(beads)
    off = found.plane.size_at(sizes, truth["bed_height_mm"] + true / 2) - true
    assert np.median(np.abs(off)) < ACROSS_TOLERANCE_MM
    assert np.mean(np.abs(off) < 2 * u) >= LEAST_COVERED


def test_a_piece_beyond_the_last_whole_cell_has_a_size(
    looked_at: tuple[StrandMap, DividedStrand, dict],
) -> None:
    seen, _, _ = looked_at
    end = len(seen.ends) * seen.cell_mm
    sizes, u = seen.across_mm([Segment(start_mm=end, end_mm=end + 2 * STEP_MM)])
    assert np.isfinite([*sizes, *u]).all()
