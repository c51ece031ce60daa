"""What a maker says of kept beads, and what of it is refused."""

import math
import re
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from sizing.base.dates import today
from sizing.base.errors import StashError
from sizing.base.printable import printable

LONGEST_NOTE = 2000
"""Letters of a note: a page of it."""
LONGEST_LINE = 100
"""Letters of a name or another line: more is no name."""
_MOST_PRICE = Decimal(10) ** 9  # of any currency: more is a mistyped price
_FINEST_PRICE = 6  # decimals: more than any currency has
_THICKEST_HOLE_MM = 50.0  # half of the largest bead there is
# A comma is a decimal comma before one or two digits only: `1,250` could mean a thousand.
_PRICE = re.compile(
    r"(?![.,])(?P<before>[^\d-]*?)\s*(?P<amount>[0-9]+(?:\.[0-9]+|,[0-9]{1,2})?)\s*(?P<after>\D*)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Details:
    """What a maker knows of kept beads.

    Attributes
    ----------
    name : str
        What the maker calls them; no two entries have the same name.
    source : str
        Where they are from.
    price : Decimal or None
        Paid for all of them.
    currency : str
        As typed; may be empty.
    material : str
    hole_mm : float or None
    note : str
    date : str
        Of buying or keeping them, year, month and day (ISO 8601).
    """

    name: str
    source: str = ""
    price: Decimal | None = None
    currency: str = ""
    material: str = ""
    hole_mm: float | None = None
    note: str = ""
    date: str = ""


def read_price(text: str) -> tuple[Decimal, str]:
    """Read a price with its currency, before or behind it, or with none.

    Raises
    ------
    StashError

    Examples
    --------
    >>> read_price("12.50 EUR"), read_price("$ 4"), read_price("3,20")
    ((Decimal('12.50'), 'EUR'), (Decimal('4'), '$'), (Decimal('3.20'), ''))
    """
    match = _PRICE.fullmatch(" ".join(text.split()))
    if not match or (match["before"] and match["after"]):
        raise StashError(f"{printable(text)!r} is no price: write it like 12.50, 1250 or 12.50 EUR")
    return Decimal(match["amount"].replace(",", ".")), match["before"] or match["after"]


def checked(details: Details) -> Details:
    """Return what was said of beads with its lines tidied.

    Raises
    ------
    StashError
        Something in it cannot be.
    """
    name = checked_line("name", details.name)
    if not name:
        raise StashError("an entry of the stash needs a name: give it one")
    if name.isdigit():
        raise StashError(f"{name} would be taken for an entry's number: give it a name with a letter")
    note = "\n".join(map(printable, details.note.splitlines()))
    if len(note) > LONGEST_NOTE:
        raise StashError(f"a note has {LONGEST_NOTE} letters at most, this one {len(note)}: shorten it")
    if details.hole_mm is not None and not 0 < details.hole_mm <= _THICKEST_HOLE_MM:
        raise StashError(f"a hole of {details.hole_mm:g} mm is in no bead: check its unit")
    return replace(
        details,
        name=name,
        source=checked_line("source", details.source),
        price=_price(details.price),
        currency=checked_line("currency", details.currency),
        material=checked_line("material", details.material),
        note=note,
        date=checked_date(details.date),
    )


def checked_line(what: str, text: str) -> str:
    """Return a line tidied.

    Raises
    ------
    StashError
        It is too long.
    """
    line = " ".join(printable(text).split())
    if len(line) > LONGEST_LINE:
        raise StashError(
            f"the {what} is longer than {LONGEST_LINE} letters: shorten it, or write it as the note"
        )
    return line


def _price(price: Decimal | None) -> Decimal | None:
    if price is None:
        return None
    exponent = price.as_tuple().exponent if price.is_finite() else -math.inf
    if not isinstance(exponent, int) or not 0 <= price <= _MOST_PRICE or exponent < -_FINEST_PRICE:
        raise StashError(f"{price} is no price: write it like 12.50")
    return price


def checked_date(text: str) -> str:
    """Return a date as ISO 8601 writes it; where none is given, that of today.

    Raises
    ------
    StashError
        It is none.
    """
    try:
        return date.fromisoformat(text).isoformat() if text else today()
    except ValueError as error:
        raise StashError(f"{printable(text)!r} is no date: write it like {today()}") from error
