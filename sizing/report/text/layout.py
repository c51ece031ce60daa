"""Lines, tables and sections of a text report."""

import textwrap
from collections.abc import Iterable, Sequence

_WIDTH = 100
_INDENT = "  "


def joined(sections: Iterable[Sequence[str]]) -> str:
    """Return sections as one text with an empty line between; those without lines are left out."""
    return "\n\n".join("\n".join(section) for section in sections if section) + "\n"


def section(title: str, lines: Iterable[str]) -> list[str]:
    """Return lines below their title, wrapped and indented; nothing where there are no lines."""
    wrapped = [wrap(line) for line in lines]
    return [title, *wrapped] if wrapped else []


def wrap(text: str) -> str:
    """Return a text indented, wrapped where it is long; words are never cut at their hyphens."""
    return textwrap.fill(
        text, _WIDTH, initial_indent=_INDENT, subsequent_indent=2 * _INDENT, break_on_hyphens=False
    )


def aligned(rows: Iterable[Sequence[str]]) -> list[str]:
    """Return a table as indented lines, its columns aligned to the left."""
    listed = list(rows)
    widths = [max(map(len, column)) for column in zip(*listed, strict=True)]
    return [_INDENT + "  ".join(map(str.ljust, row, widths)).strip() for row in listed]
