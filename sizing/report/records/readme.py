"""The README's table of fields, made of their declarations."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sizing.report.records import check, lot, plan, stash, strand
from sizing.report.records.field import Field, Fields
from sizing.report.records.photo import left_out

DOCUMENTS: dict[str, Fields[Any]] = {
    "strand": (*strand.DOCUMENT, left_out(lambda each: [each])),
    "lot": lot.DOCUMENT,
    "check": check.DOCUMENT,
    "plan": plan.DOCUMENT,
    **stash.DOCUMENTS,
}
"""What each command prints, by its name."""

Words = tuple[tuple[str, str], ...]
"""Names and meanings of a record's fields: where they are the same, the fields are."""

_HEAD = ("field", "printed by", "unit", "meaning")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A row of the table: one field, or several that share a meaning."""

    fields: tuple[Field[Any], ...]
    path: str
    seen_at: str = ""

    @property
    def names(self) -> str:
        """Name the fields, the first with where it stands."""
        return ", ".join([f"`{self.path}`", *(f"`.{each.name}`" for each in self.fields[1:])])

    @property
    def meaning(self) -> str:
        """Say what they mean, and in which outputs they stand."""
        first = self.fields[0]
        same = f"; fields as in `{self.seen_at}`" if self.seen_at else ""
        csv = "; also in CSV" if first.json and first.csv else "; CSV only" if first.csv else ""
        return first.meaning + same + csv


def field_table() -> str:
    """Return the table in Markdown, without a line end behind its last row."""
    rows: dict[_Row, list[str]] = {}
    for command, document in DOCUMENTS.items():
        for each in _rows(document, prefix="", seen={}):
            same = next((row for row in rows if (row.names, row.meaning) == (each.names, each.meaning)), each)
            rows.setdefault(same, []).append(command)
    tops = list(dict.fromkeys(_top(row.path) for row in rows))
    lines = [
        (row.names, ", ".join(commands), row.fields[0].unit_or_suffix, row.meaning)
        for row, commands in sorted(rows.items(), key=lambda item: tops.index(_top(item[0].path)))
    ]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in (_HEAD, ("---",) * len(_HEAD), *lines))


def _rows(fields: Fields[Any], *, prefix: str, seen: dict[Words, str]) -> Iterator[_Row]:
    """Yield a row for each field, and below it those of its own fields where they are not yet described."""
    for group in _groups(fields):
        first = group[0]
        path = f"{prefix}{first.name}{'[]' if first.many else ''}"
        words = _words(first.fields or ())
        seen_at = next((at for known, at in seen.items() if words and set(words) <= set(known)), "")
        yield _Row(fields=group, path=path, seen_at=seen_at)
        if first.fields and not seen_at:
            seen[words] = path
            yield from _rows(first.fields, prefix=f"{path}.", seen=seen)


def _groups(fields: Fields[Any]) -> Iterator[Fields[Any]]:
    """Yield each field that has a meaning with those after it that share it."""
    at = [i for i, each in enumerate(fields) if each.meaning]
    return (fields[start:end] for start, end in zip(at, [*at[1:], len(fields)], strict=True))


def _words(fields: Fields[Any]) -> Words:
    return tuple((each.name, each.meaning) for each in fields)


def _top(path: str) -> str:
    return path.partition(".")[0].removesuffix("[]")
