"""The count of an entry: the sum of its changes, of which none is ever altered."""

import uuid
from collections.abc import Sequence

from sizing.base.dates import today
from sizing.base.errors import StashError
from sizing.stash.book import Book
from sizing.stash.details import checked_line
from sizing.stash.entries import Change, Entry, find, pick_size
from sizing.stash.measurement import Measurement

MOST_COUNT = 1_000_000
"""Beads of one entry: 10 kg of seed beads; more is a mistyped count."""


def use(book: Book, entry: Entry, beads: int, *, size: int | None = None, why: str = "used") -> Entry:
    """Take beads out of an entry, as for a piece, and return it as it is then.

    Parameters
    ----------
    book : Book
        Open for `writing`.
    entry : Entry
        Read in the same block, so that nobody else has taken from it.
    beads : int
    size : int, optional, keyword-only
        The place of the size; needed where there are several.
    why : str, keyword-only

    Raises
    ------
    StashError
        There are not so many.
    """
    place = pick_size(entry, size)
    have = count_of(entry, place)
    if not 0 < beads <= have:
        what = f"size {place} of {entry.name}" if len(entry.sizes) > 1 else entry.name
        raise StashError(
            f"{beads} beads cannot be taken from {what}, which has {have}: take 1 to {have}, or "
            "put the count right with strandgauge stash recount"
        )
    return _changed(book, entry, new_change(place, -beads, why=why))


def recount(book: Book, entry: Entry, count: int, *, size: int | None = None, why: str = "counted") -> Entry:
    """Put the count of an entry right, and return it as it is then; arguments as of `use`.

    Raises
    ------
    StashError
        The count is out of reason.
    """
    place = pick_size(entry, size)
    if not 0 <= count <= MOST_COUNT:
        raise StashError(f"a count of {count} is out of reason: count again")
    return _changed(book, entry, new_change(place, count - count_of(entry, place), why=why))


def count_of(entry: Entry, place: int) -> int:
    """Return how many beads of a size there are; of place 0, those that belong to none."""
    sized = {size.place: size.count for size in entry.sizes}
    beads = sum(size.count for size in entry.sizes if size.kind == "bead")
    return sized.get(place, entry.count - beads)


def first_changes(measured: Measurement, count: int | None) -> tuple[Change, ...]:
    """Return the changes that a new entry begins with: so many beads of each size, the rest of none; spacers.

    Raises
    ------
    StashError
        There are fewer than were measured of several sizes: nobody knows which are missing.
    """
    sized = {size.place: size.measured for size in measured.sizes if size.kind == "bead"}
    spacers = {size.place: size.measured for size in measured.sizes if size.kind == "spacer"}
    total = measured.count if count is None else count
    rest = total - sum(sized.values())
    if not 0 < total <= MOST_COUNT:
        raise StashError(f"a count of {total} is out of reason: count again")
    if len(sized) == 1:
        sized = dict.fromkeys(sized, total)
    elif rest < 0:
        raise StashError(
            f"{total} beads are fewer than the {total - rest} that were measured of {len(sized)} sizes: keep "
            "them all, then put each size right with strandgauge stash recount"
        )
    elif rest:
        sized[0] = rest
    return tuple(
        new_change(place, beads, why="kept") for place, beads in {**sized, **spacers}.items() if beads
    )


def new_change(place: int, beads: int, *, why: str) -> Change:
    """Return a change of today.

    Raises
    ------
    StashError
        The reason is too long.
    """
    return Change(
        uuid=str(uuid.uuid4()), size=place, beads=beads, date=today(), why=checked_line("reason", why)
    )


def insert_changes(book: Book, number: int, changes: Sequence[Change]) -> None:
    """Write changes of an entry."""
    book.executemany(
        "INSERT INTO change (uuid, entry, size, beads, date, why) VALUES (?, ?, ?, ?, ?, ?)",
        [(each.uuid, number, each.size, each.beads, each.date, each.why) for each in changes],
    )


def _changed(book: Book, entry: Entry, change: Change) -> Entry:
    insert_changes(book, entry.number, [change])
    return find(book, entry.number)
