"""`strandgauge lot`: measures loose beads, sorts them by size and picks from them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from sizing.base.target import Target
from sizing.cli.corrections import NUMBERS_BEFORE, Typed, corrected_lot, correction_options
from sizing.cli.files import FileCommand
from sizing.cli.keeping import keep_if_asked
from sizing.cli.lot_photos import (
    MarkedLot,
    first_photo,
    handful_options,
    measure,
    measured_ones,
    tell_left_out,
    write_files,
)
from sizing.cli.many import MANY_PHOTOS, Many, many_options
from sizing.cli.options import LENGTH, WholeNumberType, gather, target_options
from sizing.cli.photo_options import Outputs, output_options
from sizing.lot.classes import PEARL_STEP_MM
from sizing.lot.handfuls import Handful
from sizing.lot.marking import mark_classes
from sizing.lot.picks import make_picks
from sizing.lot.sizes import Dimension
from sizing.lot.sorting import Method, SortedLot, sort_lot
from sizing.report.records.lot import lot_record, lot_rows
from sizing.report.records.output import to_csv, to_json
from sizing.report.text.lot import lot_text
from vision.common.records import Lot

if TYPE_CHECKING:
    from sizing.report.html.page import Picture

_FINEST_STEP_MM = 0.05
"""About the uncertainty of a bead's size: classes as narrow decide nothing. At half or double as little."""

_EPILOG = """
\b
Examples:
  strandgauge lot mixed.jpg
  strandgauge lot mixed.jpg --natural --annotated marked.jpg
  strandgauge lot handful1.jpg handful2.jpg --step 0.5mm --csv lot.csv
  strandgauge lot pearls.jpg --pearl --pairs 3 --uniform 20 --graduated 16in
  strandgauge lot mixed.jpg --wrist 6in --findings 22mm --report mixed.html
  strandgauge lot mixed.jpg --not-a-bead 12 --bead-at 812,440

Spread the beads on the printed sheet, one layer deep. Photograph them from straight above with the
whole sheet in the picture. Photograph a large lot in handfuls, one photo each: the beads of the first
photo are then called A1, A2 ..., those of the second B1, B2 ..., and marked.jpg becomes marked-A.jpg,
marked-B.jpg ...

A bead's width is its smallest caliper size, which decides what sieve it passes; its length is the
largest. A bead too close to the limit between two sizes is listed between them.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sorting:
    """How to sort."""

    dimension: Dimension
    method: Method
    step_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Picking:
    """What to pick; 0 for nothing."""

    pairs: int
    uniform: int
    graduated_mm: float


def _sorting(*, by: Dimension, step: float | None, pearl: bool, natural: bool) -> _Sorting:
    if natural and (pearl or step is not None):
        other = "--pearl" if pearl else "--step"
        raise click.UsageError(f"{other} and --natural are different ways to sort: give only one of them")
    if step is not None and step < _FINEST_STEP_MM:
        finest = f"{_FINEST_STEP_MM:g} mm"
        raise click.UsageError(f"a step of {step:g} mm is finer than a photo shows: give {finest} or more")
    method: Method = "natural" if natural else "pearl" if pearl else "usual" if step is None else "step"
    return _Sorting(dimension=by, method=method, step_mm=step or PEARL_STEP_MM)


_sorting_options = gather(
    "sorting",
    _sorting,
    click.option(
        "--by",
        type=click.Choice(["width", "length"]),
        default="width",
        show_default=True,
        help="Sort by the smallest caliper size (width) or the largest (length).",
    ),
    click.option(
        "--step", type=LENGTH, metavar="LENGTH", help="Sort to the nearest multiple of a size, as 0.5mm."
    ),
    click.option(
        "--pearl",
        is_flag=True,
        help="Sort into pearl classes: 7.0-7.5 mm and so on, or as wide as --step.",
    ),
    click.option("--natural", is_flag=True, help="Sort into the groups that the sizes form."),
)


def _picking(*, pairs: int | None, uniform: int | None, graduated: float | None) -> _Picking:
    return _Picking(pairs=pairs or 0, uniform=uniform or 0, graduated_mm=graduated or 0.0)


_picking_options = gather(
    "picking",
    _picking,
    click.option(
        "--pairs",
        type=WholeNumberType("number of pairs", least=1),
        metavar="N",
        help="Pick the N best matched pairs, as for earrings.",
    ),
    click.option(
        "--uniform",
        type=WholeNumberType("number of beads", least=1),
        metavar="N",
        help="Pick the N most uniform beads.",
    ),
    click.option(
        "--graduated",
        type=LENGTH,
        metavar="LENGTH",
        help="Pick a graduated run of this strung length, the largest bead in the centre.",
    ),
)


@click.command(cls=FileCommand, epilog=_EPILOG + MANY_PHOTOS + NUMBERS_BEFORE)
@handful_options
@_sorting_options
@_picking_options
@target_options
@correction_options
@output_options
@many_options
def lot(
    *,
    handfuls: Sequence[Handful],
    sorting: _Sorting,
    picking: _Picking,
    target: Target | None,
    corrections: Sequence[Typed],
    outputs: Outputs,
    many: Many,
) -> None:
    """Measure the loose beads in one or more photos, and sort them by size.

    The result says for how much of a 16 in strand each size is enough, or of the piece that the target
    options describe.
    """
    measured = measure(handfuls, many)
    handfuls = measured_ones(handfuls, measured)
    result = _sort(corrected_lot(measured, corrections, handfuls), sorting, target=target)
    picks = make_picks(
        result.sizes, pairs=picking.pairs, uniform=picking.uniform, graduated_mm=picking.graduated_mm
    )
    marking = mark_classes(result)

    def page(pictures: "list[Picture]") -> str:
        from sizing.report.html.lot import lot_page

        return lot_page(result, picks, marking=marking, pictures=pictures)

    marked = MarkedLot(handfuls=handfuls, lot=result.lot, marking=marking)
    write_files(marked, outputs, table=lambda: to_csv(lot_rows(result)), page=page)
    record = lot_record(result, picks)
    keep_if_asked(outputs.keep_name, record, picture=lambda: first_photo(handfuls))
    click.echo(to_json(record) if outputs.as_json else lot_text(result, picks), nl=False)
    tell_left_out(measured)


def _sort(measured: Lot, sorting: _Sorting, *, target: Target | None) -> SortedLot:
    return sort_lot(
        measured,
        dimension=sorting.dimension,
        method=sorting.method,
        step_mm=sorting.step_mm,
        target=target,
    )
