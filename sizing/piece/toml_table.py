"""Reads the tables of a TOML file key by key; every complaint names the line and the key."""

import difflib
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field

from sizing.base.errors import PieceError
from sizing.base.units import parse_length

_HEADER = re.compile(r"\s*(\[\[?)\s*([\w\"'. -]+?)\s*\]\]?\s*(?:#.*)?$")


@dataclass(frozen=True, slots=True)
class Source:
    """A TOML file's name and text, to say where something stands."""

    name: str
    text: str

    def parsed(self) -> dict[str, object]:
        """Parse the text.

        Raises
        ------
        PieceError
            It is no TOML; the parser's own message names line and column.
        """
        try:
            return tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as error:
            raise PieceError(
                f"{self.name}: {error}; texts and lengths belong in quotes, numbers begin with a digit"
            ) from error

    def line_of(self, table: str, index: int, key: str) -> int:
        """Return the line of a key, or of its table's header where the key is not found; 1 at least."""
        inside, seen, header_line = table == "", -1, 1
        for number, line in enumerate(self.text.splitlines(), start=1):
            if header := _HEADER.match(line):
                if not table and header[2] == key:
                    return number
                seen += header[2] == table
                inside = header[2] == table and seen == index
                header_line = number if inside else header_line
            elif inside and re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=", line):
                return number
        return header_line


@dataclass(slots=True)
class Table:
    """One table; keys are taken from it one by one, and `close` complains of those left.

    Attributes
    ----------
    source : Source
    name : str
        Empty for the top of the file.
    values : dict
    index : int
        Which of several tables of this name, from 0.
    """

    source: Source
    name: str
    values: dict[str, object]
    index: int = 0
    _known: list[str] = field(default_factory=list)

    def fail(self, key: str, problem: str) -> PieceError:
        """Make the error about a key of this table."""
        line = self.source.line_of(self.name, self.index, key)
        place = f"[{self.name}] {key}" if self.name else key
        return PieceError(f"{self.source.name}, line {line}, {place}: {problem}")

    def has(self, key: str) -> bool:
        """Tell whether a key is given."""
        return key in self.values

    def length(self, key: str, *, allow_zero: bool = False) -> float | None:
        """Take a length with its unit, in mm; None where not given."""
        value = self._take(key)
        if value is None:
            return None
        if not isinstance(value, str):
            raise self.fail(key, f'{value} has no unit: write it in quotes, as in {key} = "{value} mm"')
        try:
            return parse_length(value, allow_zero=allow_zero)
        except ValueError as error:
            raise self.fail(key, str(error)) from error

    def number(self, key: str, *, below: float = float("inf")) -> float | None:
        """Take a number from zero up to, but not including, `below`; None where not given."""
        value = self._take(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.fail(key, f"{value!r} is no number: write it without quotes and units")
        if not 0 <= value < below:
            limit = "" if below == float("inf") else f" and less than {below:g}"
            raise self.fail(key, f"{value} is out of range: it must be at least 0{limit}")
        return float(value)

    def count(self, key: str, default: int, *, least: int = 1) -> int:
        """Take a whole number."""
        value = self._take(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= 10_000:
            raise self.fail(key, f"{value!r} is no count: write a whole number from {least} to 10000")
        return value

    def text(self, key: str, default: str = "") -> str:
        """Take a text."""
        value = self._take(key)
        if value is None:
            return default
        if not isinstance(value, str):
            raise self.fail(key, f'{value} is no text: write it in quotes, as in {key} = "{value}"')
        return value

    def flag(self, key: str, *, default: bool) -> bool:
        """Take true or false."""
        value = self._take(key)
        if value is None:
            return default
        if not isinstance(value, bool):
            raise self.fail(key, f"{value!r} is neither true nor false: write one of them without quotes")
        return value

    def choice(self, key: str, allowed: Sequence[str], default: str | None = None) -> str:
        """Take one of several words; required where there is no default."""
        value = self._take(key)
        if value is None and default is not None:
            return default
        if value not in allowed:
            found = f"{value!r} is not one of them" if value is not None else "it is missing"
            raise self.fail(key, f"{found}: write one of {', '.join(allowed)}")
        return str(value)

    def tables(self, key: str) -> "list[Table]":
        """Take the tables `[[key]]` inside this one, in order; none where not given."""
        value = self._take(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.fail(key, f"write it as tables, each under a line [[{key}]]")
        return [Table(self.source, key, item, index) for index, item in enumerate(value)]

    def table(self, key: str) -> "Table":
        """Take the table `[key]` inside this one; an empty one where not given."""
        value = self._take(key)
        if not isinstance(value, dict | None):
            raise self.fail(key, f"write it as a table, under a line [{key}]")
        return Table(self.source, key, value or {})

    def close(self) -> None:
        """Complain of the first key that nobody took."""
        for key in self.values:
            if key not in self._known:
                near = difflib.get_close_matches(key, self._known, n=1)
                hint = f"did you mean {near[0]}?" if near else f"known are {', '.join(self._known)}"
                raise self.fail(key, f"there is no such key here; {hint}")

    def _take(self, key: str) -> object:
        self._known.append(key)
        return self.values.get(key)
