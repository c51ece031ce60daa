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


def test_shaken_photo_is_called_no_duller_than_is_of_use() -> None:
    photo = draw_tags(CARD, CARD.ids, TURNED, size_px=SIZE_PX, blur_px=2.0)
    tags = find_tags(photo)
    assert edge_blur_px(photo, tags) < edge_blur_px(
        draw_tags(CARD, CARD.ids, TURNED, size_px=SIZE_PX, blur_px=6.0), tags
    ) <= 2.5  # fmt: skip
