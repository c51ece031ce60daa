"""Stored values and light: IEC 61966-2-1 (sRGB) and ITU-R BT.709."""

import numpy as np
import pytest
from skimage.color import rgb2xyz

from tests.helpers.srgb import to_srgb
from vision.image.light import LUMINANCE, SRGB_TO_LINEAR, to_linear

ROUNDING = 1e-7
FOUR_DIGITS = 5e-5


@pytest.mark.parametrize(
    ("code", "light"),
    # IEC 61966-2-1: c / 12.92 up to 0.04045, ((c + 0.055) / 1.055)^2.4 above
    [(0, 0.0), (10, 10 / 255 / 12.92), (11, ((11 / 255 + 0.055) / 1.055) ** 2.4), (255, 1.0)],
)
def test_codes_on_both_sides_of_the_knee(code: int, light: float) -> None:
    assert SRGB_TO_LINEAR[code] == pytest.approx(light, abs=ROUNDING)


def test_half_of_the_light_is_stored_as_three_quarters() -> None:
    assert to_srgb(np.array([0.5])) == 188  # 255 * 0.7354
    assert to_linear(np.array([188], np.uint8))[0] == pytest.approx(0.5029, abs=FOUR_DIGITS)


def test_luminance_agrees_with_a_reference_library() -> None:
    # scikit-image's matrix is rounded in the fifth digit of its own, not in ours
    rgb = np.random.default_rng(1).integers(0, 256, (7, 5, 3), np.uint8)
    assert to_linear(rgb) @ LUMINANCE == pytest.approx(rgb2xyz(rgb)[..., 1], abs=2e-4)


def test_weights_share_out_all_the_light() -> None:
    assert LUMINANCE.sum() == pytest.approx(1.0, abs=ROUNDING)


def test_every_code_comes_back() -> None:
    codes = np.arange(256, dtype=np.uint8).reshape(32, 8)
    assert np.array_equal(to_srgb(to_linear(codes)), codes)
