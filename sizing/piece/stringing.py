"""The order in which beads go on the string, for every length that keeps the order whole."""

from collections.abc import Sequence
from dataclasses import dataclass

from sizing.piece.parts import BeadPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How the beads of a piece follow each other.

    Attributes
    ----------
    graduated : bool
        The largest in the middle, falling evenly to both ends; otherwise the beads repeat.
    symmetric : bool
        A repeat reads the same from both ends; a graduated strand always does.
    whole : bool
        A repeat is never broken off.
    """

    graduated: bool = False
    symmetric: bool = False
    whole: bool = True


def strung(beads: Sequence[BeadPart], layout: Layout, rung: int) -> tuple[BeadPart, ...]:
    """Return the beads in order for one rung of the ladder of lengths.

    Parameters
    ----------
    beads : sequence of BeadPart
        One repeat in order, or the sizes of a graduated strand in any order.
    layout : Layout
    rung : int
        1, 2, 3 ...: every rung is longer than the one before and keeps the order.
    """
    if layout.graduated:
        return _graduated(beads, rung - 1)
    unit = tuple(bead for bead in beads for _ in range(bead.count))
    if layout.symmetric:
        return _symmetric(unit, rung) if layout.whole else _about_centre(unit, rung - 1)
    if layout.whole:
        return unit * rung
    return tuple(unit[i % len(unit)] for i in range(rung))


def _symmetric(unit: tuple[BeadPart, ...], repeats: int) -> tuple[BeadPart, ...]:
    """Repeat a unit and close it so that it reads the same from both ends.

    A unit made of two palindromes, as three beads and a spacer are, closes with the first of them
    once more; any other is mirrored about its last bead.
    """
    for cut in range(len(unit) - 1, -1, -1):
        first, second = unit[:cut], unit[cut:]
        if first == first[::-1] and second == second[::-1]:
            return unit * repeats + first
    half = unit * repeats
    return half + half[-2::-1]


def _about_centre(unit: tuple[BeadPart, ...], per_side: int) -> tuple[BeadPart, ...]:
    """Begin a repeat in the middle and let it run to both ends alike."""
    return tuple(unit[abs(i) % len(unit)] for i in range(-per_side, per_side + 1))


def _graduated(beads: Sequence[BeadPart], per_side: int) -> tuple[BeadPart, ...]:
    """Put the largest in the middle and share the places on each side evenly among the sizes."""
    falling = sorted(beads, key=lambda bead: -bead.along_mm)
    places = [falling[abs(i) * len(falling) // (per_side + 1)] for i in range(-per_side, per_side + 1)]
    return tuple(places)
