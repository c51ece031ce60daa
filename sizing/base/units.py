"""Reads lengths as people type them, prints them as people read them, and holds the one registry of units.

A general unit library misreads how makers write: it takes `7 1/4 in` for seven quarters. So the number
is read by a small grammar of our own, and only the conversion is left to the library.
"""

import math
import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from sizing.base.typed_mm import TypedMm, is_in_inches

if TYPE_CHECKING:
    import pint

_INCH_MM = 25.4
"""International yard and pound agreement, 1959."""
# Defined here, not loaded: reading the library's full list takes a tenth of a second. With the
# millimetre as base unit an inch is exactly 25.4 mm, without a rounding error.
_DEFINITIONS = (
    "millimetre = [length] = mm",
    "centimetre = 10 * millimetre = cm",
    "metre = 1000 * millimetre = m",
    f"inch = {_INCH_MM} * millimetre = in",
    "foot = 12 * inch = ft",
    "gram = [mass] = g",
    "carat = 0.2 * gram = ct",  # 4th CGPM, 1907
)
_SPELLINGS = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "inch": ("in", "in.", "inch", "inches", '"', "''"),
    "ft": ("ft", "ft.", "foot", "feet", "'"),
}
_UNIT_OF = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings}
# Phones and word processors turn typed quotes and dashes into these characters.
_LOOKALIKES = str.maketrans(
    dict.fromkeys("″”“„‟〃", '"') | dict.fromkeys("′’‘‛`´", "'") | dict.fromkeys("−–", "-")  # noqa: RUF001
)
# Also the raised digits of a fraction that was copied from a page: 7 and a half must not read 71/2.
_FRACTION_SIGN = re.compile("([¼½¾⅐-⅟↉]|[⁰¹²³⁴-⁹]+)")
# A comma is a decimal comma before one or two digits only: `1,234 mm` could mean a thousand.
_DECIMAL = r"(?P<decimal>[0-9]+(?:\.[0-9]*|,[0-9]{1,2})?|\.[0-9]+)"
_FRACTION = r"(?:(?P<whole>[0-9]+)[ -]+)?(?P<above>[0-9]+) ?/ ?(?P<below>[0-9]+)"
_TERM = re.compile(rf" *(?:{_FRACTION}|{_DECIMAL}) *(?P<unit>[a-z]+\.?|''|[\"'])? *")
_EXAMPLES = '7mm, 6.5in or "6 1/2 in"'
_LONGEST_MM = 1e6  # catches slips of the keyboard, at half or double too: no piece comes near a kilometre


_inches_first: ContextVar[bool] = ContextVar("inches first", default=False)


@cache
def _registry() -> "pint.UnitRegistry[float]":
    import pint  # noqa: PLC0415 - takes a tenth of a second; who types millimetres need not wait for it

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry


def converted(value: float, unit: str, to: str) -> float:
    """Return a number of one unit as a number of another.

    Examples
    --------
    >>> converted(2.0, "inch", "mm")
    50.8
    """
    return value if unit == to else float(_registry().convert(value, unit, to))


@contextmanager
def printed_as(value_mm: float | None) -> Iterator[None]:
    """Print lengths in inches first, as long as this lasts, where this one was typed in inches.

    Examples
    --------
    >>> with printed_as(parse_length("6 1/2 in")):
    ...     format_length(234.6, 0.4)
    '9 1/4 in (234.6 ± 0.4 mm)'
    """
    token = _inches_first.set(is_in_inches(value_mm))
    try:
        yield
    finally:
        _inches_first.reset(token)


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedLength:
    """A length as somebody typed it.

    Attributes
    ----------
    value_mm : TypedMm
    resolution_mm : float
        One unit of the last digit typed: 1 for `273mm`, 0.1 for `27.30 cm`; of a fraction, one part
        of the inch that it divides: 25.4 / 4 for `10 3/4 in`.
    """

    value_mm: TypedMm
    resolution_mm: float


def parse_length(text: str, *, allow_zero: bool = False) -> float:
    """Read a length that carries its unit; return it in mm, as a number that remembers how it was typed.

    Parameters
    ----------
    text : str
        A decimal (`6.5`, `6,5`) or a fraction (`1/4`, `6 1/2`, `6-1/2`, `7¼`), then a unit: mm, cm, m,
        in, `"`, ft or `'`. Feet may be followed by inches (`1' 6"`).
    allow_zero : bool, keyword-only

    Raises
    ------
    ValueError
        In one line: the unit is missing, the text is not a length, or the length is zero or negative.

    Examples
    --------
    >>> parse_length("6 1/2 in")
    165.1
    >>> parse_length("7")
    Traceback (most recent call last):
    ValueError: 7 has no unit: write 7mm, 7cm or 7in
    """
    return read_length(text, allow_zero=allow_zero).value_mm


def read_length(text: str, *, allow_zero: bool = False) -> TypedLength:
    """Read a length as `parse_length` does, and the resolution it was typed with.

    Examples
    --------
    >>> read_length("27.30 cm")
    TypedLength(value_mm=273.0, resolution_mm=0.1)
    """
    tidy, shown = _tidy(text), _shown(text)
    smallest = "zero or more" if allow_zero else "more than zero"
    if tidy.startswith("-"):
        raise ValueError(f"{shown} is negative: a length must be {smallest}")
    terms = _terms(tidy, shown)
    value_mm = sum(term.value_mm for term in terms)
    if not value_mm <= _LONGEST_MM:
        raise ValueError(f"{shown} is too long: a length is at most 1000 m, check its unit")
    if value_mm == 0 and not allow_zero:
        raise ValueError(f"{shown} is zero: a length must be more than zero")
    in_inches = any(is_in_inches(term.value_mm) for term in terms)
    typed = TypedMm(value_mm, typed=" ".join(text.split()), in_inches=in_inches)
    return TypedLength(value_mm=typed, resolution_mm=terms[-1].resolution_mm)


