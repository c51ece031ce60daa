"""The one unit registry: reads lengths as people type them, prints them as people read them.

A general unit library misreads the trade's own spelling (`7 1/4 in` becomes seven quarters), so the
number has a small grammar of its own here and only the conversion is left to the registry.
"""

import math
import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

import pint

# Defined here, not loaded: the library's full list takes a tenth of a second to read, and with the
# millimetre as base an inch is 25.4 mm to the last bit.
registry: pint.UnitRegistry[float] = pint.UnitRegistry(None)
for _definition in (
    "millimetre = [length] = mm",
    "centimetre = 10 * millimetre = cm",
    "metre = 1000 * millimetre = m",
    "inch = 25.4 * millimetre = in",  # international yard and pound agreement, 1959
    "foot = 12 * inch = ft",
    "gram = [mass] = g",
    "carat = 0.2 * gram = ct",  # 4th CGPM, 1907
    "pearl_grain = 0.05 * gram",
    "momme = 3.75 * gram",
):
    registry.define(_definition)

_SPELLINGS = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "inch": ("in", "in.", "inch", "inches", '"', "''"),
    "ft": ("ft", "ft.", "foot", "feet", "'"),
}
_UNIT_OF = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings}
# Phones and word processors turn typed quotes and dashes into these.
_LOOKALIKES = str.maketrans(
    dict.fromkeys("″”“„‟〃", '"') | dict.fromkeys("′’‘‛`´", "'") | dict.fromkeys("−–", "-")  # noqa: RUF001
)
_VULGAR = re.compile("([¼½¾⅐-⅞])")
_DECIMAL = r"(?P<decimal>[0-9]+(?:\.[0-9]*|,[0-9]{1,2})?|\.[0-9]+)"
_FRACTION = r"(?:(?P<whole>[0-9]+)[ -]+)?(?P<above>[0-9]+) ?/ ?(?P<below>[0-9]+)"
_TERM = re.compile(rf" *(?:{_FRACTION}|{_DECIMAL}) *(?P<unit>[a-z]+\.?|''|[\"'])? *")
_EXAMPLES = '7mm, 0.5 cm, 6 1/2 in or 6.5"'
_LONGEST_MM = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedLength:
    """A length as somebody typed it.

    Attributes
    ----------
    value_mm : float
    resolution_mm : float
        One unit of the last digit typed, or of the fraction's denominator.
    """

    value_mm: float
    resolution_mm: float


def parse_length(text: str, *, allow_zero: bool = False) -> float:
    """Read a length that carries its unit, in mm.

    Understood are decimals (`6.5`, `6,5`), fractions (`1/4`, `6 1/2`, `6-1/2`, `7¼`), the units mm,
    cm, m, in, `"`, ft, `'`, and feet with inches (`1' 6"`).

    Raises
    ------
    ValueError
        In one line: no unit, no length, or not more than zero.
    """
    return read_length(text, allow_zero=allow_zero).value_mm


def typed_resolution_mm(text: str) -> float:
    """Return the resolution that the typing implies, in mm: 1 for `273mm`, 0.1 for `27.30 cm`.

    Raises
    ------
    ValueError
        As `parse_length`.
    """
    return read_length(text, allow_zero=True).resolution_mm


def read_length(text: str, *, allow_zero: bool = False) -> TypedLength:
    """Read a length and the resolution it was typed with; see `parse_length`."""
    tidy = _tidy(text)
    shown = _shown(text)
    if tidy.startswith("-"):
        raise ValueError(f"{shown} is less than nothing: a length must be more than zero")
    terms = _terms(tidy, shown)
    value_mm = sum(term.value_mm for term in terms)
    if not value_mm <= _LONGEST_MM:
        raise ValueError(f"{shown} is longer than any strand: at most 1000 m")
    if value_mm == 0 and not allow_zero:
        raise ValueError(f"{shown} is nothing: a length must be more than zero")
    return TypedLength(value_mm=value_mm, resolution_mm=terms[-1].resolution_mm)


