"""What stands in the stash book, as records, and how to read it."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal

from sizing.base.errors import StashError
from sizing.base.json_file import parse_json
from sizing.stash.book import Book
from sizing.stash.details import Details

Form = Literal["lot", "strand"]
Kind = Literal["bead", "spacer"]
Colour = tuple[int, int, int]
Row = tuple[Any, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """The beads of one size in an entry.

    Attributes
    ----------
    place : int
        1, 2, 3 ... within the entry.
    along_mm, across_mm : float
        Mean size along the string and across it.
    rel_u95 : float
        Relative expanded uncertainty (k = 2) of the mean, which all these beads share.
    measured : int
        How many were measured.
    colour_rgb : tuple of int
        Mean sRGB colour.
    count : int
        How many there are now.
    kind : str
        `bead`; or `spacer`, which counts as none.
    """

    place: int
    along_mm: float
    across_mm: float
    rel_u95: float
    measured: int
    colour_rgb: Colour
    count: int
    kind: Kind = "bead"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A strand or a lot of loose beads in the stash book.

    Attributes
    ----------
    number : int
        1, 2, 3 ... in the order of keeping; a number is never used again.
    uuid : str
        Stays the same from book to book.
    form : str
        `lot` or `strand`.
    details : Details
    target : str
        Which kind of target it was measured for; empty for none.
    sizes : tuple of Size
    count : int
        How many beads there are now: the sum of its changes, but for those of spacers.
    kept : int
        How many there were when it was kept; the price was paid for these.
    photo_bytes : int
        How much room its photo takes; 0 without one.
    """

    number: int
    uuid: str
    form: Form
    details: Details
    target: str
    sizes: tuple[Size, ...]
    count: int
    kept: int
    photo_bytes: int

    @property
    def name(self) -> str:
        """What the maker calls it."""
        return self.details.name

    @property
    def bead_cost(self) -> Decimal | None:
        """What one bead cost; None where the price is not known."""
        price = self.details.price
        return price / self.kept if price is not None and self.kept else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change of an entry's count.

    Attributes
    ----------
    uuid : str
    size : int
        The place of the size that it is about; 0 for beads that belong to none.
    beads : int
        More (+) or fewer (-).
    date : str
        Year, month and day (ISO 8601).
    why : str
    """

    uuid: str
    size: int
    beads: int
    date: str
    why: str


_ENTRIES = """
    SELECT number, uuid, form, name, source, price, currency, material, hole_mm, note, date, target, kept,
        (SELECT total(beads) FROM change WHERE change.entry = entry.number AND change.size NOT IN
            (SELECT place FROM size WHERE size.entry = entry.number AND kind = 'spacer')),
        (SELECT length(jpeg) FROM photo WHERE entry = entry.number)
    FROM entry"""
_SIZES = """
    SELECT place, along_mm, across_mm, rel_u95, measured, colour, kind,
        (SELECT total(beads) FROM change WHERE change.entry = size.entry AND size = size.place)
    FROM size WHERE entry = ? ORDER BY place"""


def entries(book: Book) -> list[Entry]:
    """Return everything in the stash, in the order of keeping.

    Examples
    --------
    >>> from sizing.stash.book import reading
    >>> with reading() as book:
    ...     entries(book)
    []
    """
    return [_entry(book, row) for row in book.execute(f"{_ENTRIES} ORDER BY number")]


def find(book: Book, wanted: str | int) -> Entry:
    """Return one entry by its number or its name.

    Raises
    ------
    StashError
        There is none.
    """
    text = " ".join(str(wanted).split())
    column, value = ("number", int(text)) if _is_number(text) else ("name", text)
    row = book.execute(f"{_ENTRIES} WHERE {column} = ?", (value,)).fetchone()
    if row is None:
        raise StashError(f"the stash has no entry {text!r}: see what it has with strandgauge stash list")
    return _entry(book, row)


def changes(book: Book, entry: Entry) -> tuple[Change, ...]:
    """Return every change of an entry's count, the first one first."""
    rows = book.execute(
        "SELECT uuid, size, beads, date, why FROM change WHERE entry = ? ORDER BY number", (entry.number,)
    )
    return tuple(
        Change(uuid=uuid, size=size, beads=beads, date=date, why=why) for uuid, size, beads, date, why in rows
    )


def thumbnail_of(book: Book, entry: Entry) -> bytes | None:
    """Return the small picture of an entry, a JPEG; None where it has none."""
    row = book.execute("SELECT thumbnail FROM entry WHERE number = ?", (entry.number,)).fetchone()
    return row[0] if row else None


def measured_fields(book: Book, entry: Entry) -> Any:  # noqa: ANN401 - whatever it holds
    """Return what was measured: what `strand`, `lot` or `check` printed as JSON.

    Raises
    ------
    StashError
        It is damaged.
    """
    row = book.execute("SELECT measurement FROM entry WHERE number = ?", (entry.number,)).fetchone()
    try:
        return parse_json(str(row[0]))
    except (ValueError, RecursionError) as error:
        raise StashError(
            f"what was measured of {entry.name} is damaged in the stash book ({error}): "
            "forget it, then import what you exported last"
        ) from error


def pick_size(entry: Entry, place: int | None) -> int:
    """Return the place of the size that is meant; None is enough where all beads are of one.

    Raises
    ------
    StashError
        It has several sizes, or none of this number.
    """
    places = [size.place for size in entry.sizes]
    of_beads = [size.place for size in entry.sizes if size.kind == "bead"]
    if place is None and len(of_beads) == 1:
        return of_beads[0]
    if place is None:
        raise StashError(
            f"{entry.name} has {len(places)} sizes: say which with --size, by its number in "
            f"strandgauge stash show {entry.number}"
        )
    if place not in (places if len(places) == 1 else [0, *places]):
        raise StashError(f"{entry.name} has no size {place}: see strandgauge stash show {entry.number}")
    return place


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 9  # a name is never all digits


def _entry(book: Book, row: Row) -> Entry:
    number, uuid, form, *about, target, kept, count, photo_bytes = row
    return Entry(
        number=number,
        uuid=uuid,
        form=form,
        details=_details(about),
        target=target,
        sizes=tuple(_size(each) for each in book.execute(_SIZES, (number,))),
        count=int(count),
        kept=int(kept),
        photo_bytes=photo_bytes or 0,
    )


def _details(about: list[Any]) -> Details:
    name, source, price, currency, material, hole_mm, note, date = about
    return Details(
        name=name,
        source=source,
        price=None if price is None else Decimal(price),
        currency=currency,
        material=material,
        hole_mm=hole_mm,
        note=note,
        date=date,
    )


def _size(row: Row) -> Size:
    place, along_mm, across_mm, rel_u95, measured, colour, kind, count = row
    return Size(
        place=place,
        along_mm=along_mm,
        across_mm=across_mm,
        rel_u95=rel_u95,
        measured=measured,
        colour_rgb=(colour >> 16, colour >> 8 & 255, colour & 255),
        count=int(count),
        kind=kind,
    )
