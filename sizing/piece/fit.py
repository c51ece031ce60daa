"""Beads strung to a target: the nearest whole count, and the next one across the target."""

import functools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from sizing.base.errors import TargetError
from sizing.base.loop import Link, inner_girth
from sizing.base.search import bracket_target
from sizing.base.target import Target
from sizing.piece.parts import BeadPart, extender_mm
from sizing.piece.piece import Piece
from sizing.piece.stringing import strung

_MOST_BEADS = 2000
_CHAIN_LINK_MM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A strung and closed piece.

    Attributes
    ----------
    sequence : tuple of BeadPart
        The beads in order of stringing.
    strung_mm, strung_u95_mm : float
        Length of the beads, and its doubt where they were measured.
    finished_mm, finished_longest_mm : float
        Length of the piece, closed on the extender's first link and on its last; equal without one.
    inner_girth_mm, inner_girth_longest_mm : float
        Girth of the largest cylinder inside the closed piece, likewise.
    miss_mm : float
        What the piece comes to less what the target asks; above zero it is too long.
    """

    sequence: tuple[BeadPart, ...]
    strung_mm: float
    strung_u95_mm: float
    finished_mm: float
    finished_longest_mm: float
    inner_girth_mm: float
    inner_girth_longest_mm: float
    miss_mm: float

    @property
    def count(self) -> int:
        """Number of beads."""
        return len(self.sequence)

    @property
    def tally(self) -> tuple[tuple[BeadPart, int], ...]:
        """Each kind of bead and how many of it are strung, in order of first use."""
        return tuple(Counter(self.sequence).items())


def fit_beads(piece: Piece, target: Target) -> tuple[Fit, Fit | None]:
    """Return the nearest way to string a piece to its target, and the nearest across the target.

    Where the target lies below the shortest way there is, the second is None.

    Raises
    ------
    TargetError
        No beads, or more than anyone strings.
    """
    if not piece.beads:
        raise TargetError("no beads are given: add --bead 7mm, or a [[bead]] to the piece file")
    sequence_of = functools.cache(functools.partial(strung, piece.beads, piece.layout))

    def miss_mm(rung: int) -> float:
        return target.reached_mm([bead.link for bead in sequence_of(rung)]) - target.goal_mm

    start = _guess(target, [_length(sequence_of(rung)) for rung in (1, 11)])
    if start * len(sequence_of(1)) > _MOST_BEADS:
        raise TargetError(f"{target.describe()} would take over {_MOST_BEADS} of these beads: check its unit")
    rungs = bracket_target(miss_mm, start=start, lowest=1, highest=_MOST_BEADS)
    below, above = (assemble(piece, target, sequence_of(rung)) for rung in rungs)
    best, other = sorted((below, above), key=lambda fit: abs(fit.miss_mm))
    return best, other if (best.miss_mm > 0) != (other.miss_mm > 0) else None


def assemble(piece: Piece, target: Target, sequence: Sequence[BeadPart]) -> Fit:
    """Close a strung piece with the target's findings and work out its lengths and girths."""
    strung_mm = _length(sequence)
    links = [bead.link for bead in sequence]
    chain_mm = extender_mm(piece.findings or ())
    # A chain is fine-linked: it follows the body where a clasp lies straight.
    pieces = int(chain_mm / _CHAIN_LINK_MM) + 1
    chain = [Link(along_mm=chain_mm / pieces)] * (pieces if chain_mm else 0)
    return Fit(
        sequence=tuple(sequence),
        strung_mm=strung_mm,
        strung_u95_mm=sum(bead.along_mm * bead.rel_u95 for bead in sequence),
        finished_mm=strung_mm + target.findings_mm,
        finished_longest_mm=strung_mm + target.findings_mm + chain_mm,
        inner_girth_mm=inner_girth([*links, *target.findings]),
        inner_girth_longest_mm=inner_girth([*links, *target.findings, *chain]),
        miss_mm=target.reached_mm(links) - target.goal_mm,
    )


def _length(sequence: Sequence[BeadPart]) -> float:
    return sum(bead.along_mm for bead in sequence)


def _guess(target: Target, lengths_mm: Sequence[float]) -> int:
    """Guess the rung from the lengths of the first and the eleventh."""
    per_rung_mm = (lengths_mm[1] - lengths_mm[0]) / 10
    return 1 + round((target.goal_mm - lengths_mm[0]) / per_rung_mm)
