"""How far the scale of a photo is trusted: questioned, refused, and what an unmeasured print is worth."""

import math

import pytest

from vision.camera.scale import (
    UNMEASURED_REL_U,
    question_bed,
    question_check_length,
    scale_rel_u,
)
from vision.common.errors import PhotoError
from vision.sheet.geometry import SHEETS

ROUNDING = 1e-12
# Pages fitted between margins of a quarter of an inch, the widest that printer drivers leave (common
# practice, no source), on A4 (ISO 216) and Letter (ASME Y14.1).
FITTED = [(210.0 - 12.7) / 210.0, (215.9 - 12.7) / 215.9]


def test_unmeasured_print_is_rectangular() -> None:
    # JCGM 100:2008, 4.3.7: half width a, standard uncertainty a / sqrt 3
    assert pytest.approx(0.065 / math.sqrt(3), rel=ROUNDING) == UNMEASURED_REL_U
    assert scale_rel_u(None, 0.3) == UNMEASURED_REL_U


@pytest.mark.parametrize("fitted", [*FITTED, 0.95, 0.96, 0.97, 0.98, 1.0, 1.01])
def test_unmeasured_print_covers_a_page_fitted_to_the_paper(fitted: float) -> None:
    assert abs(fitted - 1) < 2 * UNMEASURED_REL_U  # k = 2 (JCGM 100:2008, 6.3.3)
    assert abs(fitted - 1) < 1.645 * UNMEASURED_REL_U  # one-sided 95 %, as labels are judged (ISO 14253-1)


@pytest.mark.parametrize(("length_mm", "u_mm"), [(272.4, 0.05), (80.0, 0.2), (255.4, 0.0)])
def test_ruler_reading_is_taken_over_the_length_read(length_mm: float, u_mm: float) -> None:
    assert scale_rel_u(length_mm, u_mm) == pytest.approx(u_mm / length_mm, rel=ROUNDING)


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize(
    ("scale", "questioned"),
    [(1.0, ()), (0.985, ()), (1.019, ()), (0.979, ("check-length",)), (0.961, ("check-length",)),
     (1.021, ("check-length",)), (1.039, ("check-length",))],
)  # fmt: skip
def test_check_length_is_questioned_beyond_two_per_cent(
    name: str, scale: float, questioned: tuple[str, ...]
) -> None:
    sheet = SHEETS[name]
    assert question_check_length(scale * sheet.check_length_mm, sheet) == questioned


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("scale", [0.5, 0.959, 1.041, 10.0])
def test_check_length_is_refused_beyond_four_per_cent(name: str, scale: float) -> None:
    sheet = SHEETS[name]
    with pytest.raises(PhotoError, match=f"the {sheet.title} in this photo") as refused:
        question_check_length(scale * sheet.check_length_mm, sheet)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("shown", SHEETS)
@pytest.mark.parametrize("typed", SHEETS)
@pytest.mark.parametrize("off_mm", [-0.4, 0.0, 0.4])
def test_check_length_of_another_sheet_names_it(shown: str, typed: str, off_mm: float) -> None:
    if shown == typed:
        assert question_check_length(SHEETS[typed].check_length_mm + off_mm, SHEETS[shown]) == ()
        return
    says = f"check length of the {SHEETS[typed].title}; this photo shows the {SHEETS[shown].title}"
    with pytest.raises(PhotoError, match=says):
        question_check_length(SHEETS[typed].check_length_mm + off_mm, SHEETS[shown])


@pytest.mark.parametrize("camera_mm", [120.0, 250.0, 800.0])
def test_bed_counts_by_its_share_of_the_cameras_height(camera_mm: float) -> None:
    assert question_bed(0.0, camera_mm) == ()
    assert question_bed(0.019 * camera_mm, camera_mm) == ()
    assert question_bed(0.021 * camera_mm, camera_mm) == ("bed-height",)
    with pytest.raises(PhotoError, match="is the bed really") as refused:
        question_bed(0.041 * camera_mm, camera_mm)
    assert "\n" not in str(refused.value)


def test_refused_bed_would_hide_the_tags() -> None:
    """A board that fills the clear area of the A4 mat hides what lies between it and the tags."""
    mat, camera_mm = SHEETS["mat-a4"], 300.0
    assert mat.bed_mm is not None
    edge = mat.page_mm[0] / 2 - mat.bed_mm[0]
    tag = mat.page_mm[0] / 2 - float(mat.corners_mm(0)[1, 0])
    least = camera_mm * (1 - edge / tag)  # similar triangles: edge / (H - h) = tag / H
    assert question_bed(0.5 * least, camera_mm) == ()
    with pytest.raises(PhotoError):
        question_bed(1.25 * least, camera_mm)
