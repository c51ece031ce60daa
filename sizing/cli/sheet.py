"""`strandgauge sheet`: writes the scale sheets that beads are photographed on."""

from pathlib import Path

import click

from sizing.base.files import write_whole
from sizing.base.units import format_mm
from sizing.cli.files import SHEET, FileCommand, OutputFile
from vision.sheet.drawing import render
from vision.sheet.geometry import SHEETS, Sheet
from vision.sheet.layout import lay_out, place_on

_EPILOG = """
\b
Examples:
  strandgauge sheet --paper a4 -o sheet.pdf
  strandgauge sheet --paper letter --bed grey -o sheet.pdf
  strandgauge sheet --card -o card.pdf

Pale beads show best on a grey bed, dark ones on a white bed. Lay the card beside beads that do not fit
on the mat, or that lie on a larger cloth.
"""


@click.command(cls=FileCommand, epilog=_EPILOG)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper to print on."
)
@click.option(
    "--card", is_flag=True, help="Write the small card instead of the mat; a PDF has marks for cutting."
)
@click.option(
    "--bed",
    type=click.Choice(["white", "grey"]),
    default="white",
    show_default=True,
    help="Colour of the area where the beads lie.",
)
@click.option(
    "-o",
    "--output",
    type=OutputFile(SHEET),
    required=True,
    metavar="FILE",
    help="File to write: .pdf, .svg or .png (600 dpi).",
)
def sheet(paper: str, *, card: bool, bed: str, output: Path) -> None:
    """Write the scale sheet that beads are photographed on.

    Print it at 100 % on plain matt paper. Then measure its top row of tags with a ruler. If your ruler
    differs from the length printed there, give what you read as --check-length with every photo.
    """
    if card and bed == "grey":
        raise click.UsageError("the card has no bed, because beads lie beside it: leave --bed out")
    drawn = SHEETS["card" if card else f"mat-{paper}"]
    page = lay_out(drawn, grey_bed=bed == "grey")
    if card and output.suffix.lower() == ".pdf":
        width, height = SHEETS[f"mat-{paper}"].page_mm
        page = place_on(page, (height, width))
    write_whole(output, render(page, output.suffix))
    click.echo(_next_step(drawn, output))


def _next_step(drawn: Sheet, output: Path) -> str:
    length = format_mm(drawn.check_length_mm)
    return (
        f"Wrote {drawn.name} to {output}. Print it at 100 %, not fitted to the page. "
        f"Its top row of tags should then measure {length}."
    )
