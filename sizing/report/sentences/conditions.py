"""How a photo was measured, and what would make the sizes more certain."""

from collections.abc import Iterator, Sequence

from sizing.base.units import format_length, format_mm
from vision.common.check_words import READ_RULER
from vision.common.conditions import Conditions

CHECK_FIRST = "Check this first"


def condition_sentence(conditions: Conditions) -> str:
    """Say how one photo was measured."""
    tags = f"{conditions.tags_found} of {conditions.tags_on_sheet} tags found"
    camera = (
        f"camera {conditions.camera_height_mm:.0f} mm above the sheet, tilted "
        f"{conditions.tilt_deg:.0f} degrees"
    )
    length = _check_length(conditions) if conditions.check_length_given else "not measured"
    bed = f", beads {format_mm(conditions.bed_height_mm)} above the sheet" if conditions.bed_height_mm else ""
    return f"Measured on sheet {conditions.sheet_name}: {tags}, check length {length}, {camera}{bed}."


def condition_remarks(conditions: Conditions) -> list[str]:
    """Say what was estimated, and what rests on the photo file alone."""
    remarks = {
        "estimated": "The photo file does not state the focal length, so it was estimated from the sheet.",
        "exif-unchecked": "The focal length is what the photo file states: seen so level, the sheet cannot "
        "show whether the picture was zoomed. If it was, take it again without zoom, tilted by 5 degrees.",
    }
    return [said for source, said in remarks.items() if source == conditions.focal_source]


def scale_warnings(photos: Sequence[Conditions]) -> list[str]:
    """Say why the scale of photos is not certain, and how to check it, each thing once; empty where it is."""
    return list(dict.fromkeys(line for each in photos for line in _scale_warnings(each)))


def _scale_warnings(conditions: Conditions) -> Iterator[str]:
    if not conditions.check_length_given:
        yield (
            "Not certain: the size of the printed sheet was not checked. A sheet that the printer fits to "
            "the page comes out 3 to 6 % too small, and every size here is then as much too large."
        )
        yield f"{READ_RULER} At 100 % it reads {format_length(conditions.nominal_check_length_mm)}."
        yield "No ruler? Lay a plastic card or a coin on the empty sheet, and measure the sheet by it once."
    if "check-length" in conditions.questioned:
        nominal = format_length(conditions.nominal_check_length_mm)
        yield (
            f"Not certain: the check length {_check_length(conditions)} is {_off(conditions)} than the "
            f"{nominal} of this sheet printed at 100 %. Measure again, from mark to mark above the top row "
            "of tags. If it is right, print the sheet again at 100 %, not fitted to the page."
        )
    if "bed-height" in conditions.questioned:
        bed, share = conditions.bed_height_mm, conditions.bed_height_mm / conditions.camera_height_mm
        yield (
            f"Not certain: the cloth or board under the beads is said to be {format_mm(bed)} thick, which "
            f"makes every size {100 * share:.1f} % smaller. Measure it again, or lay the sheet on it too."
        )


def _off(conditions: Conditions) -> str:
    """Say how far the check length is from the nominal one: `3.0 % less`."""
    off = conditions.check_length_mm / conditions.nominal_check_length_mm - 1
    return f"{100 * abs(off):.1f} % {'more' if off > 0 else 'less'}"


def _check_length(conditions: Conditions) -> str:
    """Return the check length, and how it was measured where it was not read from a ruler."""
    origin = f" ({conditions.check_length_origin})" if conditions.check_length_origin else ""
    return format_mm(conditions.check_length_mm) + origin
