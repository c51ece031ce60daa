"""Finds entries by what is said of them, by size, colour and count."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from sizing.base.errors import StashError
from sizing.piece.bead_size import read_bead
from sizing.stash.colours import DIFFERENT, WORDS, colour_difference, colour_word
from sizing.stash.entries import Colour, Entry, Size
from sizing.stash.matching import SAME_SIZE_SHARE

_HEX = re.compile(r"#([0-9a-fA-F]{2})([0-9a-fA-F]{2})([0-9a-fA-F]{2})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What to look for; what is left as it is does not matter.

    Attributes
    ----------
    text : str
        Words that all stand in name, source, material or note, in either case.
    low_mm, high_mm : float
        Limits of the size along the string or across it, both included.
    colour : tuple of int or str
        An sRGB colour, which matches those less than `DIFFERENT` away; or one of `WORDS`, empty for any.
    least_count : int
        Beads that there are at least.
    """

    text: str = ""
    low_mm: float = 0.0
    high_mm: float = float("inf")
    colour: Colour | str = ""
    least_count: int = 0


def read_range(text: str) -> tuple[float, float]:
    """Return the least and the most, in mm, of what is sold as a size, or of a range of sizes.

    Raises
    ------
    ValueError, SizingError
        It is none, or two sizes.

    Examples
    --------
    >>> read_range("7-8.5mm")
    (7.0, 8.5)
    """
    bead = read_bead(text)
    if "x" in text.lower():
        raise StashError(f"{text} are two sizes: give one, or a range like 7-8.5mm")
    share = bead.rel_u95 or SAME_SIZE_SHARE
    return bead.across_mm * (1 - share), bead.across_mm * (1 + share)


def read_colour(text: str) -> Colour | str:
    """Return a colour that was typed as one of `WORDS`, or as `#rrggbb`.

    Raises
    ------
    StashError
        It is neither.

    Examples
    --------
    >>> read_colour("Gray"), read_colour("#3c5a96")
    ('grey', (60, 90, 150))
    """
    word = text.lower().replace("gray", "grey")
    if match := _HEX.fullmatch(word):
        red, green, blue = (int(part, 16) for part in match.groups())
        return red, green, blue
    if word not in WORDS:
        raise StashError(f"{text} is not one of {', '.join(WORDS)}, or like #3c5a96")
    return word


def search(stash: Iterable[Entry], wanted: Wanted) -> list[Entry]:
    """Return the entries that have what is wanted; size, colour and count are of the same beads."""
    return [
        entry
        for entry in stash
        if _says(entry, wanted.text) and any(_is(size, wanted) for size in entry.sizes)
    ]


def _says(entry: Entry, text: str) -> bool:
    said = entry.details
    everything = f"{said.name} {said.source} {said.material} {said.note}".casefold()
    return all(word in everything for word in text.casefold().split())


def _is(size: Size, wanted: Wanted) -> bool:
    in_range = any(wanted.low_mm <= mm <= wanted.high_mm for mm in (size.along_mm, size.across_mm))
    return in_range and size.count >= wanted.least_count and _has_colour(size, wanted.colour)


def _has_colour(size: Size, colour: Colour | str) -> bool:
    if isinstance(colour, str):
        return not colour or colour_word(size.colour_rgb) == colour
    return colour_difference(size.colour_rgb, colour) < DIFFERENT
