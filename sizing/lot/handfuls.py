"""The photos of one lot, a handful of beads on each, and how what they gave is merged."""

import os
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from sizing.base.errors import SizingError
from sizing.base.measured_sheets import MeasuredSheet
from sizing.base.printable import printable
from vision.common.records import Lot


@dataclass(frozen=True, slots=True, kw_only=True)
class Handful:
    """One photo and what the maker says about it.

    Attributes
    ----------
    path : Path
    name : str
        Name of the photo in the records of its beads.
    check_length_mm : float or None
        As measured on the printed sheet; None for the nominal one.
    check_length_u_mm : float
        Its standard uncertainty.
    bed_height_mm : float
        Height of the surface under the beads above the sheet.
    flat : bool or None
        Whether the beads are flat discs; None to let the photo decide.
    remembered : mapping
        The sheets that were measured before, by name, for a check length that is None.
    """

    path: Path
    name: str
    check_length_mm: float | None = None
    check_length_u_mm: float = 0.0
    bed_height_mm: float = 0.0
    flat: bool | None = None
    remembered: Mapping[str, MeasuredSheet] = field(default_factory=dict)


def photo_names(paths: Sequence[Path]) -> tuple[str, ...]:
    """Return a printable name for each photo: its file name, or its path if two files have the same name.

    Raises
    ------
    SizingError
        A photo is given twice, so that its beads would count twice.

    Examples
    --------
    >>> photo_names([Path("a.jpg"), Path("b.jpg")])
    ('a.jpg', 'b.jpg')
    """
    seen: set[str] = set()
    for path in paths:
        real = os.path.realpath(path)
        if real in seen:
            raise SizingError(f"{path} is given twice, so its beads would count twice: give each photo once")
        seen.add(real)
    count = Counter(path.name for path in paths)
    return tuple(printable(path.name if count[path.name] == 1 else str(path)) for path in paths)


def as_one_lot(lots: Sequence[Lot]) -> Lot:
    """Merge lots that were all measured as flat discs, or all as rounds."""
    return Lot(
        conditions=tuple(each for lot in lots for each in lot.conditions),
        beads=tuple(bead for lot in lots for bead in lot.beads),
        flat=lots[0].flat,
        flags=tuple(dict.fromkeys(flag for lot in lots for flag in lot.flags)),
        others=tuple(other for lot in lots for other in lot.others),
    )


def flat_by_most(lots: Sequence[Lot]) -> bool:
    """Return whether most beads are on photos that were measured as flat discs."""
    return sum(len(lot.beads) if lot.flat else -len(lot.beads) for lot in lots) > 0


def with_name(name: str, message: str) -> str:
    """Put the name of the photo before a message that does not contain it."""
    return message if name in message else f"{name}: {message}"


def complaint(messages: Sequence[str], photos: int) -> str:
    """Return the message of one error for all photos that could not be measured."""
    if photos == 1:
        return messages[0]
    head = f"{len(messages)} of {photos} photos cannot be measured, take them again or leave them out"
    return f"{head}: {'; '.join(messages)}"
