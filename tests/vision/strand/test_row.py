"""How high the parts of a strand lie, and how far they gape in a bend."""

import numpy as np
import pytest

from vision.strand.row import gape, resting, smoothed
from vision.strand.strip import Segment


def parts(*kinds: str) -> list[Segment]:
    return [Segment(start_mm=8.0 * k, end_mm=8.0 * k + 8.0, kind=kind) for k, kind in enumerate(kinds)]


def test_beads_lie_on_the_bed_and_hold_up_what_is_strung_between_them() -> None:
    radius = np.array([1.5, 4.0, 3.0, 6.0, 1.5])
    found = resting(radius, parts("cover", "bead", "spacer", "bead", "cover"))
    assert found == pytest.approx([4.0, 4.0, 5.0, 6.0, 6.0])


def test_a_spacer_thicker_than_the_beads_lies_on_the_bed() -> None:
    found = resting(np.array([4.0, 5.0, 4.0]), parts("bead", "spacer", "bead"))
    assert found == pytest.approx([4.0, 5.0, 4.0])


def test_without_a_bead_every_part_lies_on_the_bed() -> None:
    radius = np.array([1.5, 2.0])
    assert resting(radius, parts("cover", "spacer")) == pytest.approx(radius)


def arc(*, count: int, turned: float) -> np.ndarray:
    angles = np.linspace(0.0, turned, count)
    return np.column_stack([np.cos(angles), np.sin(angles)])


def test_beads_gape_where_the_string_bends_by_the_width_of_their_joints() -> None:
    # boxes on a regular polygon touch at the inner corners: a joint gapes by twice half the width, times the
    # tangent of half its angle
    count, turned, across_mm = 41, np.pi, 4.0
    gaps_mm = (count - 1) * across_mm * np.tan(turned / (count - 1) / 2)
    found = gape(arc(count=count, turned=turned), np.full(count - 1, across_mm))
    assert found.sum() == pytest.approx(gaps_mm, rel=0.001)


def test_only_joints_where_the_string_turns_gape() -> None:
    straight, corner = np.tile([1.0, 0.0], (3, 1)), np.tile([0.0, 1.0], (3, 1))
    joints_mm = np.array([4.0, 4.0, 3.0, 4.0, 4.0])
    found = gape(np.concatenate([straight, corner]), joints_mm)
    assert found == pytest.approx([0.0, 0.0, 3.0 / 2 * np.pi / 2, 0.0, 0.0])
    assert gape(arc(count=9, turned=2.0), np.zeros(8)) == pytest.approx(np.zeros(8))


def test_a_bend_two_beads_long_stays_and_a_single_jump_goes() -> None:
    aside_mm = np.zeros(20)
    aside_mm[[5, 14, 15]] = 0.5
    found = smoothed(aside_mm)
    assert found[:10] == pytest.approx(np.zeros(10), abs=1e-9)
    assert (found[14:16] > 0.6 * 0.5).all()
