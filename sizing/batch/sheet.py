"""The check length of a printed sheet, measured by a thing of known size that lies on it."""

from typing import TYPE_CHECKING

from sizing.base.dates import today
from sizing.base.measured_sheets import MeasuredSheet
from vision.common.records import Photo

if TYPE_CHECKING:
    from vision.check_length import CheckLength


def measured_sheet(photo: Photo, thing: str) -> "tuple[MeasuredSheet, CheckLength]":
    """Measure the empty sheet in a photo; return what is to be remembered of it, and how it was measured.

    Parameters
    ----------
    photo : Photo
    thing : str
        What lies on the sheet, by its name in `vision.reference.objects.REFERENCES`.

    Raises
    ------
    PhotoError
        It cannot be measured.
    """
    # Imported late, by the process that measures, to keep the start of the program quick.
    from vision.check_length import REFERENCES, measure_check_length  # noqa: PLC0415

    reference = REFERENCES[thing]
    found = measure_check_length(photo, reference)
    sheet = MeasuredSheet(
        sheet_name=found.sheet_name,
        check_length_mm=found.length_mm,
        u_mm=found.u_mm,
        measured_with=reference.title,
        date=today(),
    )
    return sheet, found
