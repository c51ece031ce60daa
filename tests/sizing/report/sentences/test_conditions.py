"""How a photo was measured, in words."""

from dataclasses import replace

from sizing.report.sentences.conditions import condition_remarks, condition_sentence, scale_warnings
from tests.helpers.strands import CONDITIONS


def test_sheet_tags_and_camera_are_named() -> None:
    sentence = condition_sentence(replace(CONDITIONS, tags_found=24, bed_height_mm=1.2))
    assert sentence == (
        "Measured on sheet mat-a4: 24 of 26 tags found, check length 273.0 mm, camera 250 mm above the "
        "sheet, tilted 5 degrees, beads 1.2 mm above the sheet."
    )


def test_only_what_was_estimated_is_remarked() -> None:
    assert condition_remarks(CONDITIONS) == []
    [remark] = condition_remarks(replace(CONDITIONS, focal_source="estimated"))
    assert "estimated from the sheet" in remark
    [remark] = condition_remarks(replace(CONDITIONS, focal_source="exif-unchecked"))
    assert "the sheet cannot show whether the picture was zoomed" in remark


def test_a_checked_scale_needs_no_warning() -> None:
    assert scale_warnings([CONDITIONS, CONDITIONS]) == []


def test_several_photos_on_an_unchecked_sheet_are_warned_of_once() -> None:
    unchecked = replace(CONDITIONS, check_length_given=False)
    said = scale_warnings([unchecked, replace(unchecked, photo="other.jpg"), CONDITIONS])
    assert said == scale_warnings([unchecked])
    assert said[0].startswith("Not certain: the size of the printed sheet was not checked.")
    assert said[1].endswith("At 100 % it reads 273.0 mm (10 3/4 in).")


def test_a_questioned_check_length_says_how_it_was_measured() -> None:
    origin = "measured with a card on 2026-03-14"
    odd = replace(CONDITIONS, check_length_mm=264.8, questioned=("check-length",), check_length_origin=origin)
    [said] = scale_warnings([odd])
    assert said.startswith(
        f"Not certain: the check length 264.8 mm ({origin}) is 3.0 % less than the 273.0 mm"
    )


def test_a_questioned_bed_says_what_it_does() -> None:
    [said] = scale_warnings([replace(CONDITIONS, bed_height_mm=7.5, questioned=("bed-height",))])
    assert "said to be 7.5 mm thick, which makes every size 3.0 % smaller" in said  # 7.5 of 250 mm
