"""The rim is found beside shadows, upright sides and print, and sharpening is undone."""

import math

import cv2
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d
from scipy.special import ndtr

from tests.helpers.srgb import coded, to_srgb
from vision.common.records import Photo
from vision.reference.agreement import agree
from vision.reference.edge_fit import RimProfiles, rim_offsets_px
from vision.reference.objects import REFERENCES
from vision.reference.outline import Pose, outline_of
from vision.reference.sharpening import Sharpening, encoded, fitted, sharpening_of
from vision.reference.steps import Candidates, candidates
from vision.sheet.geometry import SHEETS
from vision.sheet.tags import Tags

CARD, COIN = REFERENCES["card"], REFERENCES["euro-2"]
BLUR_PX = 0.8
SHARE, EDGE_BLUR_PX = 0.03, 0.03
READING_PX = math.sqrt(1 / 6)
"""Values between pixels are means of two, by their distances: a triangle of half-width 1."""
PLACE_PX = 0.1
"""On profiles of the kind that is fitted, with noise of 0.2 % of full light."""
OFFSETS_PX = np.arange(-5.0, 7.6, 0.25)


def profiles_of(rim_px: float, *, shadow: float, shown_px: float, side_light: float) -> RimProfiles:
    """Profiles of a card of 20 % on paper of 80 %; its shadow fades over 4 px, its side shows beside it."""
    beyond = OFFSETS_PX - rim_px
    face, base = 1 - ndtr(beyond / BLUR_PX), ndtr((beyond - shown_px) / BLUR_PX)
    paper = 0.8 * (1 - shadow * np.exp(-np.maximum(beyond, 0) / 4.0))
    light = 0.2 * face + paper * base + side_light * (1 - face - base)
    noise = np.random.default_rng(5).normal(0, 0.002, (12, len(light), 3))
    return RimProfiles(
        light=light[None, :, None] + noise,
        offsets_px=OFFSETS_PX,
        shown_px=np.full(12, shown_px),
        blur_px=BLUR_PX,
    )


@pytest.mark.parametrize("rim_px", [-0.6, 0.0, 0.35])
@pytest.mark.parametrize("shadow", [0.0, 0.4])
@pytest.mark.parametrize("shown_px", [0.0, 1.5])
def test_the_rim_lies_where_the_face_ends(rim_px: float, shadow: float, shown_px: float) -> None:
    seen = profiles_of(rim_px, shadow=shadow, shown_px=shown_px, side_light=0.45)
    where, u_px = rim_offsets_px(seen)
    assert np.median(where) == pytest.approx(rim_px, abs=PLACE_PX)
    assert (u_px > 0).all()


def test_a_faint_rim_is_known_less_well() -> None:
    clear = rim_offsets_px(profiles_of(0.0, shadow=0.0, shown_px=0.0, side_light=0.0))[1]
    faint = rim_offsets_px(profiles_of(0.0, shadow=0.72, shown_px=0.0, side_light=0.0))[1]
    assert np.median(faint) > 2 * np.median(clear)


def test_a_step_is_a_candidate_at_its_place() -> None:
    offsets_mm = np.arange(-4.0, 4.0, 0.05)
    light = np.repeat(0.2 + 0.6 * ndtr((offsets_mm - 0.72) / 0.1), 3).reshape(1, -1, 3)
    light = light + np.random.default_rng(6).normal(0, 0.001, light.shape)
    found = candidates(light, offsets_mm, px_per_mm=10.0)
    assert found.offsets_mm[0, 0] == pytest.approx(0.72, abs=PLACE_PX / 10)
    assert np.isnan(found.offsets_mm[0, 1:]).all()


@pytest.mark.parametrize("thing", [CARD, COIN], ids=lambda thing: thing.name)
def test_edges_of_a_print_do_not_agree_with_the_outline(thing) -> None:  # noqa: ANN001
    pose = Pose(centre_mm=(150.0, 100.0), turn=0.0, size_mm=thing.size_mm)
    outline = outline_of(thing, pose, spacing_mm=2.0)
    change = np.zeros(outline.slopes.shape[1])
    change[:2], change[-len(thing.size_mm) :] = (0.4, -0.3), np.array(thing.size_mm) * 0.02
    rng = np.random.default_rng(7)
    own = outline.slopes @ change + rng.normal(0, 0.01, len(outline.side))
    print_mm = rng.uniform(-3, 3, (len(own), 3))
    strength = np.tile([0.7, 1.0, 1.0, 1.0], (len(own), 1))
    steps = Candidates(offsets_mm=np.column_stack([own, print_mm]), strength=strength)
    found = agree(outline, steps, pose=pose, thing=thing, near_mm=0.08)
    assert found.whole
    assert found.alike
    assert found.change == pytest.approx(change, abs=0.1)


