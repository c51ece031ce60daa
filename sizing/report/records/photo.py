"""Fields of the photos that every measured result has, and of how they were measured."""

from collections.abc import Callable, Sequence
from typing import Any

from sizing.report.records.field import Field, Fields, Record, record
from sizing.report.records.head import head
from sizing.report.sentences.conditions import scale_warnings
from vision.common.conditions import Conditions
from vision.common.records import LeftOut

SHEET: Fields[Conditions] = (
    Field(
        name="name",
        meaning="which scale sheet: `mat-a4`, `mat-letter` or `card`",
        take=lambda c: c.sheet_name,
    ),
    Field(name="tags_found", meaning="how many of its tags were found"),
    Field(name="tags_on_sheet", meaning="how many tags it has"),
    Field(name="check_length_mm", meaning="the check length, which all other lengths scale with"),
    Field(name="nominal_check_length_mm", meaning="what a ruler reads where the sheet is printed at 100 %"),
    Field(
        name="check_length_given",
        meaning="false: the sheet was not checked, its nominal check length was assumed",
    ),
)

PHOTO: Fields[Conditions] = (
    Field(name="name", meaning="file name of the photo", take=lambda c: c.photo),
    Field(name="sheet", meaning="the scale sheet on it", take=lambda c: c, fields=SHEET),
    Field(name="bed_height_mm", meaning="height of what the beads lie on above the sheet"),
    Field(name="camera_height_mm", meaning="height of the lens above the sheet"),
    Field(name="tilt_deg", meaning="angle between the camera's axis and the vertical"),
    Field(
        name="focal_source",
        meaning="where the focal length is from: `exif` (the photo file), `exif-unchecked` (the same, in a "
        "view so level that the sheet cannot show a zoom) or `estimated`",
    ),
    Field(
        name="questioned",
        meaning="typed lengths to measure again before anything is certain: `check-length`, `bed-height`",
    ),
    Field(
        name="scale_rel_u",
        meaning="relative standard uncertainty of the scale, shared by all lengths of the photo",
    ),
)

LEFT_OUT: Fields[LeftOut] = (
    Field(name="photo", meaning="its file name"),
    Field(name="reason", meaning="why it cannot be measured, and what to do"),
)

COLOUR_MEANING = "median colour of the bead, sRGB"


def css_colour(rgb: tuple[int, int, int]) -> str:
    """Return an sRGB colour as `#rrggbb`."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


def warnings(conditions: Callable[[Any], Sequence[Conditions]]) -> Field[Any]:
    """Return the field that stands before what it is about."""
    return Field(
        name="warnings",
        meaning="what to check first, because no size is certain before; empty where the sheet was checked",
        take=lambda result: scale_warnings(conditions(result)),
    )


def left_out(photos: Callable[[Any], Sequence[LeftOut]]) -> Field[Any]:
    """Return the field of the photos that are missing from a result."""
    return Field(
        name="left_out",
        meaning="photos that could not be measured, so that nothing on them is counted",
        take=photos,
        fields=LEFT_OUT,
        many=True,
    )


def left_out_record(kind: str, missing: LeftOut) -> Record:
    """Return what stands in the place of a result of a photo that could not be measured."""
    return record((*head(kind), left_out(lambda each: [each])), missing)


def photos(conditions: Callable[[Any], Sequence[Conditions]]) -> Fields[Any]:
    """Return the fields that a measured result ends with."""
    return (
        Field(
            name="sheet",
            meaning="the scale sheet on the first photo",
            take=lambda result: conditions(result)[0],
            fields=SHEET,
        ),
        Field(name="photos", meaning="how each photo was measured", take=conditions, fields=PHOTO, many=True),
    )
