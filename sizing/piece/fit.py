"""Strings beads to a target: the nearest number of beads, and the nearest on its other side."""

import functools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sizing.base.errors import TargetError
from sizing.base.loop import Link, inner_girth
from sizing.base.search import bracket_target
from sizing.base.target import Target
from sizing.piece.parts import BeadPart, extender_mm
from sizing.piece.piece import Piece
from sizing.piece.stringing import strung
from sizing.strand.planned import Planned, PlannedBeads

_MOST_BEADS = 2000  # 8 m of 4 mm beads; more is a mistyped unit: common practice, no source
_CHAIN_LINK_MM = 5.0  # of an extender's chain: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A strung and closed piece.

    Attributes
    ----------
    sequence : tuple of BeadPart
        The beads in order of stringing.
    strung_mm, strung_u95_mm : float
        Length of the beads, and its expanded uncertainty (k = 2); 0 for sizes that were typed.
    finished_mm, finished_longest_mm : float
        Length of the piece, closed on the extender's first link and on its last; equal without extender.
    inner_girth_mm, inner_girth_longest_mm : float
        Girth of the largest cylinder that fits inside the closed piece, on the first link and on the last.
    inner_girth_u95_mm : float
        Expanded uncertainty of the former (k = 2).
    miss_mm : float
        Length of the piece less that of the target, both as the target measures; positive if too long.
    """

    sequence: tuple[BeadPart, ...]
    strung_mm: float
    strung_u95_mm: float
    finished_mm: float
    finished_longest_mm: float
    inner_girth_mm: float
    inner_girth_longest_mm: float
    inner_girth_u95_mm: float
    miss_mm: float

    @property
    def finished_u95_mm(self) -> float:
        """Expanded uncertainty of the finished length: that of the beads."""
        return self.strung_u95_mm

    @property
    def count(self) -> int:
        """Number of beads."""
        return len(self.sequence)

    @property
    def tally(self) -> tuple[tuple[BeadPart, int], ...]:
        """Each kind of bead and how many are strung, in order of first use."""
        return tuple(Counter(self.sequence).items())


def planned_loop(piece: Piece, target: Target) -> Planned | None:
    """Return what a finished piece should measure; None where its beads are not known.

    Beads that differ in looks alone are told apart by no measurement, so they count together.

    Raises
    ------
    TargetError
        The target takes too many beads.
    """
    if not piece.beads:
        return None
    best, _ = fit_beads(piece, target)
    alike: dict[Link, list[tuple[BeadPart, int]]] = {}
    for bead, count in best.tally:
        alike.setdefault(bead.link, []).append((bead, count))
    return Planned(
        beads=tuple(
            PlannedBeads(
                name=" and ".join(dict.fromkeys(bead.title for bead, _ in kinds)),
                link=link,
                count=sum(count for _, count in kinds),
            )
            for link, kinds in alike.items()
        ),
        strung_mm=best.strung_mm,
        strung_u95_mm=best.strung_u95_mm,
        findings_mm=best.finished_mm - best.strung_mm,
        inner_girth_mm=best.inner_girth_mm,
        inner_girth_u95_mm=best.inner_girth_u95_mm,
    )


def fit_beads(piece: Piece, target: Target) -> tuple[Fit, Fit | None]:
    """Return the number of beads nearest to the target, and the nearest on the other side of the target.

    If even the shortest strand is too long, the second is None.

    Raises
    ------
    TargetError
        The piece has no beads, or the target takes too many of them.

    Examples
    --------
    16 in with a 3/4 in clasp leave 15 1/4 in for beads of 6 mm:

    >>> from sizing.base.target import TargetKind
    >>> piece = Piece(beads=(BeadPart(along_mm=6, across_mm=6),))
    >>> clasp = Link(along_mm=0.75 * 25.4)
    >>> target = Target(kind=TargetKind.FINISHED, length_mm=16 * 25.4, findings=(clasp,))
    >>> best, other = fit_beads(piece, target)
    >>> best.count, round(best.miss_mm, 2), other.count, round(other.miss_mm, 2)
    (65, 2.65, 64, -3.35)
    """
    if not piece.beads:
        raise TargetError("no beads are given: add --bead 7mm, or a [[bead]] to the piece file")
    repeat = sum(bead.count for bead in piece.beads)
    if repeat > _MOST_BEADS:
        raise TargetError(
            f"one repeat has {repeat} beads, more than the {_MOST_BEADS} of any piece: check each count"
        )

    @functools.cache
    def strand(step: int) -> tuple[BeadPart, ...]:
        return strung(piece.beads, piece.layout, step=step)

    def miss_mm(step: int) -> float:
        return target.reached_mm([bead.link for bead in strand(step)]) - target.goal_mm

    # Ten steps even out what the first adds to close a repeat.
    first_mm, eleventh_mm = (_length(strand(step)) for step in (1, 11))
    start = 1 + round((target.goal_mm - first_mm) * 10 / (eleventh_mm - first_mm))
    if start * len(strand(1)) > _MOST_BEADS:
        raise TargetError(f"{target.describe()} would take over {_MOST_BEADS} of these beads: check its unit")
    steps = bracket_target(miss_mm, start=start, lowest=1, highest=_MOST_BEADS)
    below, above = (assemble(piece, target, sequence=strand(step)) for step in steps)
    best, other = sorted((below, above), key=lambda fit: abs(fit.miss_mm))
    return best, other if (best.miss_mm > 0) != (other.miss_mm > 0) else None


def count_range(piece: Piece, target: Target) -> tuple[int, int] | None:
    """Return the fewest and the most beads that may come nearest to a target; None for sizes that were typed.

    Examples
    --------
    Between 5 % larger and 5 % smaller beads of 8 mm, 23.8 and 26.3 make 200 mm:

    >>> from sizing.base.target import TargetKind
    >>> piece = Piece(beads=(BeadPart(along_mm=8, across_mm=8, rel_u95=0.05),))
    >>> count_range(piece, Target(kind=TargetKind.STRUNG, length_mm=200))
    (24, 26)
    """
    if not any(bead.rel_u95 for bead in piece.beads):
        return None
    counts = []
    for sign in (1, -1):
        beads = tuple(bead.scaled(1 + sign * bead.rel_u95) for bead in piece.beads)
        best, _ = fit_beads(replace(piece, beads=beads), target)
        counts.append(best.count)
    return min(counts), max(counts)


def assemble(piece: Piece, target: Target, *, sequence: Sequence[BeadPart]) -> Fit:
    """Close a strung piece with the target's findings, and compute its lengths and girths."""
    strung_mm = _length(sequence)
    links = [bead.link for bead in sequence]
    inner_girth_mm = inner_girth([*links, *target.findings])
    chain_mm = extender_mm(piece.findings or ())
    # A clasp lies straight, but a chain bends at each of its links and follows the body.
    links_of_chain = int(chain_mm / _CHAIN_LINK_MM) + 1
    chain = [Link(along_mm=chain_mm / links_of_chain)] * (links_of_chain if chain_mm else 0)
    return Fit(
        sequence=tuple(sequence),
        strung_mm=strung_mm,
        strung_u95_mm=sum(bead.along_mm * bead.rel_u95 for bead in sequence),
        finished_mm=strung_mm + target.findings_mm,
        finished_longest_mm=strung_mm + target.findings_mm + chain_mm,
        inner_girth_mm=inner_girth_mm,
        inner_girth_longest_mm=inner_girth([*links, *target.findings, *chain]),
        inner_girth_u95_mm=_largest_girth(sequence, target) - inner_girth_mm,
        miss_mm=target.reached_mm(links) - target.goal_mm,
    )


def _largest_girth(sequence: Sequence[BeadPart], target: Target) -> float:
    """Return the inner girth with every bead as large as its uncertainty allows: they share most of it."""
    return inner_girth([*(bead.scaled(1 + bead.rel_u95).link for bead in sequence), *target.findings])


def _length(sequence: Sequence[BeadPart]) -> float:
    return sum(bead.along_mm for bead in sequence)
