"""The blur of a photo, read off tags that were drawn with a known one."""

import math

import numpy as np
import pytest

from tests.helpers.tag_photos import draw_tags, similarity
from vision.common.records import Photo
from vision.sheet.geometry import SHEETS
from vision.sheet.sharpness import edge_blur_px
from vision.sheet.tags import find_tags

CARD = SHEETS["card"]
TURNED = similarity(6.0, 13.0, (110.0, 20.0))
SIZE_PX = (720, 600)
PIXEL_VARIANCE, INTERPOLATION_VARIANCE = 1 / 12, 1 / 6
"""Of a box a pixel wide, and of the triangle that linear interpolation averages to over all phases."""
RELATIVE = 0.08


def blur_of(photo: Photo) -> float:
    return edge_blur_px(photo, find_tags(photo))


@pytest.mark.parametrize("lens_px", [0.5, 0.65, 0.8, 1.2])
def test_blur_of_lens_pixel_and_interpolation_add_as_squares(lens_px: float) -> None:
    photo = draw_tags(CARD, CARD.ids, TURNED, size_px=SIZE_PX, blur_px=lens_px)
    expected = math.sqrt(lens_px**2 + PIXEL_VARIANCE + INTERPOLATION_VARIANCE)
    assert blur_of(photo) == pytest.approx(expected, rel=RELATIVE)


def test_noise_and_dim_light_change_little() -> None:
    clear, noisy = (draw_tags(CARD, CARD.ids, TURNED, size_px=SIZE_PX, noise=noise) for noise in (0.5, 8.0))
    dim = Photo(name="dim.png", rgb=(clear.rgb * 0.75).astype(np.uint8))
    assert blur_of(noisy) == pytest.approx(blur_of(clear), rel=RELATIVE)
    assert blur_of(dim) == pytest.approx(blur_of(clear), rel=RELATIVE)


@pytest.mark.parametrize("lens_px", [2.0, 3.5])
def test_a_wide_blur_is_measured_as_wide_as_it_is(lens_px: float) -> None:
    photo = draw_tags(CARD, CARD.ids, TURNED, size_px=SIZE_PX, blur_px=lens_px)
    assert blur_of(photo) == pytest.approx(lens_px, rel=RELATIVE)


def test_a_blur_wider_than_the_tags_border_is_still_called_wide() -> None:
    """The border of a card's tag is 15 px wide here: a blur of 9 px leaves no black and no white."""
    tags = find_tags(draw_tags(CARD, CARD.ids, TURNED, size_px=SIZE_PX, blur_px=2.0))
    photo = draw_tags(CARD, CARD.ids, TURNED, size_px=SIZE_PX, blur_px=9.0)
    assert edge_blur_px(photo, tags) > 6.0
