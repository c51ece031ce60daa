"""JSON and CSV as text."""

import csv
import io
import json
import math
from collections.abc import Mapping, Sequence

from sizing.report.records.field import Record

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def to_json(record: Record) -> str:
    """Return a record as JSON text (RFC 8259, which has no NaN), ending in a line end."""
    return json.dumps(_plain(record), allow_nan=False, indent=2) + "\n"


def to_json_line(record: Record) -> str:
    """Return a record as one line of JSON: one of several records that come one after the other."""
    return json.dumps(_plain(record), allow_nan=False) + "\n"


def to_csv(rows: Sequence[Record]) -> str:
    """Return rows as a table for a spreadsheet (RFC 4180); all have the columns of the first.

    A text that a spreadsheet would run as a formula (a file may be named so) gets an apostrophe in front
    (OWASP, "CSV Injection"); numbers stay numbers.
    """
    stream = io.StringIO(newline="")
    if rows:
        writer = csv.DictWriter(stream, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows({name: _cell(value) for name, value in row.items()} for row in rows)
    return stream.getvalue()


def _plain(value: object) -> object:
    """Return a value made of JSON's own types; a size that is not a number becomes null."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        # Also numpy's, which are floats. A nanometre is finer than anything measured here.
        return round(float(value), 6) if math.isfinite(value) else None
    return value


def _cell(value: object) -> object:
    """Return a number to a micrometre, nothing where there is no number, and words with spaces between."""
    if isinstance(value, float):
        return f"{value:.3f}" if math.isfinite(value) else ""
    words = " ".join(map(str, value)) if isinstance(value, tuple) else value
    return f"'{words}" if isinstance(words, str) and words.startswith(_FORMULA_STARTS) else words
