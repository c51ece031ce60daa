"""Keeps a measurement in the stash book, changes what its maker says of it, and forgets it."""

import contextlib
import sqlite3
import uuid
from collections.abc import Iterator

from sizing.base.errors import StashError
from sizing.stash.book import Book
from sizing.stash.counts import first_changes, insert_changes
from sizing.stash.details import Details, checked
from sizing.stash.entries import Entry, Size, find
from sizing.stash.measurement import Fields, Measurement, read_measurement
from sizing.stash.photos import is_picture

Row = dict[str, object]

_INSERT_ENTRY = """
    INSERT INTO entry
        (uuid, form, name, source, price, currency, material, hole_mm, note, date, target, kept, measurement)
    VALUES (:uuid, :form, :name, :source, :price, :currency, :material, :hole_mm, :note, :date, :target,
        :kept, :measurement)"""
_INSERT_SIZE = """
    INSERT INTO size
    VALUES (:entry, :place, :along_mm, :across_mm, :rel_u95, :measured, :colour, :kind)"""
_UPDATE_ENTRY = """
    UPDATE entry SET name = :name, source = :source, price = :price, currency = :currency,
        material = :material, hole_mm = :hole_mm, note = :note, date = :date
    WHERE number = :number"""


def keep(
    book: Book, fields: Fields, *, details: Details, count: int | None = None, thumbnail: bytes | None = None
) -> Entry:
    """Keep a measurement as a new entry.

    Parameters
    ----------
    book : Book
        Open for `writing`.
    fields : mapping
        What `strand`, `lot` or `check` printed with --json.
    details : Details, keyword-only
        Its date may be empty: today.
    count : int, optional, keyword-only
        How many beads there are; None for as many as were measured. Those that belong to none of several
        sizes count too; spacers do not.
    thumbnail : bytes, optional, keyword-only
        A small JPEG, as `sizing.stash.photos.thumbnail` makes it.

    Raises
    ------
    StashError, PieceError
        The name is taken, something said of the beads cannot be, or it is no measurement.
    """
    said = checked(details)
    measured = read_measurement(fields, said.name)
    changes = first_changes(measured, count)
    spacers = {size.place for size in measured.sizes if size.kind == "spacer"}
    kept = sum(change.beads for change in changes if change.size not in spacers)
    number = insert_entry(book, measured, identity=str(uuid.uuid4()), kept=kept, details=said)
    insert_changes(book, number, changes)
    set_thumbnail(book, number, thumbnail)
    return find(book, number)


def describe(book: Book, entry: Entry, details: Details) -> Entry:
    """Change what is said of an entry, and return it as it is then.

    Raises
    ------
    StashError
        The name is taken, or something said of the beads cannot be.
    """
    said = checked(details)
    with _name_taken(said.name):
        book.execute(_UPDATE_ENTRY, _columns(said) | {"number": entry.number})
    return find(book, entry.number)


def forget(book: Book, entry: Entry) -> None:
    """Delete an entry with all its changes and its photo."""
    book.execute("DELETE FROM entry WHERE number = ?", (entry.number,))


def insert_entry(book: Book, measured: Measurement, *, identity: str, kept: int, details: Details) -> int:
    """Write an entry that was checked, without its changes, and return its number.

    Raises
    ------
    StashError
        The name is taken.
    """
    row = _columns(details) | {
        "uuid": identity,
        "form": measured.form,
        "target": measured.target,
        "kept": kept,
        "measurement": measured.text,
    }
    with _name_taken(details.name):
        number = book.execute(_INSERT_ENTRY, row).lastrowid
    sizes = [_size_columns(size) | {"entry": number} for size in measured.sizes]
    book.executemany(_INSERT_SIZE, sizes)
    return int(number or 0)


def set_thumbnail(book: Book, number: int, thumbnail: bytes | None) -> None:
    """Write the small picture of an entry.

    Raises
    ------
    ValueError
        This program did not write it, so it may hold more than a picture.
    """
    if thumbnail is not None and not is_picture(thumbnail):
        raise ValueError("a thumbnail must be made by sizing.stash.photos.thumbnail")
    book.execute("UPDATE entry SET thumbnail = ? WHERE number = ?", (thumbnail, number))


def _columns(details: Details) -> Row:
    return {
        "name": details.name,
        "source": details.source,
        "price": None if details.price is None else str(details.price),
        "currency": details.currency,
        "material": details.material,
        "hole_mm": details.hole_mm,
        "note": details.note,
        "date": details.date,
    }


def _size_columns(size: Size) -> Row:
    red, green, blue = size.colour_rgb
    return {
        "place": size.place,
        "along_mm": size.along_mm,
        "across_mm": size.across_mm,
        "rel_u95": size.rel_u95,
        "measured": size.measured,
        "colour": red << 16 | green << 8 | blue,
        "kind": size.kind,
    }


def name_taken(name: str) -> StashError:
    """Return the refusal of a name that another entry has."""
    return StashError(f"the stash already has an entry {name!r}: choose another name")


@contextlib.contextmanager
def _name_taken(name: str) -> Iterator[None]:
    try:
        yield
    except sqlite3.IntegrityError as error:
        if "entry.name" not in str(error):
            raise
        raise name_taken(name) from error
