"""Options that the commands for photos share, gathered into records, and help with their files."""

import contextlib
import functools
import sys
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import click

from sizing.base.measured_sheets import MeasuredSheet, reading_u_mm, remembered_sheets
from sizing.base.units import TypedLength
from sizing.cli.files import MARKED_COPY, OutputFile
from sizing.cli.keeping import check_name
from sizing.cli.options import (
    LENGTH_OR_ZERO,
    TYPED_LENGTH,
    csv_option,
    gather,
    json_option,
    report_option,
)

_SLOW_S = 1.0  # a wait that wants an explanation; at half it flashes up, at double one wonders


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What the maker says about the sheet under the beads.

    Attributes
    ----------
    check_length_mm : float or None
        As read with a ruler; None if not given.
    check_length_u_mm : float
        Its standard uncertainty; 0 if not given.
    bed_height_mm : float
        Thickness of what lies between sheet and beads.
    remembered : mapping
        The sheets that were measured before, by name; empty if a check length was given.
    """

    check_length_mm: float | None
    check_length_u_mm: float
    bed_height_mm: float
    remembered: Mapping[str, MeasuredSheet]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outputs:
    """What to print, and files to write.

    Attributes
    ----------
    as_json : bool
        Print JSON instead of text.
    csv_file, annotated_file, report_file : Path or None
    keep_name : str or None
        What to call the beads in the stash book; None not to keep them.
    """

    as_json: bool
    csv_file: Path | None
    annotated_file: Path | None
    report_file: Path | None
    keep_name: str | None


def _scale(*, check_length: TypedLength | None, bed_height: float) -> Scale:
    return Scale(
        check_length_mm=float(check_length.value_mm) if check_length else None,
        check_length_u_mm=reading_u_mm(check_length.resolution_mm) if check_length else 0.0,
        bed_height_mm=float(bed_height),
        remembered={} if check_length else remembered_sheets(),
    )


scale_options = gather(
    "scale",
    _scale,
    click.option(
        "--check-length",
        type=TYPED_LENGTH,
        metavar="LENGTH",
        help="What a ruler reads from mark to mark above the sheet's top row of tags, as fine as you can "
        "read it. Give it with every photo of the sheet; if not given, what sheet --measure found.",
    ),
    click.option(
        "--bed-height",
        type=LENGTH_OR_ZERO,
        default=0.0,  # a number, which needs no unit to be looked up
        metavar="LENGTH",
        help="Thickness of the cloth or board between sheet and beads, if there is any; at most 4 % of the "
        "camera's height.",
    ),
)
"""Options about the sheet; the command receives them as one `scale`, a Scale."""


def _outputs(
    *,
    as_json: bool,
    csv_file: Path | None,
    annotated_file: Path | None,
    report_file: Path | None,
    keep_name: str | None,
) -> Outputs:
    return Outputs(
        as_json=as_json,
        csv_file=csv_file,
        annotated_file=annotated_file,
        report_file=report_file,
        keep_name=keep_name,
    )


output_options = gather(
    "outputs",
    _outputs,
    json_option,
    csv_option,
    click.option(
        "--annotated",
        "annotated_file",
        type=OutputFile(MARKED_COPY, copy_of="photos"),
        metavar="FILE",
        help="Write a copy of the photo with every bead outlined and numbered.",
    ),
    report_option,
    click.option(
        "--keep",
        "keep_name",
        metavar="NAME",
        callback=check_name,
        help="Keep the beads in the stash book under this name.",
    ),
)
"""Options about what to print and write; the command receives them as one `outputs`, an Outputs."""


@contextlib.contextmanager
def message_if_slow(message: str) -> Iterator[None]:
    """Print a message on a terminal if the work takes more than a second."""
    if not sys.stderr.isatty():
        yield
        return
    timer = threading.Timer(_SLOW_S, functools.partial(click.echo, message, err=True))
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
