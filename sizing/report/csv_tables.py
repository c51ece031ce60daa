"""Measurements as a table for a spreadsheet: one row a bead (RFC 4180, UTF-8)."""

import csv
import io
import math
from collections.abc import Iterable, Mapping, Sequence

from vision.common.records import LooseBead, Lot, Strand, StrandBead

Row = Mapping[str, object]


def strand_csv(strand: Strand) -> str:
    """Return a strand's beads in order; a size that could not be measured is an empty cell."""
    return to_csv(_strand_row(bead) for bead in strand.beads)


def lot_csv(lot: Lot, more: Sequence[Row] | None = None) -> str:
    """Return a lot's beads photo by photo, with more columns where given, a mapping a bead."""
    return to_csv(
        {**_loose_row(bead), **extra}
        for bead, extra in zip(lot.beads, more or [{}] * len(lot.beads), strict=True)
    )


def to_csv(rows: Iterable[Row]) -> str:
    """Return rows as a table; all have the columns of the first."""
    listed = list(rows)
    stream = io.StringIO(newline="")
    if listed:
        writer = csv.DictWriter(stream, fieldnames=list(listed[0]))
        writer.writeheader()
        writer.writerows({name: _cell(value) for name, value in row.items()} for row in listed)
    return stream.getvalue()


def _strand_row(bead: StrandBead) -> Row:
    return {
        "number": bead.number,
        "across_mm": bead.across_mm,
        "across_u95_mm": bead.across_u95_mm,
        "along_mm": bead.along_mm,
        "along_u95_mm": bead.along_u95_mm,
        "gap_after_mm": bead.gap_after_mm,
        **_looks(bead),
    }


def _loose_row(bead: LooseBead) -> Row:
    return {
        "photo": bead.photo,
        "number": bead.number,
        "max_feret_mm": bead.max_feret_mm,
        "max_feret_u95_mm": bead.max_feret_u95_mm,
        "min_feret_mm": bead.min_feret_mm,
        "min_feret_u95_mm": bead.min_feret_u95_mm,
        **_looks(bead),
    }


def _looks(bead: StrandBead | LooseBead) -> Row:
    x, y = bead.centre_px
    return {
        "x_px": x,
        "y_px": y,
        "colour": "#{:02x}{:02x}{:02x}".format(*bead.colour_rgb),
        "flags": " ".join(bead.flags),
    }


def _cell(value: object) -> object:
    """Return a micrometre's worth of decimals, or nothing where there is no number."""
    if isinstance(value, float):
        return f"{value:.3f}" if math.isfinite(value) else ""
    return value
