"""What a heap of beads holds, and how far it would string."""

from dataclasses import dataclass

from sizing.roundness import SEMI_ROUND_LIMIT
from sizing.sizes import Mean, Sizes, mean_of, sizes_of
from vision.records import LooseBead, Lot

STRAND_MM = 16 * 25.4
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
        `strung_mm` over the length asked for.
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


def tally(lot: Lot, index: tuple[int, ...] | None = None, *, strung_mm: float = STRAND_MM) -> Tally:
    """Describe some of a lot's measured beads.

    Parameters
    ----------
    index : tuple of int or None
        Positions among the measured beads (as in `sizes_of`); None for all.
    strung_mm : float, keyword-only
        Length that the share is taken of.
    """
    widths, lengths = sizes_of(lot, "width"), sizes_of(lot, "length")
    if index is not None:
        widths, lengths = widths.at(index), lengths.at(index)
    return _tally(widths, lengths, strung_mm)


def _tally(widths: Sizes, lengths: Sizes, strung_mm: float) -> Tally:
    """Describe beads given along both dimensions."""
    n, width, length = len(widths), mean_of(widths), mean_of(lengths)
    middle_mm = (width.mm + length.mm) / 2
    is_round = length.mm - width.mm < SEMI_ROUND_LIMIT * middle_mm
    by_mm = n * (middle_mm if is_round else width.mm) if n else 0.0
    return Tally(
        beads=widths.beads,
        width=width,
        length=length,
        strung_mm=by_mm,
        strung_u95_mm=n * max(width.u95_mm, length.u95_mm if is_round else 0.0) if n else 0.0,
        strung_long_mm=(by_mm if is_round else n * length.mm) if n else 0.0,
        share=by_mm / strung_mm,
    )
