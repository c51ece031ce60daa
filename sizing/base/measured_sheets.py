"""The printed sheets that were measured once and are remembered: a file in the user's own settings folder."""

import json
import math
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sizing.base.errors import OutputError, SizingError
from sizing.base.files import write_whole

if TYPE_CHECKING:
    from vision.common.conditions import Conditions

SETTINGS_VARIABLE = "STRANDGAUGE_SETTINGS"
"""The environment variable that names another settings folder."""
_FILE = "measured-sheets.json"
_LARGEST_BYTES = 100_000
"""Three sheets take 500: a larger file is another one."""
_FINEST_RULER_MM = 0.1  # nobody reads a ruler finer: common practice, no source
_INCH_RULER_MM = 25.4 / 16  # the usual divisions of a ruler in inches: common practice, no source
_INCH_FRACTIONS_MM = tuple(25.4 / 2**k for k in range(5))  # 1 in to 1/16 in, as sixteenths are shortened


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSheet:
    """A printed sheet whose check length was measured.

    Attributes
    ----------
    sheet_name : str
    check_length_mm, u_mm : float
        And its standard uncertainty.
    measured_with : str
        What lay on the sheet.
    date : str
        Year, month and day (ISO 8601).

    Examples
    --------
    >>> MeasuredSheet(
    ...     sheet_name="mat-a4", check_length_mm=272.4, u_mm=0.2, measured_with="card", date="2026-03-14"
    ... ).origin
    'measured with a card on 2026-03-14'
    """

    sheet_name: str
    check_length_mm: float
    u_mm: float
    measured_with: str
    date: str

    def __post_init__(self) -> None:
        """Refuse what no measurement gives."""
        numbers = (self.check_length_mm, self.u_mm)
        if not all(isinstance(n, float) and math.isfinite(n) and n > 0 for n in numbers):
            raise ValueError(f"{self.sheet_name} has no lengths")
        if not all(isinstance(t, str) for t in (self.sheet_name, self.measured_with, self.date)):
            raise TypeError(f"{self.sheet_name} is not described")

    @property
    def origin(self) -> str:
        """How the check length is known."""
        return f"measured with a {self.measured_with} on {self.date}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReading:
    """The check length of the sheet in a photo, as far as it is known.

    Attributes
    ----------
    length_mm : float or None
        None where nobody measured it.
    u_mm : float
        Its standard uncertainty; 0 where unknown.
    origin : str
        How a remembered one was measured; empty for one that was typed.
    """

    length_mm: float | None = None
    u_mm: float = 0.0
    origin: str = ""

    def noted(self, conditions: "Conditions") -> "Conditions":
        """Return the circumstances of a measurement with how the check length is known."""
        return replace(conditions, check_length_origin=self.origin)


def reading_u_mm(resolution_mm: float) -> float:
    """Return the standard uncertainty of a length read with a ruler, from how finely it was typed.

    Both ends are read to half a division, each equally likely anywhere within it. Their difference has a
    triangular distribution of half-width one division (JCGM 100:2008, 4.3.9). A division is at least
    0.1 mm. For fractions of an inch it is a sixteenth, even if the fraction was shortened.

    Examples
    --------
    >>> round(reading_u_mm(1.0), 3), round(reading_u_mm(25.4 / 4), 3)
    (0.408, 0.648)
    """
    division_mm = max(resolution_mm, _FINEST_RULER_MM)
    if any(math.isclose(resolution_mm, fraction) for fraction in _INCH_FRACTIONS_MM):
        division_mm = _INCH_RULER_MM
    return division_mm / math.sqrt(6)


def settings_file() -> Path:
    """Return the file that remembers measured sheets."""
    return Path(os.environ.get(SETTINGS_VARIABLE) or click.get_app_dir("strandgauge")) / _FILE


def remembered_sheets() -> dict[str, MeasuredSheet]:
    """Return the sheets that were measured, by name.

    Raises
    ------
    SizingError
        The file was damaged.
    """
    path = settings_file()
    try:
        with path.open("rb") as file:
            content = file.read(_LARGEST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except OSError as error:
        raise SizingError(
            f"{path} cannot be read ({error.strerror}): check the file's permissions"
        ) from error
    try:
        rows = json.loads(content)
        return {row["sheet_name"]: MeasuredSheet(**row) for row in rows}
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        raise SizingError(
            f"{path} should list measured sheets, but it is damaged: delete it, then measure the sheet again"
        ) from error


def remember(sheet: MeasuredSheet) -> None:
    """Remember a measured sheet in place of an earlier one of its name.

    Raises
    ------
    SizingError, OutputError
    """
    _write({**remembered_sheets(), sheet.sheet_name: sheet})


def forget(name: str) -> bool:
    """Forget a measured sheet; return whether it was remembered.

    Raises
    ------
    SizingError, OutputError
    """
    sheets = remembered_sheets()
    known = sheets.pop(name, None) is not None
    if known:
        _write(sheets)
    return known


def reading_for(
    sheet_name: str, typed: CheckReading, *, remembered: Mapping[str, MeasuredSheet]
) -> CheckReading:
    """Return what was typed, or else what is remembered of a sheet."""
    sheet = remembered.get(sheet_name)
    if typed.length_mm is not None or sheet is None:
        return typed
    return CheckReading(length_mm=sheet.check_length_mm, u_mm=sheet.u_mm, origin=sheet.origin)


def _write(sheets: Mapping[str, MeasuredSheet]) -> None:
    path = settings_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"the folder {path.parent} cannot be made ({error.strerror})") from error
    write_whole(path, json.dumps([asdict(sheet) for sheet in sheets.values()], indent=1) + "\n")
