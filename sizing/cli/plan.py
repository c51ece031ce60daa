"""`strandgauge plan`: from a target and beads to a list that can be cut and strung."""

import functools
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from sizing.base.files import write_whole
from sizing.base.units import parse_length
from sizing.cli.options import (
    FILE_IN,
    FILE_OUT,
    Command,
    csv_option,
    json_option,
    report_option,
    wish_options,
)
from sizing.cli.photo_options import PAGE_SUFFIXES, check_suffix
from sizing.piece.file import PIECE_HELP, load_piece
from sizing.piece.file_text import piece_text
from sizing.piece.measured_beads import load_measured
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece, Wish, with_wish
from sizing.piece.plan import make_plan
from sizing.report.records.output import to_csv, to_json
from sizing.report.records.plan import plan_record, plan_rows
from sizing.report.text.plan import plan_text

_EPILOG = """
\b
Examples:
  strandgauge plan --wrist "6 1/2 in" --bead 7mm
  strandgauge plan --finished 16in --findings 0.75in --bead 6mm
  strandgauge plan --wrist 6in --bead 8mm --bead 8mm --bead 2mm --symmetric
  strandgauge plan --neck 13in --bead 10mm --bead 8mm --bead 6mm --graduated
  strandgauge plan anklet.toml --ankle 9in --sizes women --report anklet.html

A piece file keeps findings, wire, holes, costs and sizes: print one to fill in with --example.
"""


_NUMBER = r"[0-9 ./,¼-¾-]*"


class BeadType(click.ParamType[BeadPart]):
    """A bead's size: `7mm`, or `4x6mm` for 4 mm along the string and 6 mm thick."""

    name = "size"

    def convert(
        self, value: str | BeadPart, param: click.Parameter | None, ctx: click.Context | None
    ) -> BeadPart:
        """Read a size; a usage error says what to write instead."""
        if isinstance(value, BeadPart):
            return value
        try:
            along_mm, across_mm = _bead_size(value)
        except ValueError as error:
            self.fail(str(error), param, ctx)
        return BeadPart(along_mm=along_mm, across_mm=across_mm)


def _bead_size(text: str) -> tuple[float, float]:
    """Read the size of a bead along the string and across it, in mm; `4x6mm` says its unit once."""
    along, _, across = (part.strip() for part in text.replace("×", "x").partition("x"))  # noqa: RUF001
    if re.fullmatch(_NUMBER, along) and across:
        along += re.sub(f"^{_NUMBER}", "", across)
    return parse_length(along), parse_length(across or along)


_PIECE_OPTIONS: tuple[Callable[[Command], Command], ...] = (
    click.argument("piece_file", type=FILE_IN, required=False, metavar="[PIECE.toml]"),
    click.option(
        "--bead",
        "beads",
        type=BeadType(),
        multiple=True,
        help="A bead: 7mm, or 4x6mm: 4 mm along the string, 6 mm thick. Several make a repeat, in order.",
    ),
    click.option(
        "--beads",
        "measured_file",
        type=FILE_IN,
        metavar="FILE.json",
        help="Beads measured earlier: the --json output of strand or lot.",
    ),
    click.option("--graduated", is_flag=True, help="Largest bead in the middle, falling to both ends."),
    click.option("--symmetric", is_flag=True, help="A repeat that reads the same from both ends."),
    wish_options,
    click.option("--sizes", metavar="LIST", help='A run of sizes: women, men, or "6 in, 6 1/2 in, 7 in".'),
)


_TYPED = ("beads", "measured_file", "graduated", "symmetric", "sizes")


def _piece_options(command: Command) -> Command:
    """Add the argument and options that describe a piece; the command receives one `piece`, a Piece."""

    @functools.wraps(command)
    def with_piece(
        *args: Any,  # noqa: ANN401 - passed through
        piece_file: Path | None,
        wish: Wish,
        **kwargs: Any,  # noqa: ANN401 - passed through
    ) -> Any:  # noqa: ANN401 - passed through
        typed = {
            key: kwargs.pop(key) for key in ("beads", "measured_file", "graduated", "symmetric", "sizes")
        }
        piece = with_wish(load_piece(piece_file) if piece_file else Piece(), wish)
        return command(*args, piece=_typed_over(piece, **typed), **kwargs)

    made: Command = with_piece
    # The last decorator applied shows first in the help.
    for option in reversed(_PIECE_OPTIONS):
        made = option(made)
    return made


def _typed_over(
    piece: Piece,
    *,
    beads: tuple[BeadPart, ...],
    measured_file: Path | None,
    sizes: str | None,
    **order: bool,
) -> Piece:
    """Put beads, order and sizes that were typed in place of what a piece says."""
    if beads and measured_file:
        raise click.UsageError("--bead and --beads are two sources of beads: give one of them")
    if measured_file:
        beads, layout = load_measured(measured_file)
    else:
        layout = piece.layout
    # A flag not given leaves the order as it is; there is no flag to take an order back.
    layout = replace(layout, **{name: True for name, wanted in order.items() if wanted})
    return replace(
        piece, beads=beads or piece.beads, layout=layout, sizes=piece.sizes if sizes is None else sizes
    )


def _show_example(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:  # noqa: FBT001 - click's signature
    if wanted:
        click.echo(PIECE_HELP, nl=False)
        ctx.exit()


@click.command(epilog=_EPILOG)
@_piece_options
@json_option
@csv_option
@report_option
@click.option("--save", type=FILE_OUT, metavar="FILE.toml", help="Keep all this as a piece file.")
@click.option(
    "--example",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_example,
    help="Print a piece file to fill in.",
)
def plan(
    *, piece: Piece, as_json: bool, csv_file: Path | None, report_file: Path | None, save: Path | None
) -> None:
    """Plan a piece: how many beads, what it finishes at, whom it fits, what to cut and buy."""
    check_suffix(report_file, PAGE_SUFFIXES, option="--report")
    made = make_plan(piece)
    if csv_file:
        write_whole(csv_file, to_csv(plan_rows(made)))
    if save:
        write_whole(save, piece_text(piece))
    if report_file:
        from sizing.report.html.plan import plan_page  # noqa: PLC0415 - takes its time to import

        write_whole(report_file, plan_page(made))
    click.echo(to_json(plan_record(made)) if as_json else plan_text(made), nl=False)
