"""Kept beads as parts of a piece, with what is known of them."""

from dataclasses import replace

from sizing.piece.measured_beads import MeasuredBeads
from sizing.piece.parts import BeadPart
from sizing.stash.book import Book
from sizing.stash.entries import Entry, Size, measured_fields
from sizing.stash.measurement import nearest_size, read_measurement


def part_of(entry: Entry, size: Size) -> BeadPart:
    """Return the beads of one size of an entry as a part of a piece."""
    plain = BeadPart(along_mm=size.along_mm, across_mm=size.across_mm, rel_u95=size.rel_u95)
    return _described(plain, entry, size)


def beads_of(book: Book, entry: Entry) -> MeasuredBeads:
    """Return the beads of an entry as a piece takes them, in the order that they were measured in.

    Raises
    ------
    PieceError, StashError
        What was measured cannot be read any more.
    """
    measured = read_measurement(measured_fields(book, entry), entry.name)
    parts = tuple(_described(part, entry, nearest_size(entry.sizes, part)) for part in measured.parts.beads)
    return replace(measured.parts, beads=parts)


def _described(part: BeadPart, entry: Entry, size: Size) -> BeadPart:
    cost = entry.bead_cost if size.kind == "bead" else None
    return replace(
        part,
        name=entry.name,
        hole_mm=entry.details.hole_mm,
        material=entry.details.material,
        cost=None if cost is None else float(cost),
        have=size.count,
    )
