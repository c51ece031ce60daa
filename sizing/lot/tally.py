"""What a heap of beads holds, how far it would string, and how much of a piece it makes."""

from dataclasses import dataclass

from sizing.base.errors import TargetError
from sizing.base.loop import Link, fewest_beads
from sizing.base.target import Target, TargetKind
from sizing.lot.roundness import SEMI_ROUND_LIMIT
from sizing.lot.sizes import Mean, Sizes, mean_of, sizes_of
from vision.common.records import LooseBead, Lot

STRAND = Target(kind=TargetKind.STRUNG, length_mm=16 * 25.4)
"""The strand that beads are sold by: 16 inches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Some beads in figures.

    Attributes
    ----------
    beads : tuple of LooseBead
    width, length : Mean
        Of the smallest and of the largest caliper sizes.
    strung_mm, strung_u95_mm : float
        What the beads string to, side by side. Rounds turn any way on the string, so where width and
        length differ by less than 5 % it is by the mean of the two, else by the width.
    strung_long_mm : float
        The same strung lengthwise; equal to `strung_mm` for rounds.
    share : float
        Of the beads that the target takes, side by side: 1 is one piece.
    """

    beads: tuple[LooseBead, ...]
    width: Mean
    length: Mean
    strung_mm: float
    strung_u95_mm: float
    strung_long_mm: float
    share: float

    @property
    def is_round(self) -> bool:
        """Whether the beads string to the same length whichever way they are drilled."""
        return self.strung_long_mm == self.strung_mm


def tally(lot: Lot, index: tuple[int, ...] | None = None, *, target: Target = STRAND) -> Tally:
    """Describe some of a lot's measured beads.

    Parameters
    ----------
    index : tuple of int or None
        Positions among the measured beads (as in `sizes_of`); None for all.
    target : Target, keyword-only
        Piece that the share is taken of.

    Raises
    ------
    TargetError
        The target takes more beads than anyone strings.
    """
    widths, lengths = sizes_of(lot, "width"), sizes_of(lot, "length")
    if index is not None:
        widths, lengths = widths.at(index), lengths.at(index)
    return _tally(widths, lengths, target)


def beads_needed(bead: Link, target: Target) -> float:
    """Return how many equal beads a target takes: fractional for a length, whole for a girth.

    Raises
    ------
    TargetError
        More than anyone strings.
    """
    if target.kind is not TargetKind.GIRTH:
        return target.goal_mm / bead.along_mm
    try:
        return float(fewest_beads(target.goal_mm, bead, target.findings))
    except ValueError as error:
        raise TargetError(f"{target.describe()}: {error}; give a smaller one") from error


def _tally(widths: Sizes, lengths: Sizes, target: Target) -> Tally:
    """Describe beads given along both dimensions."""
    n, width, length = len(widths), mean_of(widths), mean_of(lengths)
    if n == 0:
        return Tally(
            beads=(),
            width=width,
            length=length,
            strung_mm=0.0,
            strung_u95_mm=0.0,
            strung_long_mm=0.0,
            share=0.0,
        )
    middle_mm = (width.mm + length.mm) / 2
    is_round = length.mm - width.mm < SEMI_ROUND_LIMIT * middle_mm
    each_mm = middle_mm if is_round else width.mm
    each_u95_mm = max(width.u95_mm, length.u95_mm) if is_round else width.u95_mm
    return Tally(
        beads=widths.beads,
        width=width,
        length=length,
        strung_mm=n * each_mm,
        strung_u95_mm=n * each_u95_mm,
        strung_long_mm=n * (each_mm if is_round else length.mm),
        share=n / beads_needed(Link(along_mm=each_mm, across_mm=middle_mm), target),
    )
