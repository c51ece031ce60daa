"""Hard shadows beside a strand: bars in slanting light, by the closed form of a cylinder's shadow."""

import cv2
import numpy as np
import pytest

from tests.helpers.handmade import straight_plane
from tests.helpers.srgb import to_srgb
from vision.common.records import FloatArray
from vision.strand.axis import STEP_MM
from vision.strand.evidence import Appearance
from vision.strand.outlines import moved_off_shadows
from vision.strand.sides import Sides
from vision.strand.strip import Segment, Strip

RADIUS_MM = 2.5
SEGMENTS = [Segment(start_mm=5.0 * k, end_mm=5.0 * (k + 1)) for k in range(1, 9)]
BEADS = slice(50, 450)
STEPS = 500
BED = np.array([0.5, 0.48, 0.42])
RED, BLACK = np.array([0.5, 0.05, 0.05]), np.array([0.02, 0.02, 0.02])
SUN = 0.8
"""Share of the light that comes from the sun on a clear day: the sky gives a fifth or less (handbooks of
daylight, from memory: 10 to 20 %)."""
BLUR_CELLS, NOISE_CODES = 1.2, 2.0
OUTLINE_MM = 0.1


def shadow_mm(elevation_deg: float) -> float:
    """Return how far a lying cylinder's shadow reaches beyond its side, seen from above.

    The ray that grazes it meets the bed at r (cot a + 1 / sin a) from under its middle (closed form).
    """
    slant = np.radians(elevation_deg)
    return float(RADIUS_MM * (1 / np.tan(slant) + 1 / np.sin(slant) - 1))


def bar(colour: FloatArray, *, shadow_mm: float, sun: float = SUN) -> Strip:
    """Draw a bar whose colour fades towards its sides, and the shadow beside its right one."""
    aside = np.arange(-70, 71) * STEP_MM
    bed = np.where(((aside > 0) & (aside < RADIUS_MM + shadow_mm))[:, None], (1 - sun) * BED, BED)
    limb = np.sqrt(np.maximum(1 - (aside / RADIUS_MM) ** 2, 0.0))[:, None]
    light = np.where(np.abs(aside)[:, None] < RADIUS_MM, colour * (0.4 + 0.6 * limb), bed)
    picture = np.tile(light[:, None], (1, STEPS, 1))
    noise = np.random.default_rng(3).normal(0, NOISE_CODES, picture.shape)
    codes = to_srgb(cv2.GaussianBlur(picture, (0, 0), BLUR_CELLS)) + noise
    plane = straight_plane(STEPS * STEP_MM)
    return Strip(rgb=np.clip(codes, 0, 255).astype(np.uint8), aside_mm=aside, plane=plane)


def sides(strip: Strip, *, right_mm: float) -> Sides:
    """Return straight sides, the right one so far out."""
    nothing = np.zeros((141, STEPS))
    look = Appearance.of(strip, nothing, outside=np.abs(strip.aside_mm) > 5.5)
    left, right = np.full(STEPS, -RADIUS_MM), np.full(STEPS, right_mm)
    return Sides(left_mm=left, right_mm=right, odds=nothing, appearance=look, moved_mm=np.zeros((2, STEPS)))


@pytest.mark.parametrize("elevation_deg", [60.0, 70.0])
def test_a_side_along_a_shadow_is_moved_to_the_outline(elevation_deg: float) -> None:
    broad = shadow_mm(elevation_deg)
    seen = sides(bar(RED, shadow_mm=broad), right_mm=RADIUS_MM + broad)
    found = moved_off_shadows(seen, SEGMENTS)
    assert found.right_mm[BEADS] == pytest.approx(np.full(400, RADIUS_MM), abs=OUTLINE_MM)
    assert np.array_equal(found.left_mm, seen.left_mm)
    assert found.moved_mm[1, BEADS] == pytest.approx(np.full(400, -broad), abs=OUTLINE_MM)
    assert not found.moved_mm[0].any()


@pytest.mark.parametrize("colour", [RED, BLACK])
@pytest.mark.parametrize("shadow", [0.0, 1.0])
def test_sides_on_outlines_stay(colour: FloatArray, shadow: float) -> None:
    """A bar without a shadow, or whose sides were not drawn off by it."""
    seen = sides(bar(colour, shadow_mm=shadow), right_mm=RADIUS_MM)
    assert np.array_equal(moved_off_shadows(seen, SEGMENTS).right_mm, seen.right_mm)


def test_a_dim_shadow_is_no_hard_one() -> None:
    """One that takes a third of the light is that of a clouded sky."""
    seen = sides(bar(RED, shadow_mm=1.2, sun=1 / 3), right_mm=RADIUS_MM + 1.2)
    assert not moved_off_shadows(seen, SEGMENTS).moved_mm.any()


def test_the_shadow_of_few_beads_is_not_believed() -> None:
    seen = sides(bar(RED, shadow_mm=1.2), right_mm=RADIUS_MM + 1.2)
    assert not moved_off_shadows(seen, SEGMENTS[:3]).moved_mm.any()
