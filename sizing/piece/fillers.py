"""Fills the ends of a piece of repeats, so that it comes nearer to its target than whole repeats can."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from sizing.base.target import Target
from sizing.piece.fit import Fit, assemble
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece
from sizing.piece.stringing import cut_short, one_repeat

_SPACER_SHARE = 0.5  # of the longest bead: longer ones are no spacers; common practice, no source
_TRIED = 4  # sequences of about the right length, of which the nearest is chosen: their insides differ little
_WORTH_MM = 1.0  # nearer by less is not felt on a wrist: common practice, no source

Beads = tuple[BeadPart, ...]


class Ends(StrEnum):
    """How the ends of a piece of repeats are filled."""

    CUT_SHORT = "repeat cut short"
    SPACERS = "spacers added"


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A piece of repeats with filled ends.

    Attributes
    ----------
    ends : Ends
    spacers : tuple of BeadPart
        All the spacers at each end; empty where the repeat is cut short.
    fit : Fit
    """

    ends: Ends
    spacers: Beads = ()
    fit: Fit


def fill_ends(piece: Piece, target: Target, whole: Fit) -> tuple[Filled, ...]:
    """Return the ways of filling both ends alike that come nearer than whole repeats; the nearest first.

    A piece that comes out both ways is returned once, by its spacers.

    Parameters
    ----------
    whole : Fit
        The nearest piece of whole repeats.

    Examples
    --------
    Repeats of 34 mm make 136 or 170 mm. Three of them and four rounds more read the same from both ends,
    134 mm long: with two spacers more at each end that is 142 mm. Four repeats between spacers are 138 mm.

    >>> rounds, spacer = BeadPart(along_mm=8, across_mm=8, count=4), BeadPart(along_mm=2, across_mm=2)
    >>> piece = Piece(beads=(rounds, spacer), target_mm={"strung": 143}, findings=())
    >>> from sizing.piece.fit import fit_beads
    >>> from sizing.piece.piece import target_from_piece
    >>> target = target_from_piece(piece)
    >>> for filled in fill_ends(piece, target, fit_beads(piece, target)[0]):
    ...     print(filled.ends, filled.fit.strung_mm)
    spacers added 142
    repeat cut short 138
    """
    if piece.layout.graduated or not piece.layout.whole or len(set(piece.beads)) == 1:
        return ()
    most_mm = abs(whole.miss_mm) - _WORTH_MM
    wanted_mm = whole.strung_mm - whole.miss_mm
    ways = [*_cut(piece, target, wanted_mm), *_with_spacers(piece, target, wanted_mm)]
    nearer = {way.fit.sequence: way for way in ways if abs(way.fit.miss_mm) <= most_mm}
    return tuple(sorted(nearer.values(), key=lambda way: abs(way.fit.miss_mm)))


def _cut(piece: Piece, target: Target, wanted_mm: float) -> Iterator[Filled]:
    """Cut the repeat short at both ends alike, where it then comes nearest."""
    steps = _steps_below(piece, wanted_mm)
    sequences = {
        cut_short(piece.beads, piece.layout, step=step, each_end=each_end)
        for step in range(max(steps, 1), steps + 3)
        for each_end in range(len(one_repeat(piece.beads)))
    }
    likely = sorted(sequences - {()}, key=lambda beads: abs(_length(beads) - wanted_mm))[:_TRIED]
    fits = [assemble(piece, target, sequence=beads) for beads in likely]
    yield Filled(ends=Ends.CUT_SHORT, fit=min(fits, key=lambda fit: abs(fit.miss_mm)))


def _with_spacers(piece: Piece, target: Target, wanted_mm: float) -> Iterator[Filled]:
    """Fill both ends with the shortest bead of the repeat, where whole repeats fall short of the target."""
    spacer, longest = (pick(piece.beads, key=lambda bead: bead.along_mm) for pick in (min, max))
    steps = _steps_below(piece, wanted_mm)
    if not steps or spacer.along_mm > _SPACER_SHARE * longest.along_mm:
        return
    inner = _without_ends(cut_short(piece.beads, piece.layout, step=steps, each_end=0), spacer)
    about = round((wanted_mm - _length(inner)) / (2 * spacer.along_mm))
    fits = {
        each_end: assemble(piece, target, sequence=(*ends, *inner, *ends))
        for each_end in range(max(about - 1, 1), about + 2)
        for ends in [(spacer,) * each_end]
    }
    each_end = min(fits, key=lambda count: abs(fits[count].miss_mm))
    yield Filled(ends=Ends.SPACERS, spacers=(spacer,) * each_end, fit=fits[each_end])


def _without_ends(beads: Beads, spacer: BeadPart) -> Beads:
    """Leave out the spacers at both ends, so that those strung there instead are all that stand there."""
    others = [at for at, bead in enumerate(beads) if bead != spacer]
    return beads[others[0] : others[-1] + 1]


def _steps_below(piece: Piece, wanted_mm: float) -> int:
    """Return how many steps of repeats, closed to read the same, stay below a length; 0 for none."""
    first_mm, second_mm = (
        _length(cut_short(piece.beads, piece.layout, step=step, each_end=0)) for step in (1, 2)
    )
    return max(int((wanted_mm - first_mm) // (second_mm - first_mm)) + 1, 0)


def _length(beads: Beads) -> float:
    return sum(bead.along_mm for bead in beads)
