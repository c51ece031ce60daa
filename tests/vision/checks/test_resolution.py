"""How many pixels, and how sharp ones, a bead needs."""

import numpy as np
import pytest

from tests.helpers.cameras import SIZE_PX, camera_at
from vision.camera.scene import Scene
from vision.checks.resolution import check_resolution
from vision.common.errors import CoarsePhotoError
from vision.common.records import Photo
from vision.sheet.geometry import SHEETS
from vision.sheet.sharpness import TYPICAL_BLUR_PX

FOCAL_PX = 1200.0
"""Of `camera_at`: at a height of 1200 mm a millimetre is one pixel."""


def scene(height_mm: float, *, blur_px: float = TYPICAL_BLUR_PX) -> Scene:
    width, height = SIZE_PX
    return Scene(
        photo=Photo(name="far.jpg", rgb=np.zeros((height, width, 3), np.uint8)),
        camera=camera_at(150.0, 100.0, height_mm),
        sheet=SHEETS["mat-a4"],
        blur_px=blur_px,
    )


@pytest.mark.parametrize(("px_per_mm", "bead_mm"), [(1.0, 8.1), (2.0, 4.1), (10.0, 2.0)])
def test_eight_sharp_pixels_are_enough(px_per_mm: float, bead_mm: float) -> None:
    check_resolution(scene(FOCAL_PX / px_per_mm), bead_mm=bead_mm)


def test_too_few_pixels_are_said_with_what_to_do() -> None:
    with pytest.raises(
        CoarsePhotoError, match=r"^one millimetre is only 1\.0 pixels here, and a bead of 5\.0 mm has 5: "
    ):
        check_resolution(scene(FOCAL_PX), bead_mm=5.0)


def test_a_blur_of_three_pixels_needs_three_times_as_many() -> None:
    blurred = scene(FOCAL_PX / 2, blur_px=3 * TYPICAL_BLUR_PX)
    check_resolution(blurred, bead_mm=12.1)
    with pytest.raises(CoarsePhotoError, match=r"^the picture is blurred over 1\.0 mm at every edge"):
        check_resolution(blurred, bead_mm=11.9)
    check_resolution(scene(FOCAL_PX, blur_px=0.3), bead_mm=8.1)  # sharpening makes no pixel smaller
