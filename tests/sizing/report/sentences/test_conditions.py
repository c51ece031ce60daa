"""How a photo was measured, in words."""

from dataclasses import replace

from sizing.report.sentences.conditions import condition_remarks, condition_sentence
from tests.helpers.strands import CONDITIONS


def test_sheet_tags_and_camera_are_named() -> None:
    sentence = condition_sentence(replace(CONDITIONS, tags_found=24, bed_height_mm=1.2))
    assert sentence == (
        "Measured on sheet mat-a4: 24 of 26 tags found, check length 273.0 mm, camera 250 mm above the "
        "sheet, tilted 5 degrees, beads 1.2 mm above the sheet."
    )


def test_only_what_was_assumed_is_remarked() -> None:
    assert condition_remarks(CONDITIONS) == []
    remarks = condition_remarks(replace(CONDITIONS, check_length_given=False, focal_source="estimated"))
    assert "give its reading as --check-length" in remarks[0]
    assert "estimated from the sheet" in remarks[1]
