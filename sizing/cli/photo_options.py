"""What the commands that read photos share: options gathered into records, a word while one waits."""

import contextlib
import functools
import math
import sys
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from sizing.base.units import TypedLength
from sizing.cli.options import (
    Command,
    annotated_option,
    bed_height_option,
    check_length_option,
    csv_option,
    json_option,
    report_option,
)

PAGE_SUFFIXES = (".html", ".htm")

_FINEST_RULER_MM = 0.1
_INCH_RULER_MM = 25.4 / 16
_INCH_FRACTIONS_MM = tuple(25.4 / 2**k for k in range(5))
_PATIENCE_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What the maker says about the sheet under the beads.

    Attributes
    ----------
    check_length_mm : float or None
        As read with a ruler; None where not given.
    check_length_u_mm : float
        Its standard uncertainty; 0 where not given.
    bed_height_mm : float
    """

    check_length_mm: float | None
    check_length_u_mm: float
    bed_height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Outputs:
    """Where the result goes besides, or instead of, the text on the terminal."""

    as_json: bool
    csv_file: Path | None
    annotated_file: Path | None
    report_file: Path | None


def scale_options(command: Command) -> Command:
    """Add the options about the sheet; the command receives them as one `scale`, a Scale."""

    @check_length_option
    @bed_height_option
    @functools.wraps(command)
    def with_scale(
        *args: Any,  # noqa: ANN401 - passed through
        check_length: TypedLength | None,
        bed_height: float,
        **kwargs: Any,  # noqa: ANN401 - passed through
    ) -> Any:  # noqa: ANN401 - passed through
        scale = Scale(
            check_length_mm=check_length.value_mm if check_length else None,
            check_length_u_mm=reading_u_mm(check_length.resolution_mm) if check_length else 0.0,
            bed_height_mm=bed_height,
        )
        return command(*args, scale=scale, **kwargs)

    return with_scale


def output_options(command: Command) -> Command:
    """Add the options about files; the command receives them as one `outputs`, an Outputs."""

    @json_option
    @csv_option
    @annotated_option
    @report_option
    @functools.wraps(command)
    def with_outputs(
        *args: Any,  # noqa: ANN401 - passed through
        as_json: bool,
        csv_file: Path | None,
        annotated_file: Path | None,
        report_file: Path | None,
        **kwargs: Any,  # noqa: ANN401 - passed through
    ) -> Any:  # noqa: ANN401 - passed through
        from vision.image.photo import WRITABLE_SUFFIXES  # noqa: PLC0415 - numpy is not for --help

        check_suffix(annotated_file, WRITABLE_SUFFIXES, option="--annotated")
        check_suffix(report_file, PAGE_SUFFIXES, option="--report")
        outputs = Outputs(
            as_json=as_json, csv_file=csv_file, annotated_file=annotated_file, report_file=report_file
        )
        return command(*args, outputs=outputs, **kwargs)

    return with_outputs


def check_suffix(path: Path | None, allowed: Sequence[str], *, option: str) -> None:
    """Refuse a file name whose suffix names no kind of file that can be written.

    Raises
    ------
    click.BadParameter
    """
    if path is not None and path.suffix.lower() not in allowed:
        known = f"{', '.join(allowed[:-1])} or {allowed[-1]}"
        raise click.BadParameter(f"{path} must end in {known}, which says what to write", param_hint=option)


def reading_u_mm(resolution_mm: float) -> float:
    """Return the standard uncertainty of a length read with a ruler, from how finely it was typed.

    Both ends are set or read to half a division, each equally likely anywhere in it: the difference has a
    triangular distribution of half-width one division (JCGM 100:2008, 4.3.9). Nobody reads finer than
    0.1 mm; a reading in fractions of an inch was taken in sixteenths at least, whatever it shortens to.
    """
    division_mm = max(resolution_mm, _FINEST_RULER_MM)
    if any(math.isclose(resolution_mm, fraction) for fraction in _INCH_FRACTIONS_MM):
        division_mm = _INCH_RULER_MM
    return division_mm / math.sqrt(6)


@contextlib.contextmanager
def patience(message: str) -> Iterator[None]:
    """Say on a terminal what takes so long, if it takes more than a second."""
    if not sys.stderr.isatty():
        yield
        return
    timer = threading.Timer(_PATIENCE_S, functools.partial(click.echo, message, err=True))
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
