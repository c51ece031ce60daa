"""How high the parts of a strand lie."""

import numpy as np
import pytest

from vision.strand.row import resting
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
