"""`strandgauge plan`: from a target and beads to a list for cutting and stringing."""

from dataclasses import dataclass, replace
from pathlib import Path

import click

from sizing.base.errors import SizingError
from sizing.base.files import write_whole
from sizing.cli.files import PIECE, FileCommand, InputFile, OutputFile
from sizing.cli.options import (
    answer_in_unit_of,
    csv_option,
    gather,
    json_option,
    read_piece,
    report_option,
    wish_options,
)
from sizing.piece.bead_size import read_bead, size_remarks
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece, Wish, with_wish
from sizing.piece.stringing import Layout

_EPILOG = """
\b
Examples:
  strandgauge plan --wrist "6 1/2 in" --bead 7mm
  strandgauge plan --finished 16in --findings 0.75in --bead 6mm
  strandgauge plan --wrist 6in --bead 8mm --bead 8mm --bead 2mm --symmetric
  strandgauge plan --neck 13in --bead 10mm --bead 8mm --bead 6mm --graduated
  strandgauge plan anklet.toml --ankle 9in --sizes women --report anklet.html

A piece file keeps beads, findings, wire, costs and sizes. Print one to fill in with --example.
"""


class BeadType(click.ParamType[BeadPart]):
    """The size of a bead, as `read_bead` reads it."""

    name = "size"

    def convert(
        self, value: str | BeadPart, param: click.Parameter | None, ctx: click.Context | None
    ) -> BeadPart:
        """Read a size; a usage error says what to write instead."""
        if isinstance(value, BeadPart):
            return value
        try:
            return read_bead(value)
        except (ValueError, SizingError) as error:
            self.fail(str(error), param, ctx)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Beads:
    """Beads that were typed or measured, none if neither; remarks on them; the layout of measured ones."""

    beads: tuple[BeadPart, ...]
    layout: Layout | None = None
    remarks: tuple[str, ...] = ()
    currency: str = ""


def _beads(*, beads: tuple[BeadPart, ...], measured_file: Path | None, kept: str | None) -> _Beads:
    given = [
        name
        for name, value in (("--bead", beads), ("--beads", measured_file), ("--from-stash", kept))
        if value
    ]
    if len(given) > 1:
        raise click.UsageError(f"{' and '.join(given[:2])} are two sources of beads: give only one of them")
    if measured_file:
        from sizing.piece.measured_beads import load_measured

        measured = load_measured(measured_file)
        return _Beads(beads=measured.beads, layout=measured.layout, remarks=measured.remarks)
    return _kept_beads(kept) if kept else _Beads(beads=beads, remarks=tuple(size_remarks(beads)))


def _kept_beads(wanted: str) -> _Beads:
    from sizing.stash.book import reading
    from sizing.stash.entries import find
    from sizing.stash.parts import beads_of

    with reading() as book:
        entry = find(book, wanted)
        measured = beads_of(book, entry)
    return _Beads(
        beads=measured.beads,
        layout=measured.layout,
        remarks=measured.remarks,
        currency=entry.details.currency,
    )


def _order(*, graduated: bool, symmetric: bool) -> dict[str, bool]:
    # A flag that was not given leaves the order as it is; there is no flag to take an order back.
    return {name: True for name, given in (("graduated", graduated), ("symmetric", symmetric)) if given}


def _piece(
    *, piece_file: Path | None, source: _Beads, order: dict[str, bool], wish: Wish, sizes: str | None
) -> Piece:
    """Return the piece of a file, or an empty one, with what was typed in place of what it says."""
    piece = with_wish(read_piece(piece_file), wish)
    answer_in_unit_of(piece)
    return replace(
        piece,
        beads=source.beads or piece.beads,
        layout=replace(source.layout or piece.layout, **order),
        sizes=piece.sizes if sizes is None else sizes,
        work=replace(piece.work, currency=piece.work.currency or source.currency),
        remarks=source.remarks,
    )


_beads_options = gather(
    "source",
    _beads,
    click.option(
        "--bead",
        "beads",
        type=BeadType(),
        multiple=True,
        help="A bead: 7mm; 4x6mm for 4 mm along the string and 6 mm thick (a rondelle; an oval is 6x4mm); "
        "7.0-7.5mm; 8/0, a seed bead. Several make a repeat.",
    ),
    click.option(
        "--beads",
        "measured_file",
        type=InputFile(),
        metavar="FILE.json",
        help="Beads measured earlier: what strand or lot printed with --json.",
    ),
    click.option(
        "--from-stash",
        "kept",
        metavar="ENTRY",
        help="Beads kept in the stash book, by number or name: see strandgauge stash list.",
    ),
)
_order_options = gather(
    "order",
    _order,
    click.option("--graduated", is_flag=True, help="Largest bead in the centre, smaller towards both ends."),
    click.option("--symmetric", is_flag=True, help="Make a repeat read the same from both ends."),
)
_piece_options = gather(
    "piece",
    _piece,
    click.argument("piece_file", type=InputFile(), required=False, metavar="[PIECE.toml]"),
    _beads_options,
    _order_options,
    wish_options,
    click.option(
        "--sizes", metavar="LIST", help='A run of body sizes: women, men, or "6 in, 6 1/2 in, 7 in".'
    ),
)
"""The piece file and options that describe a piece; the command receives one `piece`, a Piece."""


def _show_example(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:  # noqa: FBT001 - click's signature
    if wanted:
        from sizing.piece.toml.read import PIECE_HELP

        click.echo(PIECE_HELP, nl=False)
        ctx.exit()


@click.command(cls=FileCommand, epilog=_EPILOG)
@_piece_options
@json_option
@csv_option
@report_option
@click.option(
    "--save", type=OutputFile(PIECE), metavar="FILE.toml", help="Save the piece as a piece file (TOML)."
)
@click.option(
    "--example",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_example,
    help="Print an example of a piece file.",
)
def plan(
    *, piece: Piece, as_json: bool, csv_file: Path | None, report_file: Path | None, save: Path | None
) -> None:
    """Plan a piece: how many beads, its finished length, whom it fits, what to cut and what to buy."""
    from sizing.piece.plan import make_plan
    from sizing.report.records.output import to_csv, to_json
    from sizing.report.records.plan import plan_record, plan_rows

    made = make_plan(piece)
    if csv_file:
        write_whole(csv_file, to_csv(plan_rows(made)))
    if save:
        from sizing.piece.toml.write import piece_text

        write_whole(save, piece_text(piece))
    if report_file:
        from sizing.report.html.plan import plan_page

        write_whole(report_file, plan_page(made))
    if as_json:
        click.echo(to_json(plan_record(made)), nl=False)
        return
    from sizing.report.text.plan import plan_text

    click.echo(plan_text(made), nl=False)
