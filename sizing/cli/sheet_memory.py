"""Measures a printed sheet by a card or a coin, and shows or forgets the sheets that were measured."""

from pathlib import Path

from sizing.base.measured_sheets import forget, remember, remembered_sheets
from sizing.report.sentences.sheet import sheet_length, sheet_said


def measure_sheet(path: Path, thing: str) -> str:
    """Measure the sheet in a photo by what lies on it, remember its check length and say what it is.

    Parameters
    ----------
    path : Path
    thing : str
        Name of a card or coin in `REFERENCES`.

    Raises
    ------
    PhotoError
        The photo cannot be measured.
    SizingError
        The check length cannot be remembered.
    """
    from sizing.batch.sheet import measured_sheet
    from vision.image.photo import load_photo

    sheet, found = measured_sheet(load_photo(path), thing)
    remember(sheet)
    lines = sheet_said(sheet, scale=found.scale, questioned=found.questioned)
    return "\n".join(lines) + (
        "\nstrand, lot and check use it from now on for this kind of sheet, unless you give --check-length.\n"
        "Measure again when you print another one. "
        f"To forget it: strandgauge sheet --forget {sheet.sheet_name}"
    )


def measured_text() -> str:
    """List the sheets that were measured."""
    sheets = remembered_sheets()
    if not sheets:
        return (
            "No sheet has been measured. Lay a card flat on the empty sheet, take a photo and run:\n"
            "strandgauge sheet --measure PHOTO --with card"
        )
    return "\n".join(
        f"Sheet {s.sheet_name}: check length {sheet_length(s)}, {s.origin}" for s in sheets.values()
    )


def forget_text(name: str) -> str:
    """Forget a measured sheet and say so."""
    if forget(name):
        return f"Forgot the measured check length of {name}."
    return f"No check length of {name} was remembered."
