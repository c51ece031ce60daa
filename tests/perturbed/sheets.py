"""The sheet's scale is said wrongly, or not said where the print is not to scale."""

from dataclasses import replace

from tests.perturbed.case import Case, Way
from vision.sheet.geometry import SHEETS

_OTHER = {"mat-a4": "mat-letter", "mat-letter": "mat-a4"}


def other_sheet(case: Case) -> Case | None:
    """Type the check length of the other mat."""
    if case.sheet not in _OTHER:
        return None
    return replace(case, check_length_mm=SHEETS[_OTHER[case.sheet]].check_length_mm)


def fitted_to_page(scale: float) -> Way:
    """Type no check length where the sheet was printed at a scale; the same photo then shows all smaller."""

    def way(case: Case) -> Case:
        assert case.check_length_mm is not None
        smaller = scale * SHEETS[case.sheet].check_length_mm / case.check_length_mm
        return replace(
            case,
            check_length_mm=None,
            bed_height_mm=case.bed_height_mm * smaller,
            sizes_mm=case.sizes_mm * smaller,
            length_mm=None if case.length_mm is None else case.length_mm * smaller,
        )

    return way


OTHER_SHEET: dict[str, Way] = {"check length of the other mat": other_sheet}
FITTED_TO_PAGE: dict[str, Way] = {f"printed at {s:.0%}": fitted_to_page(s) for s in (0.94, 0.955, 0.97)}
