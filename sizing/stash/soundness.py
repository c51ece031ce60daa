"""Whether the stash book is sound: what the database checks by itself, and what must be true besides."""

from collections.abc import Iterator

from sizing.base.errors import SizingError
from sizing.stash.book import Book
from sizing.stash.counts import count_of
from sizing.stash.entries import Entry, entries, measured_fields
from sizing.stash.measurement import read_measurement


def problems(book: Book) -> tuple[str, ...]:
    """Return what is wrong with the stash book, a line each; nothing where it is sound.

    Examples
    --------
    >>> from sizing.stash.book import reading
    >>> with reading() as book:
    ...     problems(book)
    ()
    """
    found = [str(row[0]) for row in book.execute("PRAGMA integrity_check") if row[0] != "ok"]
    found += [f"a row of {row[0]} belongs to no entry" for row in book.execute("PRAGMA foreign_key_check")]
    if found:  # what cannot be trusted is not read
        return tuple(found)
    return tuple(line for entry in entries(book) for line in _of_entry(book, entry))


def _of_entry(book: Book, entry: Entry) -> Iterator[str]:
    places = {size.place for size in entry.sizes}
    rows = book.execute("SELECT DISTINCT size FROM change WHERE entry = ?", (entry.number,))
    if not {row[0] for row in rows} <= places | {0}:
        yield f"{entry.name}: a change of count is of no size that it has"
    for place in (0, *places):
        if count_of(entry, place) < 0:
            yield f"{entry.name}: there are {count_of(entry, place)} beads of size {place}"
    try:
        measured = read_measurement(measured_fields(book, entry), entry.name)
    except SizingError as error:
        yield f"{entry.name}: what was measured cannot be read ({error})"
        return
    if len(measured.sizes) != len(entry.sizes):
        yield f"{entry.name}: it has {len(entry.sizes)} sizes, its measurement {len(measured.sizes)}"
