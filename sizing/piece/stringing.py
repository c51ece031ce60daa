"""The order in which beads go on the string, for every length that keeps the order intact."""

from collections.abc import Sequence
from dataclasses import dataclass

from sizing.piece.parts import BeadPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How the beads of a piece follow each other.

    Attributes
    ----------
    graduated : bool
        The largest bead is in the middle and sizes fall evenly to both ends; otherwise the beads repeat.
    symmetric : bool
        A repeat reads the same from both ends; a graduated strand always does.
    whole : bool
        Only whole repeats are strung.
    """

    graduated: bool = False
    symmetric: bool = False
    whole: bool = True


def strung(beads: Sequence[BeadPart], layout: Layout, *, step: int) -> tuple[BeadPart, ...]:
    """Return the beads in order for one of the lengths that keep the order.

    Parameters
    ----------
    beads : sequence of BeadPart
        One repeat in order, or the sizes of a graduated strand in any order.
    layout : Layout
    step : int, keyword-only
        1 for the shortest strand, 2 for the next longer one, and so on.

    Examples
    --------
    >>> large, small = BeadPart(along_mm=8, across_mm=8), BeadPart(along_mm=2, across_mm=2)
    >>> [bead.along_mm for bead in strung([large, small], Layout(symmetric=True), step=2)]
    [8, 2, 8, 2, 8]
    >>> [bead.along_mm for bead in strung([large, small], Layout(graduated=True), step=3)]
    [2, 8, 8, 8, 2]
    """
    if layout.graduated:
        return _graduated(beads, step - 1)
    unit = one_repeat(beads)
    if layout.symmetric:
        return _symmetric(unit, step) if layout.whole else _from_middle(unit, step - 1)
    if layout.whole:
        return unit * step
    return tuple(unit[i % len(unit)] for i in range(step))


def one_repeat(beads: Sequence[BeadPart]) -> tuple[BeadPart, ...]:
    """Return the beads of one repeat, each as often as it follows itself."""
    return tuple(bead for bead in beads for _ in range(bead.count))


def cut_short(beads: Sequence[BeadPart], layout: Layout, *, step: int, each_end: int) -> tuple[BeadPart, ...]:
    """Return repeats that are cut short at both ends alike, so that they read the same where they can.

    Parameters
    ----------
    step : int, keyword-only
        As of `strung`.
    each_end : int, keyword-only
        Beads left out at each end.

    Examples
    --------
    >>> large = BeadPart(along_mm=8, across_mm=8, count=3)
    >>> small = BeadPart(along_mm=2, across_mm=2)
    >>> [bead.along_mm for bead in cut_short([large, small], Layout(), step=2, each_end=2)]
    [8, 2, 8, 8, 8, 2, 8]
    """
    unit = one_repeat(beads)
    reads_the_same = layout.symmetric or _closing(unit) is not None
    whole = _symmetric(unit, step) if reads_the_same else unit * step
    return whole[each_end : len(whole) - each_end]


def _symmetric(unit: tuple[BeadPart, ...], repeats: int) -> tuple[BeadPart, ...]:
    """Repeat a unit and close it so that it reads the same from both ends.

    A unit that consists of two palindromes is closed with the first of them once more. Any other unit is
    mirrored at its last bead.
    """
    closing = _closing(unit)
    half = unit * repeats
    return half + half[-2::-1] if closing is None else half + closing


def _closing(unit: tuple[BeadPart, ...]) -> tuple[BeadPart, ...] | None:
    """Return the first of the two palindromes that a unit consists of, if it does: AAA of AAAs."""
    for cut in range(len(unit) - 1, -1, -1):
        first, second = unit[:cut], unit[cut:]
        if first == first[::-1] and second == second[::-1]:
            return first
    return None


def _from_middle(unit: tuple[BeadPart, ...], per_side: int) -> tuple[BeadPart, ...]:
    """Start a repeat at the middle bead and continue it in the same way to both ends."""
    return tuple(unit[abs(i) % len(unit)] for i in range(-per_side, per_side + 1))


def _graduated(beads: Sequence[BeadPart], per_side: int) -> tuple[BeadPart, ...]:
    """Put the largest bead in the middle and share the places on each side evenly among the sizes."""
    falling = sorted(beads, key=lambda bead: -bead.along_mm)
    places = [falling[abs(i) * len(falling) // (per_side + 1)] for i in range(-per_side, per_side + 1)]
    return tuple(places)
