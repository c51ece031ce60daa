"""The check length of a drawn sheet, measured by a card or a coin of known size on it."""

import pytest

from tests.synthetic.references import Thing, draw_things
from tests.synthetic.scene import plan
from vision.check_length import measure_check_length
from vision.common.errors import PhotoError
from vision.reference.objects import REFERENCES

SIZE_PX = (2016, 1512)
CARD_REL = 0.002
"""Of twelve photos drawn while it was written, the largest error was 0.15 %."""
COVERAGE = 2.0
"""k of the expanded uncertainty (JCGM 100:2008)."""


def drawn(sheet: str, print_scale: float, things: list[Thing], seed: int):  # noqa: ANN201 - the drawing's own record
    scene = plan(
        seed,
        mode="loose",
        count=0,
        sheet=sheet,
        bed="white",
        size_px=SIZE_PX,
        print_scale=print_scale,
        tilt_deg=6.0,
        fault="none",
        exif=True,
        focal_35mm=26.0,
    )
    return draw_things(scene, things)


@pytest.mark.parametrize(("sheet", "print_scale"), [("mat-a4", 0.96), ("mat-letter", 1.01)])
def test_a_card_measures_the_printed_row_of_tags(sheet: str, print_scale: float) -> None:
    """ISO/IEC 7810 ID-1: 85.60 x 53.98 mm, 0.76 mm thick."""
    photo = drawn(sheet, print_scale, [Thing(at_mm=(135.0, 100.0), turn_deg=8.0)], seed=21)
    found = measure_check_length(photo.photo, REFERENCES["card"])
    assert found.sheet_name == sheet
    error = found.length_mm - photo.check_length_mm
    assert found.length_mm == pytest.approx(photo.check_length_mm, rel=CARD_REL)
    assert abs(error) < COVERAGE * found.u_mm
    assert found.scale == pytest.approx(print_scale, rel=CARD_REL)


def test_an_empty_sheet_is_refused() -> None:
    empty = drawn("mat-a4", 1.0, [], seed=22)
    with pytest.raises(PhotoError):
        measure_check_length(empty.photo, REFERENCES["card"])
