"""Counts a heap of beads: how many, how far they string, and what share of a piece they make."""

from dataclasses import dataclass

from sizing.base.errors import TargetError
from sizing.base.loop import MOST_BEADS, Link, fewest_beads
from sizing.base.target import Target, TargetKind
from sizing.lot.roundness import SEMI_ROUND_LIMIT
from sizing.lot.sizes import Mean, mean_of, sizes_of
from vision.common.records import LooseBead, Lot

STRAND = Target(kind=TargetKind.STRUNG, length_mm=16 * 25.4)
"""Beads are sold by the strand of 16 in (International Gem Society, "Bead and necklace size charts")."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Some beads in figures.

    Attributes
    ----------
    beads : tuple of LooseBead
    width, length : Mean
        Means of the smallest and of the largest caliper sizes.
    strung_mm, strung_u95_mm : float
        Length of the beads strung side by side, and its expanded uncertainty. Rounds turn any way on the
        string: if width and length differ by less than 5 % their mean counts, otherwise the width.
    strung_long_mm : float
        Length of the same beads strung lengthwise; equal to `strung_mm` for rounds.
    share : float
        Share of the beads that the target takes, side by side: 1 is one piece.
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pitch:
    """Length that one bead takes on the string, side by side and lengthwise."""

    link: Link
    u95_mm: float
    long_mm: float


def tally(lot: Lot, index: tuple[int, ...] | None = None, *, target: Target = STRAND) -> Tally:
    """Describe some of a lot's measured beads.

    Parameters
    ----------
    index : tuple of int or None
        Positions among the measured beads (as in `sizes_of`); None for all.
    target : Target, keyword-only
        The piece of which the share is taken.

    Raises
    ------
    TargetError
        The target takes too many beads.

    Examples
    --------
    25 rounds of 8 mm string to 200 mm, half of a 16 in strand:

    >>> from tests.helpers.lots import lot_of
    >>> heap = tally(lot_of([8.0] * 25))
    >>> heap.strung_mm, round(heap.share, 2)
    (200.0, 0.49)
    """
    widths, lengths = sizes_of(lot, "width"), sizes_of(lot, "length")
    if index is not None:
        widths, lengths = widths.at(index), lengths.at(index)
    n, width, length = len(widths), mean_of(widths), mean_of(lengths)
    pitch = _pitch(width, length) if n else _Pitch(link=Link(along_mm=0.0), u95_mm=0.0, long_mm=0.0)
    return Tally(
        beads=widths.beads,
        width=width,
        length=length,
        strung_mm=n * pitch.link.along_mm,
        strung_u95_mm=n * pitch.u95_mm,
        strung_long_mm=n * pitch.long_mm,
        share=n / beads_needed(pitch.link, target) if n else 0.0,
    )


def beads_needed(bead: Link, target: Target) -> float:
    """Return how many equal beads a target takes: fractional for a length, whole for a girth.

    Raises
    ------
    TargetError
        The girth takes too many beads.
    """
    if target.kind is not TargetKind.GIRTH:
        return target.goal_mm / bead.along_mm
    try:
        return float(fewest_beads(target.goal_mm, bead, findings=target.findings))
    except ValueError as error:
        message = f"{target.describe()} would take over {MOST_BEADS} of these beads: check its unit"
        raise TargetError(message) from error


def _pitch(width: Mean, length: Mean) -> _Pitch:
    """Return the length that a bead of mean width and length takes on the string."""
    middle_mm = (width.mm + length.mm) / 2
    if length.mm - width.mm < SEMI_ROUND_LIMIT * middle_mm:
        u95_mm = max(width.u95_mm, length.u95_mm)
        return _Pitch(link=Link(along_mm=middle_mm, across_mm=middle_mm), u95_mm=u95_mm, long_mm=middle_mm)
    return _Pitch(link=Link(along_mm=width.mm, across_mm=middle_mm), u95_mm=width.u95_mm, long_mm=length.mm)
