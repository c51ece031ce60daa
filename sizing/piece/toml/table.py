"""Takes the keys of a TOML table one by one; every complaint names the line and the key."""

import difflib
import functools
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sizing.base.errors import PieceError
from sizing.base.printable import printable
from sizing.base.units import parse_length

if TYPE_CHECKING:  # the reader takes its time to import, and is needed for piece files alone
    from sizing.piece.toml.document import Document, Place

_MOST = 10_000  # of a count: well over the beads of any piece; common practice, no source
_SHOWN_LETTERS = 40  # of what somebody wrote, so that a message stays one line


@dataclass(slots=True, kw_only=True)
class Table:
    r"""One table; keys are taken from it one by one, and `close` complains about those left.

    Attributes
    ----------
    document : Document
        The text it stands in.
    place : Place
        Where it stands; empty for the top of the text.
    values : dict

    Examples
    --------
    >>> from sizing.piece.toml.document import read_document
    >>> document = read_document('[wire]\ntail = "5 cm"\nlop = 3\n', name="bracelet.toml")
    >>> wire = Table(document=document, values=document.values).table("wire")
    >>> wire.length("tail"), wire.length("loop")
    (50.0, None)
    >>> wire.close()
    Traceback (most recent call last):
    sizing.base.errors.PieceError: bracelet.toml, line 3, [wire] lop: unknown key; did you mean loop?
    """

    document: "Document"
    values: dict[str, object]
    place: "Place" = ()
    _known: list[str] = field(default_factory=list)

    def fail(self, key: str, problem: str) -> PieceError:
        """Make the error about a key of this table."""
        line = self.document.line_of((*self.place, key))
        table = ".".join(_shown_key(part) for part in self.place if isinstance(part, str))
        place = f"[{table}] {_shown_key(key)}" if table else _shown_key(key)
        return PieceError(f"{self.document.name}, line {line}, {place}: {problem}")

    def has(self, key: str) -> bool:
        """Return whether a key is given."""
        return key in self.values

    def length(self, key: str, *, allow_zero: bool = False) -> float | None:
        """Take a length with its unit, in mm; None where not given."""
        return self.read(key, functools.partial(parse_length, allow_zero=allow_zero))

    def read(self, key: str, parse: Callable[[str], float]) -> float | None:
        """Take a text that says a length, which `parse` returns in mm; None where not given."""
        value = self._take(key)
        if value is None:
            return None
        if not isinstance(value, str):
            raise self.fail(key, f'{_shown(value)} has no unit: write it in quotes, as in {key} = "6 mm"')
        try:
            return parse(value)
        except ValueError as error:
            raise self.fail(key, str(error)) from error

    def number(self, key: str, *, below: float = math.inf) -> float | None:
        """Take a number from zero up to, but not including, `below`; None where not given."""
        value = self._take(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.fail(key, f"{_shown(value)} is not a number: write it without quotes and units")
        if not 0 <= value < below:
            limit = "" if below == math.inf else f" and less than {below:g}"
            raise self.fail(key, f"{value} is out of range: it must be at least 0{limit}")
        return float(value)

    def count(self, key: str, default: int, *, least: int = 1, most: int = _MOST) -> int:
        """Take a whole number."""
        value = self._take(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise self.fail(key, f"{_shown(value)} does not fit: write a whole number from {least} to {most}")
        return value

    def text(self, key: str) -> str:
        """Take a text, on one line and printable; empty where not given."""
        value = self._take(key)
        if value is None:
            return ""
        if not isinstance(value, str):
            raise self.fail(key, f'{_shown(value)} is not a text: write it in quotes, as in {key} = "blue"')
        return printable(value)

    def flag(self, key: str, *, default: bool) -> bool:
        """Take true or false."""
        value = self._take(key)
        if value is None:
            return default
        if not isinstance(value, bool):
            raise self.fail(key, f"{_shown(value)} does not fit: write true or false, without quotes")
        return value

    def choice(self, key: str, allowed: Sequence[str], *, default: str | None = None) -> str:
        """Take one of several words; required where there is no default."""
        value = self._take(key)
        if value is None:
            if default is not None:
                return default
            for near in difflib.get_close_matches(key, self.values, n=1):
                raise self._unknown(near, meant=key)
        if value not in allowed:
            found = "it is missing" if value is None else f"{_shown(value)} does not fit"
            raise self.fail(key, f"{found}: write one of {', '.join(allowed)}")
        return str(value)

    def tables(self, key: str) -> "list[Table]":
        """Take the tables `[[key]]` inside this one, in order; none where not given."""
        value = self._take(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.fail(key, f"write it as tables, each under a line [[{key}]]")
        places = [(*self.place, key, at) for at in range(len(value))]
        return [
            Table(document=self.document, values=item, place=place)
            for item, place in zip(value, places, strict=True)
        ]

    def table(self, key: str) -> "Table":
        """Take the table `[key]` inside this one; an empty one where not given."""
        value = self._take(key)
        if not isinstance(value, dict | None):
            raise self.fail(key, f"write it as a table, under a line [{key}]")
        return Table(document=self.document, values=value or {}, place=(*self.place, key))

    def close(self) -> None:
        """Complain about the first key that nobody took."""
        for key in self.values:
            if key not in self._known:
                near = difflib.get_close_matches(key, self._known, n=1)
                raise self._unknown(key, meant=near[0] if near else "")

    def _unknown(self, key: str, *, meant: str) -> PieceError:
        hint = f"did you mean {meant}?" if meant else f"the keys here are {', '.join(self._known)}"
        return self.fail(key, f"unknown key; {hint}")

    def _take(self, key: str) -> object:
        self._known.append(key)
        return self.values.get(key)


def _shown(value: object) -> str:
    """Return what was written, fit for one line of a message."""
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, bool):
        return str(value).lower()
    return _short(repr(value) if isinstance(value, str) else str(value))


def _shown_key(key: str) -> str:
    return _short(key if re.fullmatch(r"[\w-]+", key) else repr(key))


def _short(text: str) -> str:
    return text if len(text) <= _SHOWN_LETTERS else f"{text[: _SHOWN_LETTERS - 3]}..."
