"""How high the parts of a strand lie, and how far they gape in a bend."""

import numpy as np
import pytest

from vision.strand.row import resting, slack_u
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


def test_beads_with_flat_ends_gape_where_the_string_bends() -> None:
    # boxes on a regular polygon touch at the inner corners: a joint gapes by twice half the width, times the
    # tangent of half its angle
    count, turned, across_mm = 41, np.pi, 4.0
    gaps_mm = (count - 1) * across_mm * np.tan(turned / (count - 1) / 2)
    found = slack_u(arc(count=count, turned=turned), [np.full(20, across_mm)] * count, across_mm=across_mm)
    assert found * np.sqrt(3) == pytest.approx(gaps_mm, rel=0.001)


def test_round_beads_and_a_straight_string_leave_no_gaps() -> None:
    x = np.linspace(-1, 1, 2001)
    rounds, boxes = [np.sqrt(1 - x**2)] * 9, [np.ones(20)] * 9
    assert slack_u(arc(count=9, turned=2.0), rounds, across_mm=6.0) == pytest.approx(0.0, abs=0.01)
    assert slack_u(arc(count=9, turned=0.0), boxes, across_mm=6.0) == 0.0
