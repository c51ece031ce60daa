"""How a photo was measured, and what would make the sizes more certain."""

from sizing.base.units import format_mm
from vision.common.records import Conditions


def condition_sentence(conditions: Conditions) -> str:
    """Say how one photo was measured."""
    tags = f"{conditions.tags_found} of {conditions.tags_on_sheet} tags found"
    camera = (
        f"camera {conditions.camera_height_mm:.0f} mm above the sheet, tilted "
        f"{conditions.tilt_deg:.0f} degrees"
    )
    origin = f" ({conditions.check_length_origin})" if conditions.check_length_origin else ""
    length = format_mm(conditions.check_length_mm) + origin
    bed = f", beads {format_mm(conditions.bed_height_mm)} above the sheet" if conditions.bed_height_mm else ""
    return f"Measured on sheet {conditions.sheet_name}: {tags}, check length {length}, {camera}{bed}."


def condition_remarks(conditions: Conditions) -> list[str]:
    """Say what was assumed, and how to measure it."""
    remarks = []
    if not conditions.check_length_given:
        remarks.append(
            "The check length was not given, and printers are often 1 % off: lay a ruler along the top row "
            "of the sheet and give its reading as --check-length, or measure the sheet once with a plastic "
            "card (sheet --measure)."
        )
    if conditions.focal_source != "exif":
        remarks.append("The photo file does not state the focal length, so it was estimated from the sheet.")
    return remarks
