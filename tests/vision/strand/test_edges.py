"""Sides of beads at exactly known places, blurred by a lens: how well the outermost line is located."""

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from tests.helpers.handmade import straight_plane
from tests.helpers.srgb import to_srgb
from vision.common.records import Photo
from vision.strand.axis import STEP_MM
from vision.strand.edges import bead_rims, moved_to_edges
from vision.strand.sides import Sides, sides_of
from vision.strand.strip import Segment, Strip, straighten

SIZE_PX = (760, 300)
PER_MM = 8.0
HEIGHT_MM = 300.0
BLUR_PX = 0.65
SEEN_BLUR_PX = (BLUR_PX**2 + 1 / 12 + 1 / 6) ** 0.5
"""Of lens, pixel (a box) and linear interpolation (a triangle, over all phases) together."""
FINE = 8
LENGTH_MM = 8.0
STARTS_MM = 12.0 + LENGTH_MM * np.arange(8)
SEGMENTS = [Segment(start_mm=float(a), end_mm=float(a + LENGTH_MM)) for a in STARTS_MM]
COARSELY_MM = 1.5 * STEP_MM
"""Within a step of the strip and a half a side is moved to an edge, before its rim is located."""
STEP_PX, LIMB_PX = 0.2, 0.35
"""Bias allowed of a plain step, and of a ball whose light falls off towards its limb."""
OVERSHOOT_PX = 0.35
"""A step from a pale bead to a grey bed is put too far out; the side may be this far off."""
OUTLINE_SOFT_MM, OUTLINE_OFF_MM = 0.09, 0.15
"""How softly the network draws an outline (from one quarter to three in 0.2 mm), and how far off."""
COLOUR = {"dark": (0.02, 0.03, 0.10), "red": (0.35, 0.03, 0.03), "pale": (0.75, 0.60, 0.40)}
BED = {"white": 0.72, "grey": 0.25}

Shade = Callable[[np.ndarray], np.ndarray]


def photograph(radius_mm: float, middle_mm: float, colour: tuple, *, bed: float, shade: Shade) -> Photo:
    """Photograph a bar from straight above, its sides `radius_mm` from the line y = `middle_mm`."""
    fine = (np.arange(SIZE_PX[1] * FINE) + 0.5) / FINE - 0.5  # an integer is the centre of a pixel
    y_mm = (fine - (SIZE_PX[1] - 1) / 2) / PER_MM
    depth = np.clip(1 - np.abs(y_mm - middle_mm) / radius_mm, 0, 1)
    bar = np.array(colour) * shade(depth)[:, None]
    column = np.where((depth > 0)[:, None], bar, bed)
    light = column.reshape(SIZE_PX[1], FINE, 3).mean(axis=1)
    light = np.repeat(light[:, None], SIZE_PX[0], axis=1)
    light = cv2.GaussianBlur(light, (0, 0), BLUR_PX)
    noise = np.random.default_rng(1).normal(0, 1.5, light.shape)
    return Photo(name="bar.png", rgb=np.clip(to_srgb(light) + noise, 0, 255).astype(np.uint8))


def plain(depth: np.ndarray) -> np.ndarray:
    return np.ones_like(depth)


def ball(depth: np.ndarray) -> np.ndarray:
    """Return the light of a matt ball lit from above: the cosine of its surface's slant (Lambert)."""
    return 0.3 + 0.7 * np.sqrt(1 - (1 - depth) ** 2)


def seen(photo: Photo, radius_mm: float, middle_mm: float, *, off_mm: float) -> tuple[Sides, Strip]:
    """Return the sides of a bar, and its strip; the network's outline is so far off."""
    camera = camera_at(0.0, 0.0, HEIGHT_MM, focal_px=PER_MM * HEIGHT_MM, size_px=SIZE_PX)
    plane = straight_plane(88.0, start=(-44.0, 0.0), camera=camera)
    strip = straighten(photo, plane, half_mm=1.6 * radius_mm + 3)
    beyond = np.abs(strip.aside_mm - middle_mm) - radius_mm - off_mm
    likely = np.repeat(1 / (1 + np.exp(beyond / OUTLINE_SOFT_MM))[:, None], strip.rgb.shape[1], axis=1)
    return moved_to_edges(sides_of(likely), SEGMENTS, strip=strip), strip


