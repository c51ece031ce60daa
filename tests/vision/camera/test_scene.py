"""The properties of a scene, against the values it was made from."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.helpers.cameras import camera_at
from vision.camera.scale import UNMEASURED_REL_U
from vision.camera.scene import Scene
from vision.common.conditions import Conditions, Question
from vision.common.records import Photo
from vision.sheet.geometry import SHEETS
from vision.sheet.sharpness import TYPICAL_BLUR_PX

MAT = SHEETS["mat-a4"]
ROUNDING = 1e-9


def scene(*, focal_35mm: float | None = 26.0) -> Scene:
    """Return a photo of a mat printed at 97 %, with beads on 2.5 mm of felt."""
    return Scene(
        photo=Photo(name="beads.jpg", rgb=np.zeros((30, 40, 3), np.uint8), focal_35mm=focal_35mm),
        camera=camera_at(148.5, 105.0, 260.0, tilt_deg=(0.0, 7.0)),
        sheet=MAT,
        scale=0.97,
        scale_rel_u=0.002,
        check_length_given=False,
        bed_height_mm=2.5,
        tags_seen=(0, 3, 9),
    )


def test_camera_stands_above_the_beds_surface() -> None:
    assert scene().camera_above_mm == pytest.approx(257.5, rel=ROUNDING)


@pytest.mark.parametrize(("blur_px", "times"), [(0.3, 1.0), (TYPICAL_BLUR_PX, 1.0), (2.6, 4.0)])
def test_blur_counts_in_that_of_a_sharp_photo(blur_px: float, times: float) -> None:
    assert replace(scene(), blur_px=blur_px).blur_times == pytest.approx(times, rel=ROUNDING)


def test_a_blurred_disc_looks_smaller_by_the_square_of_the_blur_over_its_diameter() -> None:
    """Little beside a third of a blur: drawn at the least size that `vision.checks.resolution` takes."""
    times, fine = 4.0, 4
    blur_px = times * TYPICAL_BLUR_PX
    radius_px = 8.0 * times / 2
    x = (np.arange(2 * radius_px * fine)[None, :] + 0.5) / fine
    disc = np.where(np.hypot(x, x.T) < radius_px, 1.0, 0.0)
    whole = np.block([[disc[::-1, ::-1], disc[::-1]], [disc[:, ::-1], disc]])
    seen = gaussian_filter(whole, blur_px * fine)[len(disc), len(disc) :]
    half_way = float(np.interp(-0.5, -seen, x[0]))
    smaller = radius_px - half_way
    assert smaller == pytest.approx(blur_px**2 / (2 * radius_px), rel=0.15)
    assert smaller < blur_px / 3 / 3


@pytest.mark.parametrize("question", ["check-length", "bed-height"])
def test_questioned_scale_is_worth_no_more_than_an_unmeasured_one(question: Question) -> None:
    assert scene().conditions.doubt_rel_u == 0.0
    assert replace(scene(), questioned=(question,)).conditions.doubt_rel_u == UNMEASURED_REL_U


def test_size_is_width_and_height() -> None:
    assert scene().size_px == (40, 30)


def test_page_is_as_large_as_it_was_printed() -> None:
    assert scene().page_mm == pytest.approx([0.97 * 297.0, 0.97 * 210.0], rel=ROUNDING)  # ISO 216


def test_conditions_state_what_the_scene_holds() -> None:
    stated = scene().conditions
    assert stated.camera_height_mm == pytest.approx(260.0, rel=ROUNDING)
    assert stated.tilt_deg == pytest.approx(7.0, rel=ROUNDING)
    assert stated.check_length_mm == pytest.approx(0.97 * 273.0, rel=ROUNDING)
    assert stated == Conditions(
        photo="beads.jpg",
        sheet_name="mat-a4",
        tags_found=3,
        tags_on_sheet=26,
        check_length_mm=stated.check_length_mm,
        nominal_check_length_mm=273.0,
        check_length_given=False,
        bed_height_mm=2.5,
        camera_height_mm=stated.camera_height_mm,
        tilt_deg=stated.tilt_deg,
        focal_source="exif",
        scale_rel_u=0.002,
    )


def test_focal_length_not_in_the_photo_is_said_to_be_estimated() -> None:
    assert scene(focal_35mm=None).conditions.focal_source == "estimated"


def test_a_focal_length_that_the_tags_could_not_check_is_said_to_be_unchecked() -> None:
    level = replace(scene(), camera=replace(scene().camera, zoom_seen=False))
    assert level.conditions.focal_source == "exif-unchecked"


def test_what_is_not_given_is_as_printed_flat_and_sharp() -> None:
    plain = Scene(photo=scene().photo, camera=scene().camera, sheet=MAT)
    assert (plain.scale, plain.scale_rel_u, plain.bed_height_mm, plain.tags_seen) == (1.0, 0.0, 0.0, ())
    assert plain.check_length_given
    # a lens of 0.4 px, a pixel's box and linear interpolation: variances 0.16, 1/12 and 1/6
    assert pytest.approx((0.16 + 1 / 12 + 1 / 6) ** 0.5, abs=0.02) == TYPICAL_BLUR_PX
    assert plain.blur_px == TYPICAL_BLUR_PX
