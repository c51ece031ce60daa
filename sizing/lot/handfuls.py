"""The photos of one lot, a handful of beads on each, and how what they gave is merged."""

import os
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from sizing.base.errors import SizingError
from sizing.base.measured_sheets import MeasuredSheet
from sizing.base.printable import printable
from vision.common.errors import PhotoError
from vision.common.records import LeftOut, Lot


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


Outcome = Lot | str
"""What one photo of a lot gave: loose beads, or why nothing was measured."""


def of_other_kind(outcomes: Sequence[Outcome]) -> tuple[bool, list[int]]:
    """Return whether most beads were measured as flat, and the places of the photos that were not as most.

    These are to be measured again as the kind that most are.
    """
    lots = {place: each for place, each in enumerate(outcomes) if isinstance(each, Lot)}
    flat = sum(len(lot.beads) if lot.flat else -len(lot.beads) for lot in lots.values()) > 0
    return flat, [place for place, lot in lots.items() if lot.flat != flat]


def one_lot(names: Sequence[str], outcomes: Sequence[Outcome]) -> Lot:
    """Return the lot of photos of these names; it names those that could not be measured, with the reason.

    Raises
    ------
    PhotoError
        None could be measured; the message names each.
    """
    lots = [each for each in outcomes if isinstance(each, Lot)]
    left_out = tuple(
        LeftOut(photo=name, reason=outcome, place=place)
        for place, (name, outcome) in enumerate(zip(names, outcomes, strict=True))
        if isinstance(outcome, str)
    )
    if not lots:
        raise PhotoError(complaint([each.reason for each in left_out], len(outcomes)))
    return replace(as_one_lot(lots), left_out=left_out)


def with_name(name: str, message: str) -> str:
    """Put the name of the photo before a message that does not contain it."""
    return message if name in message else f"{name}: {message}"


def complaint(messages: Sequence[str], photos: int) -> str:
    """Return the message of one error for all photos that could not be measured."""
    if photos == 1:
        return messages[0]
    head = f"{len(messages)} of {photos} photos cannot be measured, take them again or leave them out"
    return f"{head}: {'; '.join(messages)}"
