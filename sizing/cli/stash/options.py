"""What a maker types about kept beads: which ones, what is said of them, and what to look for."""

from decimal import Decimal
from typing import Any

import click

from sizing.base.errors import SizingError
from sizing.cli.options import LENGTH, WholeNumberType, gather
from sizing.stash.colours import WORDS
from sizing.stash.details import Details, read_price
from sizing.stash.entries import Colour
from sizing.stash.search import Wanted, read_colour, read_range

Range = tuple[float, float]
Price = tuple[Decimal, str]
Said = dict[str, Any]

entry_argument = click.argument("wanted", metavar="ENTRY")
size_option = click.option(
    "--size",
    type=WholeNumberType("number of a size", least=0),
    metavar="N",
    help="Which of its sizes, by the number that stash show gives it; 0 for beads of none of them.",
)


class RangeType(click.ParamType[Range]):
    """A size, which stands for all sizes sold as this one, or a range of sizes."""

    name = "size"

    def convert(self, value: str | Range, param: click.Parameter | None, ctx: click.Context | None) -> Range:
        """Read a size; a usage error says what to write instead."""
        if isinstance(value, tuple):
            return value
        try:
            return read_range(value)
        except (ValueError, SizingError) as error:
            self.fail(str(error), param, ctx)


class ColourType(click.ParamType[Colour | str]):
    """A colour by its word, or as `#rrggbb`."""

    name = "colour"

    def convert(
        self, value: str | Colour, param: click.Parameter | None, ctx: click.Context | None
    ) -> Colour | str:
        """Read a colour; a usage error says what to write instead."""
        if not isinstance(value, str):
            return value
        try:
            return read_colour(value)
        except SizingError as error:
            self.fail(str(error), param, ctx)


class PriceType(click.ParamType[Price]):
    """A price with its currency."""

    name = "price"

    def convert(self, value: str | Price, param: click.Parameter | None, ctx: click.Context | None) -> Price:
        """Read a price; a usage error says what to write instead."""
        if isinstance(value, tuple):
            return value
        try:
            return read_price(value)
        except SizingError as error:
            self.fail(str(error), param, ctx)


def _wanted(*, text: str, sizes: Range | None, colour: Colour | str | None, least_count: int) -> Wanted:
    low_mm, high_mm = sizes or (0.0, float("inf"))
    return Wanted(text=text, low_mm=low_mm, high_mm=high_mm, colour=colour or "", least_count=least_count)


wanted_options = gather(
    "wanted",
    _wanted,
    click.option("--text", default="", metavar="WORDS", help="Words in name, source, material or note."),
    click.option(
        "--size", "sizes", type=RangeType(), help="What is sold as this size: 8mm; or a range, as 7-8.5mm."
    ),
    click.option(
        "--colour", type=ColourType(), help=f"One of {', '.join(WORDS)}; or like #3c5a96 and near it."
    ),
    click.option(
        "--count",
        "least_count",
        type=WholeNumberType("number of beads", least=0),
        default=0,
        metavar="N",
        help="At least so many beads.",
    ),
)
"""Options that say what to look for; the command receives one `wanted`, a Wanted."""


def _said(
    *,
    source: str | None,
    price: Price | None,
    material: str | None,
    hole: float | None,
    note: str | None,
    date: str | None,
) -> Said:
    said: Said = {"source": source, "material": material, "hole_mm": hole, "note": note, "date": date}
    if price is not None:
        said |= {"price": price[0], "currency": price[1]}
    return {key: value for key, value in said.items() if value is not None}


said_options = gather(
    "said",
    _said,
    click.option("--from", "source", metavar="TEXT", help="Where they are from."),
    click.option("--price", type=PriceType(), help='What was paid for all of them, as "12.50 EUR".'),
    click.option("--material", metavar="TEXT", help="Material, as quartz: plans weigh by it."),
    click.option("--hole", type=LENGTH, metavar="LENGTH", help="Diameter of the drilled hole."),
    click.option("--note", metavar="TEXT", help="Whatever else there is to say."),
    click.option("--date", metavar="YYYY-MM-DD", help="Of buying them; if not given, today."),
)
"""Options about kept beads; the command receives one `said`, the `Details` fields that were typed."""


def details(name: str, said: Said) -> Details:
    """Return a name, and what was said, as one record."""
    return Details(name=name, **said)
