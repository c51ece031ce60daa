"""Names of beads in a report: `17` on a single photo, `B17` where there are several photos."""

from collections.abc import Iterable, Sequence
from itertools import groupby

from vision.common.records import LooseBead, Lot


def photo_letters(lot: Lot) -> dict[str, str]:
    """Return a letter for each photo in the order given, those left out too; empty for a single photo."""
    return letters_for(lot.photos)


def letters_for(photos: Sequence[str]) -> dict[str, str]:
    """Return a letter for each photo in order, A, B ... Z, AA, AB ...; empty for a single photo.

    Examples
    --------
    >>> letters_for(["one.jpg", "two.jpg"])
    {'one.jpg': 'A', 'two.jpg': 'B'}
    """
    return {photo: _letters(i) for i, photo in enumerate(photos)} if len(photos) > 1 else {}


def bead_name(bead: LooseBead, letters: dict[str, str]) -> str:
    """Return the letter of a bead's photo and its number."""
    return f"{letters.get(bead.photo, '')}{bead.number}"


def bead_list(beads: Iterable[LooseBead], letters: dict[str, str]) -> str:
    """Return the names of beads in order, runs of three and more shortened: `A1-A4, A7, B2`."""
    order = {photo: i for i, photo in enumerate(letters)}
    ordered = sorted(beads, key=lambda bead: (order.get(bead.photo, 0), bead.number))
    parts: list[str] = []
    # Within a run of numbers, number minus position is constant.
    for _, numbered in groupby(
        enumerate(ordered), key=lambda pair: (pair[1].photo, pair[1].number - pair[0])
    ):
        run = [bead_name(bead, letters) for _, bead in numbered]
        parts += [f"{run[0]}-{run[-1]}"] if len(run) > 2 else run
    return ", ".join(parts)


def _letters(i: int) -> str:
    """Count in letters: 0 is A, 25 is Z, 26 is AA."""
    return (_letters(i // 26 - 1) if i >= 26 else "") + chr(ord("A") + i % 26)
