"""Outlines of polished beads: bars drawn after the law of reflection, on the bed that they mirror."""

import cv2
import numpy as np
import pytest

from tests.helpers.handmade import bare_sides, straight_plane
from tests.helpers.srgb import to_srgb
from vision.strand.axis import STEP_MM
from vision.strand.outlines import moved_to_outlines
from vision.strand.sides import Sides
from vision.strand.strip import Segment, Strip

RADIUS_MM = 3.0
SEGMENTS = [Segment(start_mm=6.0 * k, end_mm=6.0 * (k + 1)) for k in range(1, 8)]
STEPS = 540
BED_LIGHT, SKY_LIGHT = 0.35, 1.0
SILVER = 0.9
"""Share of light that polished silver reflects at least (CRC Handbook, from memory: 0.93 to 0.98)."""
BLUR_CELLS, NOISE_CODES = 1.2, 2.0
HORIZON_MM = RADIUS_MM * np.sin(np.radians(45))
"""Where the mirrored ray is level: it leaves at twice the slant of the surface (law of reflection)."""
OUTLINE_MM = 0.15


def bar(*, tint: float, shadow_mm: float = 0.0) -> Strip:
    """Draw a mirroring bar seen from straight above; beyond `shadow_mm` of its right side lies a shadow."""
    aside = np.arange(-70, 71) * STEP_MM
    inside = np.abs(aside) < RADIUS_MM
    mirrored = np.where(np.abs(aside) < HORIZON_MM, SKY_LIGHT, BED_LIGHT)
    bed = np.where((aside > 0) & (aside < RADIUS_MM + shadow_mm), 0.5 * BED_LIGHT, BED_LIGHT)
    light = np.where(inside, tint * mirrored, bed)
    picture = np.tile(light[:, None, None], (1, STEPS, 3))
    noise = np.random.default_rng(3).normal(0, NOISE_CODES, picture.shape)
    codes = to_srgb(cv2.GaussianBlur(picture, (0, 0), BLUR_CELLS)) + noise
    plane = straight_plane(STEPS * STEP_MM)
    return Strip(rgb=np.clip(codes, 0, 255).astype(np.uint8), aside_mm=aside, plane=plane)


def sides(half_mm: float | np.ndarray) -> Sides:
    """Return sides so far from the string, as the search would find them."""
    side = np.broadcast_to(half_mm, STEPS)
    return bare_sides(-side, side)


def test_the_outline_is_found_outside_the_horizon() -> None:
    found = moved_to_outlines(sides(HORIZON_MM), SEGMENTS, strip=bar(tint=SILVER))
    beads = slice(60, 480)
    assert (found.moved_mm[beads] > 0).all()
    assert not np.delete(found.moved_mm, np.r_[beads]).any()
    assert found.right_mm[beads] == pytest.approx(np.full(420, RADIUS_MM), abs=OUTLINE_MM)
    assert found.left_mm[beads] == pytest.approx(np.full(420, -RADIUS_MM), abs=OUTLINE_MM)


@pytest.mark.parametrize("shadow_mm", [0.0, 0.8])
def test_nothing_is_added_to_beads_seen_whole(shadow_mm: float) -> None:
    """A hard shadow has its edge on one side only."""
    seen = sides(RADIUS_MM)
    found = moved_to_outlines(seen, SEGMENTS, strip=bar(tint=SILVER, shadow_mm=shadow_mm))
    assert not found.moved_mm.any()
    assert np.array_equal(found.width_mm, seen.width_mm)


def test_a_perfect_mirror_hides_its_outline() -> None:
    """Where the bed is mirrored without loss there is nothing to see, and nothing is guessed."""
    found = moved_to_outlines(sides(HORIZON_MM), SEGMENTS, strip=bar(tint=1.0))
    assert not found.moved_mm.any()


CLEAR_MM = 24.0
"""The first three of seven beads end here."""


FIRST = np.arange(STEPS) * STEP_MM < CLEAR_MM


def partly_clear() -> Strip:
    """Draw three beads that show their outlines; what follows mirrors the bed without loss."""
    clear, hidden = bar(tint=SILVER), bar(tint=1.0)
    rgb = np.where(FIRST[:, None], clear.rgb, hidden.rgb)
    return Strip(rgb=rgb, aside_mm=clear.aside_mm, plane=clear.plane)


@pytest.mark.parametrize("others_mm", [HORIZON_MM, RADIUS_MM], ids=["at the horizon", "seen whole"])
def test_beads_whose_outlines_are_hidden_follow_those_seen_as_wide(others_mm: float) -> None:
    found = moved_to_outlines(sides(np.where(FIRST, HORIZON_MM, others_mm)), SEGMENTS, strip=partly_clear())
    beads = slice(60, 480)
    assert found.right_mm[beads] == pytest.approx(np.full(420, RADIUS_MM), abs=OUTLINE_MM)
    assert found.moved_mm[~FIRST].any() == (others_mm == HORIZON_MM)


def test_shorter_beads_do_not_follow() -> None:
    """They are of another kind, and may be seen whole."""
    short = [Segment(start_mm=24.0 + 3.0 * k, end_mm=27.0 + 3.0 * k) for k in range(8)]
    found = moved_to_outlines(sides(HORIZON_MM), [*SEGMENTS[:3], *short], strip=partly_clear())
    assert (found.moved_mm[60:240] > 0).all()
    assert not found.moved_mm[240:].any()


def test_too_few_beads_agree_on_nothing() -> None:
    found = moved_to_outlines(sides(HORIZON_MM), SEGMENTS[:2], strip=bar(tint=SILVER))
    assert not found.moved_mm.any()
