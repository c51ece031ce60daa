"""Takes the size of a bead apart, as the trade writes it: `8mm`, `7.0-7.5mm`, `6x4mm`, `11/0`."""

import re
from dataclasses import dataclass
from typing import Literal

Kind = Literal["size", "class", "pair", "numbered"]

_NUMBERED = re.compile(r"(\d{1,2}) ?(?:/ ?0|[°º])")
_PAIR = re.compile(r"\s*(?:[x×✕*]|\bby\b)\s*")  # noqa: RUF001 - the trade's own signs
_RANGE = re.compile(r"([\d.,]+)\s*(\D*?)\s*(?:[-–—−~]|\bto\b)\s*([\d.,]+)\s*(\D+)")  # noqa: RUF001 - typed dashes
_NUMBER = r"[\d.,/¼-¾⅐-⅞\s-]+"
_UNIT = re.compile(rf"{_NUMBER}(\D*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A size taken apart.

    Attributes
    ----------
    kind : str
        `size` (8mm), `class` (7.0-7.5mm), `pair` (6x4mm), `numbered` (11/0).
    sizes : tuple of str
        Its lengths, in order, each with the unit that may stand once for all; of a numbered size its name.
    """

    kind: Kind
    sizes: tuple[str, ...]


def take_apart(text: str) -> Written:
    """Return the kind of a written size and its parts, which need not be lengths.

    Examples
    --------
    >>> take_apart("7.0 to 7.5 mm").sizes, take_apart("6 by 4 mm").sizes, take_apart("8°").sizes
    (('7.0mm', '7.5mm'), ('6mm', '4 mm'), ('8/0',))
    """
    tidy = " ".join(text.lower().split())
    if match := _NUMBERED.fullmatch(tidy):
        return Written(kind="numbered", sizes=(f"{match[1]}/0",))
    if match := _RANGE.fullmatch(tidy):
        low, low_unit, high, unit = match.groups()
        return Written(kind="class", sizes=(low + (low_unit or unit), high + unit))
    parts = _PAIR.split(tidy)
    match = _UNIT.fullmatch(parts[-1])
    unit = match[1] if match else ""
    sizes = tuple(part + unit if re.fullmatch(_NUMBER, part) else part for part in parts)
    return Written(kind="size" if len(sizes) == 1 else "pair", sizes=sizes)
