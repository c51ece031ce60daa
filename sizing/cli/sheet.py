"""`strandgauge sheet`: writes the scale sheets."""

from pathlib import Path

import click

from sizing.base.files import write_whole
from sizing.base.units import format_mm
from sizing.cli.options import FILE_OUT
from sizing.cli.photo_options import check_suffix
from vision.sheet.drawing import SUFFIXES, lay_out, place_on, render
from vision.sheet.geometry import SHEETS, Sheet

_EPILOG = """
\b
Examples:
  strandgauge sheet --paper a4 -o sheet.pdf
  strandgauge sheet --paper letter --bed grey -o sheet.pdf
  strandgauge sheet --card -o card.pdf

Pale beads show best on the grey bed, dark ones on the white. The card goes beside beads that are too
many, or lie on a cloth too large, for the mat.
"""


@click.command(epilog=_EPILOG)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper to print on."
)
@click.option(
    "--card", is_flag=True, help="The small card instead of the mat; a PDF adds marks to cut along."
)
@click.option(
    "--bed",
    type=click.Choice(["white", "grey"]),
    default="white",
    show_default=True,
    help="Shade of the mat where the beads lie.",
)
@click.option(
    "-o",
    "--output",
    type=FILE_OUT,
    required=True,
    metavar="FILE",
    help="A .pdf, .svg or .png (600 dpi) file.",
)
def sheet(paper: str, *, card: bool, bed: str, output: Path) -> None:
    """Write the scale sheet that beads are photographed with.

    Print it at 100 % on plain matt paper. Then lay a ruler along its top row: if it reads other than
    the check length printed there, give what it reads as --check-length with every photo.
    """
    check_suffix(output, SUFFIXES, option="--output")
    if card and bed == "grey":
        raise click.UsageError("the card has no bed, the beads lie beside it: leave --bed out")
    drawn = SHEETS["card" if card else f"mat-{paper}"]
    page = lay_out(drawn, grey_bed=bed == "grey")
    if card and output.suffix.lower() == ".pdf":
        width, height = SHEETS[f"mat-{paper}"].page_mm
        page = place_on(page, (height, width))
    write_whole(output, render(page, output.suffix))
    click.echo(_how_to_go_on(drawn, output))


def _how_to_go_on(drawn: Sheet, output: Path) -> str:
    length = format_mm(drawn.check_length_mm)
    return (
        f"Wrote {drawn.name} to {output}. Print it at 100 %, not fitted to the page; "
        f"a ruler along its top row should read {length}."
    )
