"""A printed sheet that was measured by a card or a coin."""

from sizing.base.measured_sheets import MeasuredSheet
from sizing.base.units import format_mm
from vision.common.numerics import COVERAGE_FACTOR


def sheet_length(sheet: MeasuredSheet) -> str:
    """Return the check length of a measured sheet: `272.4 ± 0.4 mm`."""
    return format_mm(sheet.check_length_mm, COVERAGE_FACTOR * sheet.u_mm)


def sheet_said(sheet: MeasuredSheet, *, scale: float, questioned: bool) -> list[str]:
    """Say what a printed sheet measures, and whether that can be.

    Parameters
    ----------
    scale : float, keyword-only
        Printed size over nominal size.
    questioned : bool, keyword-only
        Whether another thing may lie on it than was said.
    """
    doubt = (
        f"Not certain: that is far from 100 %. Does a {sheet.measured_with} lie on it? If so, print the "
        "sheet again at 100 %, not fitted to the page."
    )
    measured = (
        f"Sheet {sheet.sheet_name}: check length {sheet_length(sheet)}, printed at {100 * scale:.1f} %."
    )
    return [measured, doubt] if questioned else [measured]
