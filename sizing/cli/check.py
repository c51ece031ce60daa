"""`strandgauge check`: are loose beads of the size that their label states."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from sizing.base.errors import SizingError
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
from sizing.cli.options import LENGTH_OR_ZERO, gather
from sizing.cli.photo_options import Outputs, output_options
from sizing.lot.conformity import check_label
from sizing.lot.handfuls import Handful
from sizing.lot.label import Label, parse_label
from sizing.lot.marking import mark_decisions
from sizing.lot.sizes import unmeasured
from sizing.report.records.check import check_record, check_rows
from sizing.report.records.output import to_csv, to_json
from sizing.report.sentences.check import CheckedLot
from sizing.report.text.check import check_text

if TYPE_CHECKING:
    from sizing.report.html.page import Picture

_EPILOG = """
\b
Examples:
  strandgauge check delivery.jpg --label 8mm
  strandgauge check delivery.jpg --label 8mm --tolerance 0.25mm --annotated marked.jpg
  strandgauge check pearls1.jpg pearls2.jpg --label 7.0-7.5mm
  strandgauge check ovals.jpg --label 6x4mm --report ovals.html

\b
Labels:
  8mm          a size; half a millimetre more or less is allowed, or what you give as --tolerance
  7.0-7.5mm    a class; sizes between its two ends are allowed
  6x4mm        two sizes, in either order
  11/0         a numbered seed-bead size, which means a range

A bead is called within or outside the limits only if the measurement uncertainty allows no other
answer (ISO 14253-1). Lay and photograph the beads as for the lot command. Several photos make one lot.
"""


def _label(*, label: str, tolerance: float | None) -> Label:
    try:
        return parse_label(label, tolerance_mm=tolerance)
    except SizingError as error:
        raise click.BadParameter(str(error), param_hint="--label") from error


_label_options = gather(
    "label",
    _label,
    click.option(
        "--label", required=True, metavar="SIZE", help="What the label says: 8mm, 7.0-7.5mm, 6x4mm, 11/0."
    ),
    click.option(
        "--tolerance",
        type=LENGTH_OR_ZERO,
        metavar="LENGTH",
        help="Allowed above and below the size on the label; 0.5 mm for a plain size if not given.",
    ),
)


@click.command(cls=FileCommand, epilog=_EPILOG + MANY_PHOTOS + NUMBERS_BEFORE)
@handful_options
@_label_options
@correction_options
@output_options
@many_options
def check(
    *,
    handfuls: Sequence[Handful],
    label: Label,
    corrections: Sequence[Typed],
    outputs: Outputs,
    many: Many,
) -> None:
    """Check the loose beads in one or more photos against the size on their label."""
    measured = measure(handfuls, many)
    handfuls = measured_ones(handfuls, measured)
    lot = corrected_lot(measured, corrections, handfuls)
    checked = CheckedLot(lot=lot, label=label, conformity=check_label(lot, label))
    marking = mark_decisions(checked.conformity, unmeasured(lot))

    def page(pictures: "list[Picture]") -> str:
        from sizing.report.html.check import check_page

        return check_page(checked, marking=marking, pictures=pictures)

    marked = MarkedLot(handfuls=handfuls, lot=lot, marking=marking)
    write_files(marked, outputs, table=lambda: to_csv(check_rows(checked)), page=page)
    record = check_record(checked)
    keep_if_asked(outputs.keep_name, record, picture=lambda: first_photo(handfuls))
    click.echo(to_json(record) if outputs.as_json else check_text(checked), nl=False)
    tell_left_out(lot)
