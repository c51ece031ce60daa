"""`strandgauge check`: are loose beads the size that their label says."""

from collections.abc import Sequence
from pathlib import Path

import click

from sizing.base.errors import SizingError
from sizing.base.files import write_whole
from sizing.cli.lot_photos import handful_options, keep_photos, marked_copies, measure, page_pictures
from sizing.cli.options import LENGTH_OR_ZERO
from sizing.cli.photo_options import Outputs, output_options
from sizing.lot.conformity import check_label
from sizing.lot.handfuls import Handful
from sizing.lot.label import parse_label
from sizing.lot.marking import Marking, mark_decisions
from sizing.lot.sizes import unmeasured
from sizing.report.records.check import check_record, check_rows
from sizing.report.records.output import to_csv, to_json
from sizing.report.sentences.check import CheckedLot
from sizing.report.text.check import check_text

_EPILOG = """
\b
Examples:
  strandgauge check delivery.jpg --label 8mm
  strandgauge check delivery.jpg --label 8mm --tolerance 0.25mm --annotated marked.jpg
  strandgauge check pearls1.jpg pearls2.jpg --label 7.0-7.5mm
  strandgauge check ovals.jpg --label 6x4mm --report ovals.html

\b
Labels:
  8mm          a size, sold within half a millimetre unless you say --tolerance
  7.0-7.5mm    a class, which means just what lies between its ends
  6x4mm        two sizes, in either order
  11/0         a numbered seed-bead size, which means a range

A bead is called outside, or within, only where its doubt leaves no other answer (ISO 14253-1).
Lay and photograph the beads as for the lot command; several photos make one lot there too.
"""


@click.command(epilog=_EPILOG)
@handful_options
@click.option("--label", required=True, metavar="SIZE", help="What the label says: 8mm, 7.0-7.5mm, 6x4mm.")
@click.option(
    "--tolerance",
    type=LENGTH_OR_ZERO,
    metavar="LENGTH",
    help="Allowed beyond what the label states, each way.",
)
@output_options
def check(*, handfuls: Sequence[Handful], label: str, tolerance: float | None, outputs: Outputs) -> None:
    """Check the loose beads in one or more photos against the size on their label."""
    try:
        read = parse_label(label, tolerance_mm=tolerance)
    except SizingError as error:
        raise click.BadParameter(str(error), param_hint="--label") from error
    keep_photos(handfuls, outputs)
    lot = measure(handfuls)
    checked = CheckedLot(lot=lot, label=read, conformity=check_label(lot, read))
    _write_files(handfuls, checked, outputs)
    if outputs.report_file:
        _write_page(outputs.report_file, handfuls, checked=checked)
    click.echo(to_json(check_record(checked)) if outputs.as_json else check_text(checked), nl=False)


def _write_files(handfuls: Sequence[Handful], checked: CheckedLot, outputs: Outputs) -> None:
    copies = []
    if outputs.annotated_file:
        copies = marked_copies(handfuls, checked.lot, _marking(checked), outputs.annotated_file)
    if outputs.csv_file:
        write_whole(outputs.csv_file, to_csv(check_rows(checked)))
    for path, content in copies:
        write_whole(path, content)


def _write_page(path: Path, handfuls: Sequence[Handful], *, checked: CheckedLot) -> None:
    from sizing.report.html.check import check_page  # noqa: PLC0415 - takes its time to import

    marking = _marking(checked)
    pictures = page_pictures(handfuls, checked.lot, marking)
    write_whole(path, check_page(checked, marking=marking, pictures=pictures))


def _marking(checked: CheckedLot) -> Marking:
    return mark_decisions(checked.conformity, unmeasured(checked.lot))
