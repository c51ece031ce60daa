"""Keeps measurements of known sizes in the stash book, for tests."""

import json
from collections.abc import Sequence
from typing import Any

from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.lot.picks import Picks
from sizing.lot.sorting import sort_lot
from sizing.report.records.check import check_record
from sizing.report.records.lot import lot_record
from sizing.report.records.output import to_json
from sizing.report.records.strand import strand_record
from sizing.report.sentences.check import CheckedLot
from sizing.stash.book import writing
from sizing.stash.details import Details
from sizing.stash.entries import Entry
from sizing.stash.keep import keep
from sizing.strand.sized import size_strands
from tests.helpers.lots import lot_of
from tests.helpers.strands import make_strand

BLUE = (40, 60, 120)
Rgb = tuple[int, int, int]


def strand_fields(along_mm: Sequence[float], *, colour: Rgb = BLUE, **more: Any) -> dict[str, Any]:  # noqa: ANN401
    """Return what `strand --json` prints of a strand of these beads."""
    return _printed(strand_record(size_strands([make_strand(along_mm, colours=[colour], **more)], None)))


def lot_fields(widths_mm: Sequence[float]) -> dict[str, Any]:
    """Return what `lot --json` prints of these loose beads."""
    return _printed(lot_record(sort_lot(lot_of(widths_mm)), Picks()))


def check_fields(widths_mm: Sequence[float], label: str) -> dict[str, Any]:
    """Return what `check --json` prints of these loose beads."""
    lot, parsed = lot_of(widths_mm), parse_label(label)
    return _printed(check_record(CheckedLot(lot=lot, label=parsed, conformity=check_label(lot, parsed))))


def kept(
    name: str,
    along_mm: Sequence[float],
    *,
    colour: Rgb = BLUE,
    count: int | None = None,
    **said: Any,  # noqa: ANN401
) -> Entry:
    """Keep a strand of these beads."""
    with writing() as book:
        return keep(
            book, strand_fields(along_mm, colour=colour), details=Details(name=name, **said), count=count
        )


def _printed(record: dict[str, object]) -> dict[str, Any]:
    fields: dict[str, Any] = json.loads(to_json(record))
    return fields
