"""`strandgauge lot`: measures loose beads, sorts them by size and picks from them."""

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import click

from sizing.base.files import write_whole
from sizing.base.target import Target
from sizing.cli.lot_photos import handful_options, keep_photos, marked_copies, measure, page_pictures
from sizing.cli.options import LENGTH, Command, target_options
from sizing.cli.photo_options import Outputs, output_options
from sizing.lot.classes import PEARL_STEP_MM
from sizing.lot.handfuls import Handful
from sizing.lot.marking import mark_classes
from sizing.lot.picks import Picks, make_picks
from sizing.lot.sizes import Dimension
from sizing.lot.sorting import Method, SortedLot, sort_lot
from sizing.report.records.lot import lot_record, lot_rows
from sizing.report.records.output import to_csv, to_json
from sizing.report.text.lot import lot_text
from vision.common.records import Lot

_FINEST_STEP_MM = 0.05

_EPILOG = """
\b
Examples:
  strandgauge lot mixed.jpg
  strandgauge lot mixed.jpg --natural --annotated marked.jpg
  strandgauge lot handful1.jpg handful2.jpg --step 0.5mm --csv lot.csv
  strandgauge lot pearls.jpg --pearl --pairs 3 --uniform 20 --graduated 16in
  strandgauge lot mixed.jpg --wrist 6in --findings 22mm --report mixed.html

Spread the beads on the printed sheet, one layer deep, and photograph them from straight above, the
whole sheet in the picture. A large lot goes in handfuls, a photo each: beads of the first photo are
then called A1, A2 ..., of the second B1, B2 ..., and marked.jpg becomes marked-A.jpg, marked-B.jpg ...
If any photo cannot be measured no lot is reported, as it would lack a handful.

A bead's width is its smallest caliper size, what passes a sieve; its length is the largest. A bead
whose doubt reaches into the next class is set apart between the two.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Order:
    """How to sort."""

    dimension: Dimension
    method: Method
    step_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """What to pick."""

    pairs: int
    uniform: int
    graduated_mm: float


def _order_options(command: Command) -> Command:
    """Add the options about sorting; the command receives them as one `order`."""

    @click.option(
        "--by",
        type=click.Choice(["width", "length"]),
        default="width",
        show_default=True,
        help="Caliper size to sort by: the smallest or the largest.",
    )
    @click.option(
        "--step", type=LENGTH, metavar="LENGTH", help="Sort by the nearest multiple of this, as 0.5mm."
    )
    @click.option(
        "--pearl", is_flag=True, help="Sort into pearl classes, 7.0-7.5 mm and so on, or as wide as --step."
    )
    @click.option("--natural", is_flag=True, help="Sort into the groups that the sizes themselves form.")
    @functools.wraps(command)
    def with_order(
        *args: Any,  # noqa: ANN401 - passed through
        by: Dimension,
        step: float | None,
        pearl: bool,
        natural: bool,
        **kwargs: Any,  # noqa: ANN401 - passed through
    ) -> Any:  # noqa: ANN401 - passed through
        if natural and (pearl or step is not None):
            other = "--pearl" if pearl else "--step"
            raise click.UsageError(f"{other} and --natural are different ways to sort: give one of them")
        if step is not None and step < _FINEST_STEP_MM:
            raise click.UsageError(f"a step of {step:g} mm is finer than a photo tells: give 0.05 mm or more")
        method: Method = "natural" if natural else "pearl" if pearl else "usual" if step is None else "step"
        order = _Order(dimension=by, method=method, step_mm=step or PEARL_STEP_MM)
        return command(*args, order=order, **kwargs)

    return with_order


def _pick_options(command: Command) -> Command:
    """Add the options about picks; the command receives them as one `wanted`."""
    number = click.IntRange(min=1)

    @click.option("--pairs", type=number, metavar="N", help="Pick the N best matched pairs, as for earrings.")
    @click.option("--uniform", type=number, metavar="N", help="Pick the N most uniform beads.")
    @click.option(
        "--graduated",
        type=LENGTH,
        metavar="LENGTH",
        help="Pick a run of this strung length, largest in the centre, falling evenly to both ends.",
    )
    @functools.wraps(command)
    def with_wanted(
        *args: Any,  # noqa: ANN401 - passed through
        pairs: int | None,
        uniform: int | None,
        graduated: float | None,
        **kwargs: Any,  # noqa: ANN401 - passed through
    ) -> Any:  # noqa: ANN401 - passed through
        wanted = _Wanted(pairs=pairs or 0, uniform=uniform or 0, graduated_mm=graduated or 0.0)
        return command(*args, wanted=wanted, **kwargs)

    return with_wanted


@click.command(epilog=_EPILOG)
@handful_options
@_order_options
@_pick_options
@target_options
@output_options
def lot(
    *, handfuls: Sequence[Handful], order: _Order, wanted: _Wanted, target: Target | None, outputs: Outputs
) -> None:
    """Measure the loose beads in one or more photos, and sort them by size.

    Shares in the tally are of a 16 inch strand, or of the piece that the target options describe.
    """
    keep_photos(handfuls, outputs)
    result = _sort(measure(handfuls), order, target)
    picks = make_picks(
        result.sizes, pairs=wanted.pairs, uniform=wanted.uniform, graduated_mm=wanted.graduated_mm
    )
    _write_files(handfuls, result, picks, outputs)
    text = to_json(lot_record(result, picks)) if outputs.as_json else lot_text(result, picks)
    click.echo(text, nl=False)


def _sort(measured: Lot, order: _Order, target: Target | None) -> SortedLot:
    return sort_lot(
        measured, dimension=order.dimension, method=order.method, step_mm=order.step_mm, target=target
    )


def _write_files(handfuls: Sequence[Handful], result: SortedLot, picks: Picks, outputs: Outputs) -> None:
    marking = mark_classes(result)
    copies = []
    if outputs.annotated_file:
        copies = marked_copies(handfuls, result.lot, marking, outputs.annotated_file)
    if outputs.csv_file:
        write_whole(outputs.csv_file, to_csv(lot_rows(result)))
    for path, content in copies:
        write_whole(path, content)
    if outputs.report_file:
        from sizing.report.html.lot import lot_page  # noqa: PLC0415 - takes its time to import

        pictures = page_pictures(handfuls, result.lot, marking)
        write_whole(outputs.report_file, lot_page(result, picks, marking=marking, pictures=pictures))