def rims_of(photo: Photo, radius_mm: float, middle_mm: float, *, off_mm: float = 0.0) -> np.ndarray:
    """Return the distances of both rims from the axis, (B, 2); the network's outline is so far off."""
    sides, strip = seen(photo, radius_mm, middle_mm, off_mm=off_mm)
    rims = bead_rims(photo, strip, sides=sides, segments=SEGMENTS, blur_px=SEEN_BLUR_PX)
    assert rims.aside_mm.shape == (len(SEGMENTS), 2)
    assert STARTS_MM[0] <= rims.along_mm[0, 0] <= STARTS_MM[0] + LENGTH_MM + STEP_MM
    return rims.aside_mm


@pytest.mark.parametrize("phase_mm", [0.03, 0.07, 0.11])
@pytest.mark.parametrize(
    ("colour", "bed", "within_px"),
    [
        ("dark", "white", STEP_PX),
        ("red", "white", STEP_PX),
        ("dark", "grey", STEP_PX),
        ("pale", "grey", OVERSHOOT_PX),
    ],
)
def test_step_edges_are_found_to_a_fraction_of_a_pixel(
    phase_mm: float, colour: str, bed: str, within_px: float
) -> None:
    photo = photograph(4.0, phase_mm, COLOUR[colour], bed=BED[bed], shade=plain)
    found = np.median(rims_of(photo, 4.0, phase_mm), axis=0)
    assert (found - phase_mm) * PER_MM == pytest.approx([-4.0 * PER_MM, 4.0 * PER_MM], abs=within_px)


@pytest.mark.parametrize("radius_mm", [2.0, 4.0, 6.0])
@pytest.mark.parametrize(("colour", "bed"), [("dark", "white"), ("red", "white"), ("pale", "grey")])
def test_darkening_limbs_are_not_taken_for_smaller_beads(radius_mm: float, colour: str, bed: str) -> None:
    photo = photograph(radius_mm, 0.05, COLOUR[colour], bed=BED[bed], shade=ball)
    found = np.median(rims_of(photo, radius_mm, 0.05), axis=0)
    assert np.diff(found) * PER_MM == pytest.approx([2 * radius_mm * PER_MM], abs=2 * LIMB_PX)


@pytest.mark.parametrize("off_mm", [-OUTLINE_OFF_MM, OUTLINE_OFF_MM])
def test_where_the_network_puts_the_outline_does_not_move_a_rim(off_mm: float) -> None:
    photo = photograph(4.0, 0.05, COLOUR["red"], bed=BED["white"], shade=plain)
    plainly, shifted = rims_of(photo, 4.0, 0.05), rims_of(photo, 4.0, 0.05, off_mm=off_mm)
    assert shifted * PER_MM == pytest.approx(plainly * PER_MM, abs=STEP_PX)


def test_beads_of_one_bar_read_alike() -> None:
    photo = photograph(4.0, 0.05, COLOUR["red"], bed=BED["white"], shade=plain)
    found = rims_of(photo, 4.0, 0.05)
    assert np.std(found, axis=0).max() * PER_MM < STEP_PX


@pytest.mark.parametrize("off_mm", [-0.3, 0.0, 0.3])
def test_sides_are_moved_to_the_sharp_edges_near_by(off_mm: float) -> None:
    photo = photograph(4.0, 0.0, COLOUR["red"], bed=BED["white"], shade=plain)
    sides, strip = seen(photo, 4.0, 0.0, off_mm=0.0)
    side = np.full(len(sides.width_mm), 4.0 + off_mm)
    found = moved_to_edges(replace(sides, left_mm=-side, right_mm=side), SEGMENTS, strip=strip)
    steps = np.r_[*(segment.steps() for segment in SEGMENTS)]
    assert found.right_mm[steps] == pytest.approx(np.full(len(steps), 4.0), abs=COARSELY_MM)
    assert found.left_mm[steps] == pytest.approx(np.full(len(steps), -4.0), abs=COARSELY_MM)
    assert np.delete(found.right_mm, steps) == pytest.approx(4.0 + off_mm)