def _tidy(text: str) -> str:
    """Spell a typed length in plain characters: ASCII quotes, `7 1/4` for `7¼`, lower case."""
    plain = _VULGAR.sub(r" \1", text.translate(_LOOKALIKES))
    plain = unicodedata.normalize("NFKC", plain).replace("\N{FRACTION SLASH}", "/")
    return " ".join(plain.lower().split())


def _shown(text: str) -> str:
    """Return what was typed, fit for one line of a message."""
    line = " ".join(text.split())
    return line if len(line) <= 40 else f"{line[:37]}..."


def _terms(tidy: str, shown: str) -> list[TypedLength]:
    """Read the one term of a length, or its two where feet are followed by inches."""
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
        raise ValueError(f"{shown!r} is no length: write it like {_EXAMPLES}")
    return [_term(match, unit or "", shown) for match, unit in zip(matches, known, strict=True)]


def _term(match: re.Match[str], unit: str, shown: str) -> TypedLength:
    """Convert one number with its unit; `shown` is for the message."""
    unit_mm = float(registry.convert(1.0, unit, "mm"))
    if match["decimal"]:
        number = match["decimal"].replace(",", ".")
        decimals = len(number.partition(".")[2])
        return TypedLength(value_mm=float(number) * unit_mm, resolution_mm=10.0**-decimals * unit_mm)
    below = float(match["below"])
    if below == 0:
        raise ValueError(f"{shown} divides by zero: write it like {_EXAMPLES}")
    number_in_unit = float(match["whole"] or 0) + float(match["above"]) / below
    return TypedLength(value_mm=number_in_unit * unit_mm, resolution_mm=unit_mm / below)


def format_mm(value_mm: float, u95_mm: float | None = None, *, decimals: int = 1) -> str:
    """Print a length in mm, with its expanded uncertainty where it has one: `234.6 ± 0.4 mm`.

    The uncertainty keeps one significant digit, two where the first is a 1 or a 2 (a rounding of
    at most a sixth of it), and the value stops at the same place (JCGM 100:2008, 7.2.6).

    Parameters
    ----------
    decimals : int, keyword-only
        Decimals of a length without uncertainty.
    """
    if not math.isfinite(value_mm):
        return "not measured"
    if u95_mm is None or not math.isfinite(u95_mm) or u95_mm <= 0:
        return f"{_plain(value_mm, decimals)} mm"
    places = _places(u95_mm)
    return f"{_plain(value_mm, places)} ± {_plain(u95_mm, places)} mm"


def _places(u95_mm: float) -> int:
    """Decimals that leave an uncertainty one or two significant digits; 0 to 3."""
    leading = math.floor(math.log10(u95_mm))
    places = -leading + (1 if u95_mm / 10.0**leading < 2.95 else 0)
    return min(max(places, 0), 3)


def _plain(value: float, decimals: int) -> str:
    """Print with fixed decimals, halves rounded away from zero, without the minus sign of a zero."""
    # A quarter inch, 6.35 mm, lies a hair below its half as a binary number.
    nudged = value + math.copysign(10.0 ** -(decimals + 6), value)
    return f"{round(nudged, decimals) + 0.0:.{decimals}f}"


def format_inches(value_mm: float, denominator: int = 16) -> str:
    """Print a length as a ruler shows it, to the nearest fraction of an inch: `9 1/4 in`."""
    if not math.isfinite(value_mm):
        return "not measured"
    nearest = Fraction(round(float(registry.convert(value_mm, "mm", "inch")) * denominator), denominator)
    whole, rest = divmod(abs(nearest), 1)
    parts = [str(whole)] if whole or not rest else []
    parts += [f"{rest.numerator}/{rest.denominator}"] if rest else []
    return f"{'-' if nearest < 0 else ''}{' '.join(parts)} in"


def format_length(value_mm: float, u95_mm: float | None = None) -> str:
    """Print a length in both of the trade's units: `234.6 ± 0.4 mm (9 1/4 in)`."""
    if not math.isfinite(value_mm):
        return "not measured"
    return f"{format_mm(value_mm, u95_mm)} ({format_inches(value_mm)})"
