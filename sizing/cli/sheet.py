"""`strandgauge sheet`: writes the scale sheets that beads are photographed on, and measures printed ones."""

from dataclasses import dataclass
from pathlib import Path

import click

from sizing.base.files import write_whole
from sizing.base.printable import printable
from sizing.base.units import format_length
from sizing.cli.files import SHEET, FileCommand, InputFile, OutputFile
from sizing.cli.options import gather
from sizing.cli.photo_options import message_if_slow
from vision.common.check_words import PRINT_AT_FULL_SIZE, READ_RULER
from vision.reference.objects import REFERENCES
from vision.sheet.geometry import SHEETS, Sheet

_HELP = f"""Write the scale sheet that beads are photographed on, or measure a printed one.

{PRINT_AT_FULL_SIZE} Use plain matt paper. {READ_RULER}
The check length is typed as --check-length. Or measure the print once with --measure, which needs no ruler.
"""

_EPILOG = """
\b
Examples:
  strandgauge sheet --paper a4 -o sheet.pdf
  strandgauge sheet --paper letter --bed grey -o sheet.pdf
  strandgauge sheet --card -o card.pdf
  strandgauge sheet --measure empty.jpg --with card

Without a ruler, measure the print with a photo: lay a plastic card of the usual size (85.60 x 53.98 mm,
a loyalty card without raised letters, its number face down) or a coin flat on the empty sheet, clear of
the tags (beside a small card), and photograph all of it from straight above. A card is several times as
exact as a coin. Its colour should differ from the paper's.

Pale beads show best on a grey bed, dark ones on a white bed. Lay the card beside beads that do not fit
on the mat, or that lie on a larger cloth.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Page:
    """The sheet to write, and where."""

    paper: str
    card: bool
    bed: str
    output: Path | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Memory:
    """What to do about measured sheets."""

    photo: Path | None
    thing: str | None
    measured: bool
    name: str | None


_page_options = gather(
    "page",
    _Page,
    click.option(
        "--paper",
        type=click.Choice(["a4", "letter"]),
        default="a4",
        show_default=True,
        help="Paper to print on.",
    ),
    click.option(
        "--card", is_flag=True, help="Write the small card instead of the mat; a PDF has marks for cutting."
    ),
    click.option(
        "--bed",
        type=click.Choice(["white", "grey"]),
        default="white",
        show_default=True,
        help="Colour of the area where the beads lie.",
    ),
    click.option(
        "-o",
        "--output",
        type=OutputFile(SHEET),
        metavar="FILE",
        help="File to write: .pdf, .svg or .png (600 dpi).",
    ),
)

_memory_options = gather(
    "memory",
    _Memory,
    click.option(
        "--measure",
        "photo",
        type=InputFile(),
        metavar="PHOTO",
        help="Measure the printed sheet in this photo by the card or coin on it, and remember the result.",
    ),
    click.option(
        "--with",
        "thing",
        type=click.Choice(list(REFERENCES)),
        metavar="THING",
        help=f"What lies on the sheet for --measure: {', '.join(REFERENCES)}; card if not given.",
    ),
    click.option("--measured", is_flag=True, help="List the measured sheets."),
    click.option(
        "--forget", "name", type=click.Choice(list(SHEETS)), help="Forget a measured sheet of this kind."
    ),
)


@click.command(cls=FileCommand, epilog=_EPILOG, help=_HELP)
@_page_options
@_memory_options
def sheet(page: _Page, memory: _Memory) -> None:
    """Do the one thing that was asked for; `_HELP` is what a maker reads."""
    from sizing.cli.sheet_memory import forget_text, measure_sheet, measured_text

    tasks = (page.output, memory.photo, memory.name, memory.measured or None)
    if sum(task is not None for task in tasks) != 1:
        raise click.UsageError("give one of -o FILE, --measure PHOTO, --measured and --forget SHEET")
    if memory.thing and not memory.photo:
        raise click.UsageError("--with says what lies on the sheet in a photo: give it as --measure PHOTO")
    if page.output:
        click.echo(_write(page, page.output))
    elif memory.photo:
        with message_if_slow(f"Measuring {memory.photo} ..."):
            text = measure_sheet(memory.photo, memory.thing or "card")
        click.echo(text)
    else:
        click.echo(forget_text(memory.name) if memory.name else measured_text())


def _write(page: _Page, output: Path) -> str:
    """Write a sheet and return what to do next."""
    if page.card and page.bed == "grey":
        raise click.UsageError("the card has no bed, because beads lie beside it: leave --bed out")
    from vision.sheet.drawing import render
    from vision.sheet.layout import lay_out, place_on

    drawn = SHEETS["card" if page.card else f"mat-{page.paper}"]
    laid_out = lay_out(drawn, grey_bed=page.bed == "grey")
    if page.card and output.suffix.lower() == ".pdf":
        width, height = SHEETS[f"mat-{page.paper}"].page_mm
        laid_out = place_on(laid_out, (height, width))
    write_whole(output, render(laid_out, output.suffix))
    return _next_step(drawn, output)


def _next_step(drawn: Sheet, output: Path) -> str:
    length = format_length(drawn.check_length_mm)
    return (
        f"Wrote {drawn.name} to {printable(str(output))}. {PRINT_AT_FULL_SIZE} {READ_RULER} "
        f"At 100 % it reads {length}."
    )