@pytest.mark.parametrize("thing", [CARD, COIN], ids=lambda thing: thing.name)
@pytest.mark.parametrize("per_side", [0, 1])
def test_too_few_edges_agree_on_nothing(thing, per_side: int) -> None:  # noqa: ANN001
    """One point on each side of a card leaves its turn open."""
    pose = Pose(centre_mm=(150.0, 100.0), turn=0.0, size_mm=thing.size_mm)
    outline = outline_of(thing, pose, spacing_mm=2.0)
    offsets_mm = np.full((len(outline.side), 1), np.nan)
    for side in range(outline.side.max() + 1):
        offsets_mm[np.flatnonzero(outline.side == side)[:per_side]] = 0.1
    steps = Candidates(offsets_mm=offsets_mm, strength=np.isfinite(offsets_mm).astype(float))
    assert not agree(outline, steps, pose=pose, thing=thing, near_mm=0.08).whole


def blurred_squares(*, dark: float, bright: float) -> tuple[Photo, Tags]:
    """Draw the black squares of two tags, blurred in linear light as a lens does."""
    sides_px = [(60.3, 180.8), (240.6, 361.1)]
    x, y = np.arange(420.0), np.arange(300.0)
    light = np.full((300, 420), bright)
    inside_y = ndtr((y - 80.4) / BLUR_PX) - ndtr((y - 200.9) / BLUR_PX)
    for left, right in sides_px:
        inside_x = ndtr((x - left) / BLUR_PX) - ndtr((x - right) / BLUR_PX)
        light -= (bright - dark) * inside_y[:, None] * inside_x
    corners = [[(a, 80.4), (b, 80.4), (b, 200.9), (a, 200.9)] for a, b in sides_px]
    rgb = np.repeat(to_srgb(light)[..., None], 3, axis=2)
    tags = Tags(sheet=SHEETS["card"], ids=(80, 83), corners_px=np.array(corners), corners_u_px=np.zeros(2))
    return Photo(name="squares.png", rgb=rgb), tags


@pytest.mark.parametrize("dark", [0.03, 0.06])
def test_the_blur_is_that_of_the_tags_however_black_they_are(dark: float) -> None:
    found = sharpening_of(*blurred_squares(dark=dark, bright=0.6))
    assert found.share == pytest.approx(0.0, abs=SHARE)
    assert found.blur_px == pytest.approx(math.hypot(BLUR_PX, READING_PX), abs=EDGE_BLUR_PX)


@pytest.mark.parametrize("dark", [0.0, 0.03, 0.06])
@pytest.mark.parametrize("share", [0.0, 0.3, 0.6])
def test_sharpening_is_told_from_blur(dark: float, share: float) -> None:
    offsets_px = np.arange(-5.0, 5.1, 0.25)
    codes = coded(dark + (0.6 - dark) * ndtr(offsets_px / BLUR_PX))
    sharp = codes + share * (codes - gaussian_filter1d(codes, 1.2 / 0.25, mode="nearest"))
    found = fitted(offsets_px, np.clip(sharp, 0, 1))
    assert found.share == pytest.approx(share, abs=SHARE)
    assert found.blur_px == pytest.approx(BLUR_PX, abs=EDGE_BLUR_PX)


def test_sharpening_is_undone() -> None:
    """The inverse of an unsharp mask, c + share (c - blurred c), on any picture."""
    plain = cv2.GaussianBlur(np.random.default_rng(8).random((60, 80, 3), np.float32), (0, 0), 1.0)
    sharp = plain + 0.8 * (plain - cv2.GaussianBlur(plain, (0, 0), 1.2))
    undone = Sharpening(share=0.8, radius_px=1.2, blur_px=0.7).undone(sharp)
    assert np.abs(undone - plain)[8:-8, 8:-8].max() < 1e-3


def test_half_of_the_light_is_stored_as_735_thousandths() -> None:
    """IEC 61966-2-1: 1.055 x 0.5^(1/2.4) - 0.055."""
    assert encoded(np.array([0.5])) == pytest.approx(1.055 * 0.5 ** (1 / 2.4) - 0.055, abs=1e-4)
