"""Where beads begin and end, on strips painted by hand."""

from collections.abc import Sequence

import numpy as np
import pytest
from handmade import cylinder_widths, painted, round_widths

from vision.axis import STEP_MM
from vision.partition import Partition, partition
from vision.segment import Segment, inner_dent

SEAM_MM = 0.35
"""Boundaries are placed in steps of 0.1 mm and drawn to the middle of the evidence round them."""
END_MM = 0.35
DENT_SHARE = 0.02
COLOURS = ((40, 60, 150), (150, 50, 60))


def divided(width: np.ndarray, places: np.ndarray, *, free_ends: bool = False, **paint: object) -> Partition:
    strip = painted(width, places, **paint)
    found = partition((strip,), np.stack([width / 2, width / 2]), free_ends=free_ends)
    assert found is not None
    return found


def assert_divided(found: Partition, places: np.ndarray) -> None:
    assert len(found.segments) == len(places)
    starts = np.array([s.start_mm for s in found.segments])
    ends = np.array([s.end_mm for s in found.segments])
    assert starts[1:] == pytest.approx(places[1:, 0], abs=SEAM_MM)
    assert ends[:-1] == pytest.approx(places[:-1, 1], abs=SEAM_MM)
    assert (starts[0], ends[-1]) == pytest.approx((places[0, 0], places[-1, 1]), abs=END_MM)


@pytest.mark.parametrize("d", [3.0, 6.0, 10.0, 14.0])
@pytest.mark.parametrize("count", [5, 17])
def test_touching_rounds(d: float, count: int) -> None:
    width, places = round_widths([d] * count)
    found = divided(width, places)
    assert_divided(found, places)
    assert found.ratio == pytest.approx(1.0, rel=0.06)


@pytest.mark.parametrize(("along", "across"), [(3.0, 8.0), (12.0, 6.0)])
def test_rondelles_and_long_ovals(along: float, across: float) -> None:
    width, places = round_widths([along] * 12, across=[across] * 12)
    found = divided(width, places)
    assert_divided(found, places)
    assert found.ratio == pytest.approx(along / across, rel=0.06)


@pytest.mark.parametrize("length", [4.0, 9.0])
def test_tubes_part_at_their_seams_alone(length: float) -> None:
    width, places = cylinder_widths([length] * 9, 5.0)
    assert_divided(divided(width, places), places)


def test_beads_of_two_colours_need_no_seam() -> None:
    width, places = cylinder_widths([6.0] * 9, 6.0)
    assert_divided(divided(width, places, colours=COLOURS, seam=0), places)


def test_mixed_sizes_of_one_shape() -> None:
    sizes = [6.0, 8.0, 10.0, 8.0, 6.0, 8.0, 10.0, 8.0, 6.0, 6.0, 8.0]
    width, places = round_widths(sizes)
    assert_divided(divided(width, places), places)


@pytest.mark.parametrize(("place", "size"), [(4, 11.0), (7, 5.6)])
def test_one_bead_that_really_differs_is_kept(place: int, size: float) -> None:
    sizes = [8.0] * 12
    sizes[place] = size
    width, places = round_widths(sizes)
    found = divided(width, places)
    assert_divided(found, places)
    assert found.segments[place].length_mm == pytest.approx(size, abs=2 * SEAM_MM)


@pytest.mark.parametrize("gaps", [(0.0, 0.0, 8.0), (0.0, 1.5, 0.0, 0.0, 3.0), (5.0,) * 9])
def test_no_bead_is_invented_in_a_gap(gaps: Sequence[float]) -> None:
    width, places = round_widths([8.0] * 10, gaps=gaps)
    found = divided(width, places)
    assert len(found.segments) == 10
    for segment, (a, b) in zip(found.segments, places, strict=True):
        assert (segment.start_mm, segment.end_mm) == pytest.approx((a, b), abs=END_MM)


def test_stoppers_of_any_length_stand_at_the_ends_of_a_rod() -> None:
    lengths = [5.6, *[8.0] * 8, 6.8]
    width, places = cylinder_widths(lengths, 8.0)
    found = divided(width, places, free_ends=True)
    assert_divided(found, places)


def test_a_small_bead_beside_a_wide_stopper_stays_a_bead() -> None:
    sizes = [8.0, 4.0, 6.0, 4.0, 6.0, 8.0, 6.0, 4.0, 6.0, 4.0, 8.0]
    width, places = round_widths(sizes)
    s = np.arange(len(width)) * STEP_MM
    for (a, b), towards in zip(places[[0, -1]], (0.2, -0.2), strict=True):  # its shadow lies on the bead
        width[(s >= a + min(towards, 0)) & (s < b + max(towards, 0))] = 7.0
    found = divided(width, places, free_ends=True)
    assert_divided(found, places)


def test_a_stopper_much_shorter_than_the_tubes_stands_by_itself() -> None:
    width, places = cylinder_widths([4.0, *[16.0] * 6, 5.0], 8.0)
    s = np.arange(len(width)) * STEP_MM
    for a, b in places[[0, -1]]:
        width[(s >= a) & (s < b)] = 4.0
    assert_divided(divided(width, places, free_ends=True, colours=(*COLOURS, COLOURS[0])), places)


def test_a_glint_on_every_bead_is_no_seam() -> None:
    """The glint of one lamp is as regular as the notches, and on each bead, but no outline has it."""
    width, places = round_widths([8.0] * 20)
    steps = np.arange(len(width)) * STEP_MM
    for hidden in places[3::3, 0]:  # a notch in the shade
        width = np.where(np.abs(steps - hidden) < 3.0, np.maximum(width, 7.2), width)
    strip = painted(width, places + 2.0, seam=90)
    found = partition((strip,), np.stack([width / 2, width / 2]), free_ends=False)
    assert found is not None
    assert len(found.segments) == 20
    starts = np.array([segment.start_mm for segment in found.segments])
    assert np.median(np.abs(starts - places[:, 0])) < SEAM_MM


def test_boundaries_are_as_clear_as_they_are_painted() -> None:
    width, places = round_widths([8.0] * 9)
    clear = divided(width, places)
    assert np.median([segment.clarity for segment in clear.segments]) > 0.7
    assert clear.margin > 0.1


def test_two_beads_taken_for_one_have_a_dent() -> None:
    width, places = round_widths([8.0, 8.0, 8.0])
    one = Segment(start_mm=places[0, 0], end_mm=places[0, 1])
    two = Segment(start_mm=places[0, 0], end_mm=places[1, 1])
    assert inner_dent(width, one) == 0.0
    least = width[round(places[0, 1] / STEP_MM)]
    assert inner_dent(width, two) == pytest.approx(1 - least / 8.0, abs=DENT_SHARE)


def test_middle_and_length_of_a_segment() -> None:
    segment = Segment(start_mm=3.0, end_mm=10.5)
    assert (segment.length_mm, segment.middle_mm) == (7.5, 6.75)