def _tidy(text: str) -> str:
    """Rewrite a typed length in plain lower-case characters: ASCII quotes, `7 1/4` for `7¼`."""
    plain = _FRACTION_SIGN.sub(r" \1", text.translate(_LOOKALIKES))
    plain = unicodedata.normalize("NFKC", plain).replace("\N{FRACTION SLASH}", "/")
    return " ".join(plain.lower().split())


def _shown(text: str) -> str:
    """Return what was typed, shortened to fit into one line of a message."""
    line = " ".join(text.split())
    return line if len(line) <= 40 else f"{line[:37]}..."


def _terms(tidy: str, shown: str) -> list[TypedLength]:
    """Read a length of one term (`7mm`), or of two: feet followed by inches.

    `tidy` is read, `shown` stands in messages.
    """
    matches: list[re.Match[str]] = []
    at = 0
    while match := _TERM.match(tidy, at):
        matches.append(match)
        at = match.end()
    units = [match["unit"] for match in matches]
    if at == len(tidy) and units == [None]:
        raise ValueError(f"{shown} has no unit: write {shown}mm, {shown}cm or {shown}in")
    known = [_UNIT_OF.get(unit or "") for unit in units]
    if at != len(tidy) or None in known or (len(known) != 1 and known != ["ft", "inch"]):
        raise ValueError(f"{shown!r} is not a length: write it like {_EXAMPLES}")
    if any(match["below"] and not int(match["below"]) for match in matches):
        raise ValueError(f"{shown} divides by zero: write it like {_EXAMPLES}")
    return [_term(match, unit or "") for match, unit in zip(matches, known, strict=True)]


def _term(match: re.Match[str], unit: str) -> TypedLength:
    """Convert one number with its unit to mm."""
    unit_mm = converted(1.0, unit, "mm")
    if match["decimal"]:
        text = match["decimal"].replace(",", ".")
        number, resolution = float(text), 10.0 ** -len(text.partition(".")[2])
    else:
        below = float(match["below"])
        number, resolution = float(match["whole"] or 0) + float(match["above"]) / below, 1 / below
    value_mm = TypedMm(number * unit_mm, typed=match[0].strip(), in_inches=unit in {"inch", "ft"})
    return TypedLength(value_mm=value_mm, resolution_mm=resolution * unit_mm)


def format_mm(value_mm: float, u95_mm: float | None = None, *, decimals: int = 1) -> str:
    """Print a length in mm, with its expanded uncertainty where it has one.

    The uncertainty keeps one significant digit, or two where the first is a 1 or a 2, so that rounding
    changes it by a sixth at most. The value stops at the same decimal (JCGM 100:2008, 7.2.6).

    Parameters
    ----------
    decimals : int, keyword-only
        Decimals of a length without uncertainty.

    Examples
    --------
    >>> format_mm(234.555, 0.41), format_mm(6.304, 0.14), format_mm(8)
    ('234.6 ± 0.4 mm', '6.30 ± 0.14 mm', '8.0 mm')
    """
    if not math.isfinite(value_mm):
        return "not measured"
    if u95_mm is None or not math.isfinite(u95_mm) or u95_mm <= 0:
        return f"{_plain(value_mm, decimals)} mm"
    places = _places(u95_mm)
    return f"{_plain(value_mm, places)} ± {_plain(u95_mm, places)} mm"


def _places(u95_mm: float) -> int:
    """Return the decimals that leave an uncertainty one or two significant digits, 0 to 3 of them."""
    leading = math.floor(math.log10(u95_mm))
    # 2.95 and more are printed as a 3.
    places = -leading + (1 if u95_mm / 10.0**leading < 2.95 else 0)
    return min(max(places, 0), 3)


def _plain(value: float, decimals: int) -> str:
    """Print with fixed decimals, halves rounded away from zero; minus zero is printed as zero."""
    # A quarter inch is 6.35 mm, which as a binary number is slightly less and would round down.
    nudged = value + math.copysign(10.0 ** -(decimals + 6), value)
    return f"{round(nudged, decimals) + 0.0:.{decimals}f}"


def format_inches(value_mm: float) -> str:
    """Print a length as a ruler shows it, to the nearest sixteenth of an inch.

    Examples
    --------
    >>> format_inches(234.6)
    '9 1/4 in'
    """
    if not math.isfinite(value_mm):
        return "not measured"
    sixteenths = round(value_mm / _INCH_MM * 16)
    nearest = Fraction(sixteenths, 16)
    whole, rest = divmod(abs(nearest), 1)
    parts = [str(whole)] if whole or not rest else []
    parts += [f"{rest.numerator}/{rest.denominator}"] if rest else []
    return f"{'-' if nearest < 0 else ''}{' '.join(parts)} in"


def format_pair(value_mm: float, u95_mm: float | None = None) -> tuple[str, str]:
    """Print a length in mm and in inches, or in inches and in mm: see `printed_as`.

    Examples
    --------
    >>> format_pair(234.6, 0.4)
    ('234.6 ± 0.4 mm', '9 1/4 in')
    """
    pair = format_mm(value_mm, u95_mm), format_inches(value_mm)
    return (pair[1], pair[0]) if _inches_first.get() else pair


def format_length(value_mm: float, u95_mm: float | None = None) -> str:
    """Print a length in both units, the second in brackets: see `printed_as`.

    Examples
    --------
    >>> format_length(234.6, 0.4)
    '234.6 ± 0.4 mm (9 1/4 in)'
    """
    if not math.isfinite(value_mm):
        return "not measured"
    first, second = format_pair(value_mm, u95_mm)
    return f"{first} ({second})"
