"""Labels as the trade writes them: `8mm`, `7.0-7.5mm`, `6x4mm`, `11/0`.

What a label allows is part of it: a plain size is sold within a tolerance, a class named by both
its ends means just these, a numbered seed-bead size is a range.
"""

import re
from dataclasses import dataclass
from typing import Literal

from sizing.base.errors import SizingError
from sizing.base.units import parse_length

DEFAULT_TOLERANCE_MM = 0.5
"""Gem rounds as sold: strands sold as 8 mm span 7.5 to 8.4 mm (common practice, no source)."""

_AUGHT_MM = {"6/0": 3.3, "8/0": 2.5, "11/0": 1.8, "15/0": 1.3}
_AUGHT_SPREAD_MM = 0.6
"""Two trade charts disagree on numbered sizes, by up to this much."""

_AUGHT = re.compile(r"(\d{1,2}) ?(?:/ ?0|[°º])")
_PAIR = re.compile(r"\s*(?:[x×✕*]|\bby\b)\s*")  # noqa: RUF001 - the trade's own signs
_RANGE = re.compile(r"([\d.,]+)\s*(\D*?)\s*(?:[-–—−~]|\bto\b)\s*([\d.,]+)\s*(\D+)")  # noqa: RUF001 - typed dashes
_UNIT = re.compile(r"[\d.,/¼-¾⅐-⅞\s-]+(\D*)")

Kind = Literal["size", "class", "pair", "numbered"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedSize:
    """One size that a label states.

    Attributes
    ----------
    nominal_mm : float
        The number on the label; the middle where it states a range.
    low_mm, high_mm : float
        What it allows, both limits included.
    """

    nominal_mm: float
    low_mm: float
    high_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A label, read.

    Attributes
    ----------
    text : str
        As typed, tidied to one line.
    kind : str
        `size` (8mm), `class` (7.0-7.5mm), `pair` (6x4mm), `numbered` (11/0).
    stated : tuple of StatedSize
        One; two for a pair, the larger first.
    basis : str
        Where the limits come from, as a phrase.
    """

    text: str
    kind: Kind
    stated: tuple[StatedSize, ...]
    basis: str


def parse_label(text: str, *, tolerance_mm: float | None = None) -> Label:
    """Read a label and what it allows.

    Parameters
    ----------
    tolerance_mm : float or None, keyword-only
        Allowed beyond each stated end; None means what is usual for that kind of label.

    Raises
    ------
    SizingError
        In one line: the label cannot be read.
    """
    shown = " ".join(text.split())
    tidy = shown.lower()
    if match := _AUGHT.fullmatch(tidy):
        return _numbered(shown, f"{match[1]}/0", tolerance_mm)
    if match := _RANGE.fullmatch(tidy):
        low, low_unit, high, unit = match.groups()
        return _class(shown, (low + (low_unit or unit), high + unit), tolerance_mm)
    parts = _PAIR.split(tidy)
    if len(parts) > 2:
        raise SizingError(
            f"label {shown!r} has {len(parts)} sizes, but a photo from above shows two: leave one out"
        )
    return _plain(shown, parts, tolerance_mm)


def _plain(shown: str, parts: list[str], tolerance_mm: float | None) -> Label:
    """Read a plain size or a pair; in `6x4mm` the unit is written once, at the end."""
    match = _UNIT.fullmatch(parts[-1])
    unit = match[1] if match else ""
    typed = [part if re.search(r"[^\d.,/\s]", part) else part + unit for part in parts]
    sizes = sorted((_length(each, shown) for each in typed), reverse=True)
    tolerance = DEFAULT_TOLERANCE_MM if tolerance_mm is None else tolerance_mm
    basis = f"±{tolerance:g} mm, " + (
        "as gem rounds are usually sold" if tolerance_mm is None else "as asked"
    )
    stated = tuple(_around(size, size, tolerance) for size in sizes)
    return Label(text=shown, kind="pair" if len(stated) == 2 else "size", stated=stated, basis=basis)


def _class(shown: str, ends: tuple[str, str], tolerance_mm: float | None) -> Label:
    """Read a class named by both its ends (CIBJO Pearl Book, as reported)."""
    low, high = sorted(_length(end, shown) for end in ends)
    if low == high:
        raise SizingError(f"label {shown!r} names one size twice: write it like 7.0-7.5mm, or 7mm")
    stated = (_around(low, high, tolerance_mm or 0.0),)
    return Label(
        text=shown, kind="class", stated=stated, basis=_widened("the class's own ends", tolerance_mm)
    )


def _numbered(shown: str, name: str, tolerance_mm: float | None) -> Label:
    """Read a numbered seed-bead size, which makers interpret differently."""
    if name not in _AUGHT_MM:
        raise SizingError(
            f"label {shown!r}: only {', '.join(_AUGHT_MM)} are known, give the size in mm instead"
        )
    low = _AUGHT_MM[name]
    stated = (_around(low, low + _AUGHT_SPREAD_MM, tolerance_mm or 0.0),)
    basis = _widened("the range over which makers of numbered sizes differ", tolerance_mm)
    return Label(text=shown, kind="numbered", stated=stated, basis=basis)


def _widened(basis: str, tolerance_mm: float | None) -> str:
    """Say that a range was widened by a tolerance."""
    return f"{basis}, ±{tolerance_mm:g} mm as asked" if tolerance_mm else basis


def _around(low_mm: float, high_mm: float, tolerance_mm: float) -> StatedSize:
    """Return what is allowed between two ends and a tolerance beyond each."""
    return StatedSize(
        nominal_mm=(low_mm + high_mm) / 2,
        low_mm=max(low_mm - tolerance_mm, 0.0),
        high_mm=high_mm + tolerance_mm,
    )


def _length(typed: str, shown: str) -> float:
    """Read one length of a label, in mm."""
    try:
        return parse_length(typed)
    except ValueError as error:
        raise SizingError(
            f"label {shown!r}: {error} (labels read like 8mm, 7.0-7.5mm, 6x4mm or 11/0)"
        ) from error
