"""What glare may hide: patches of bare white, as wide as a bead, unless the whole picture is white."""

import cv2
import numpy as np
import pytest

from tests.helpers.cameras import SIZE_PX, camera_at
from vision.camera.scene import Scene
from vision.checks.glare import glare_mm
from vision.common.records import FloatArray, Photo
from vision.sheet.geometry import SHEETS

BEAD_MM = 8.0
MIDDLE_MM = (150.0, 100.0)
PX_PER_MM = 3.0
"""Of `camera_at` at 400 mm: 1200 / 400."""
CELL_MM = 1 / 3
"""A pixel of this picture: as near as a distance can be told, at either end."""


def scene(*, patch_mm: float, paper: int = 225) -> Scene:
    """Return paper seen from above with a round white patch about the middle of the picture."""
    width, height = SIZE_PX
    rgb = np.full((height, width, 3), paper, np.uint8)
    cv2.circle(rgb, (width // 2, height // 2), round(patch_mm / 2 * PX_PER_MM), (255, 255, 255), -1)
    return Scene(
        photo=Photo(name="glare.jpg", rgb=rgb), camera=camera_at(*MIDDLE_MM, 400.0), sheet=SHEETS["mat-a4"]
    )


def along(*aside_mm: float) -> FloatArray:
    """Return places on the sheet, so far beside the middle of the picture."""
    return np.array([(MIDDLE_MM[0] + x, MIDDLE_MM[1], 0.0) for x in aside_mm])


def test_places_are_as_far_from_glare_as_from_its_rim() -> None:
    away = glare_mm(scene(patch_mm=20.0), along(0.0, 9.0, 15.0, -30.0), bead_mm=BEAD_MM)
    assert away == pytest.approx([0.0, 0.0, 5.0, 20.0], abs=2 * CELL_MM)
    assert (away[:2] == 0.0).all()


@pytest.mark.parametrize(("patch_mm", "hides"), [(7.0, False), (9.0, True)])
def test_a_highlight_narrower_than_a_bead_hides_none(patch_mm: float, hides: bool) -> None:  # noqa: FBT001
    away = glare_mm(scene(patch_mm=patch_mm), along(0.0, 50.0), bead_mm=BEAD_MM)
    assert np.isfinite(away).all() == hides


def test_paper_that_is_all_white_is_no_glare() -> None:
    assert np.isinf(glare_mm(scene(patch_mm=0.0, paper=255), along(0.0, 50.0), bead_mm=BEAD_MM)).all()
