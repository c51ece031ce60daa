"""Strands of one piece that lie one around the other, and how much longer each is than the one inside it.

Closed, their strings are closed curves at a fixed distance d from each other, which differ in length by
2 pi d (Steiner's formula). Strands that touch are half of the one's width and half of the other's apart.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sizing.base.target import Target, TargetKind
from sizing.strand.spread import Spread, spread_across, spread_along
from sizing.strand.totals import added_up
from vision.common.records import Strand

_PRINTED_DECIMALS = 1  # of a length in mm: strands that read alike are a tie


@dataclass(frozen=True, slots=True, kw_only=True)
class Nested:
    """Where a strand lies among those of its piece.

    Attributes
    ----------
    place : int
        1 for the innermost strand, 2 for the next.
    target : Target
        The strand's own; it names the strand that this one lies around.
    step_mm : float
        By how much it should be longer than that strand; 0 for the innermost.
    needed_mm, needed_u95_mm : float
        By how much it must be longer for the beads of both to lie beside each other; 0 for the innermost.
    order_sure : bool
        Whether no doubt about a count would change its place.
    """

    place: int
    target: Target
    step_mm: float = 0.0
    needed_mm: float = 0.0
    needed_u95_mm: float = 0.0
    order_sure: bool = True

    @property
    def rides_up(self) -> bool:
        """Whether the step is too small for the beads to lie beside those of the strand inside."""
        return self.step_mm < self.needed_mm


def nest(strands: Sequence[Strand], target: Target) -> dict[int, Nested]:
    """Return the places of the open strands of one photo, by their index, from the inside to the outside.

    The shortest lies inside; of equal ones the first in reading order. A closed loop has no place. Where the
    length or the width of an open one is not known, none has.

    Parameters
    ----------
    strands : sequence of Strand
    target : Target
        Of the innermost strand, with a step.

    Examples
    --------
    Rounds of 6 mm around rounds of 8 mm: the strings are 7 mm apart.

    >>> from sizing.base.target import make_target
    >>> from tests.helpers.strands import make_strand, numbered_on
    >>> strands = numbered_on(make_strand([6.0] * 30), make_strand([8.0] * 20))
    >>> places = nest(strands, replace(make_target({"strung": 160}), step_mm=0.0))
    >>> list(places), round(places[0].target.goal_mm - 160, 2), round(2 * math.pi * 7, 2)
    ([1, 0], 43.98, 43.98)
    """
    inside_out = [k for k, strand in enumerate(strands) if strand.loop is None]
    if any(not is_known(strands[k]) for k in inside_out):
        return {}
    inside_out.sort(key=lambda k: round(strands[k].closed_up_mm, _PRINTED_DECIMALS))
    row = _Row(strands=[strands[k] for k in inside_out], target=target)
    return {k: row.nested(at) for at, k in enumerate(inside_out)}


def is_known(strand: Strand) -> bool:
    """Return whether length and width of a strand are known: it is not cut off, and a bead was measured."""
    return not strand.cut_by and _width(strand).count > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """The strands from the inside to the outside, and the target of the innermost."""

    strands: Sequence[Strand]
    target: Target

    def nested(self, at: int) -> Nested:
        """Return the place of the strand at an index."""
        if not at:
            return Nested(place=1, target=self.target, order_sure=self._order_sure(at))
        needed_mm, needed_u95_mm = self._of_widths(at - 1, [math.pi, math.pi])
        return Nested(
            place=at + 1,
            target=self._target(at),
            step_mm=self.target.step_mm or needed_mm,
            needed_mm=needed_mm,
            needed_u95_mm=needed_u95_mm,
            order_sure=self._order_sure(at),
        )

    def _order_sure(self, at: int) -> bool:
        """Return whether a strand stays longer or shorter than each other, whatever is doubted of counts."""
        least_mm, most_mm = self.strands[at].lengths_mm
        others = [strand.lengths_mm for k, strand in enumerate(self.strands) if k != at]
        return all(longest_mm <= least_mm or most_mm <= shortest_mm for shortest_mm, longest_mm in others)

    def _target(self, at: int) -> Target:
        longer_mm, longer_u95_mm = self._spaced(at) if self.target.step_mm else self._touching(at)
        return replace(
            self.target,
            around=self.strands[at - 1].number,
            longer_mm=longer_mm,
            longer_u95_mm=longer_u95_mm,
        )

    def _touching(self, at: int) -> tuple[float, float]:
        """Return how much longer the beads inside make a strand; its inside only their whole widths do."""
        if self.target.kind is TargetKind.GIRTH:
            return self._of_widths(0, [2 * math.pi] * at)
        return self._of_widths(0, [math.pi, *[2 * math.pi] * (at - 1), math.pi])

    def _spaced(self, at: int) -> tuple[float, float]:
        """Return how much longer given steps make a strand; its inside also where its beads are thinner.

        There the width of the strand's own beads cancels out: the one counted with what it reaches stands
        for that of the innermost strand.
        """
        longer_mm = at * (self.target.step_mm or 0.0)
        if self.target.kind is not TargetKind.GIRTH:
            return longer_mm, 0.0
        innermost, own = _width(self.strands[0]), _width(self.strands[at])
        return longer_mm + math.pi * (innermost.mean_mm - own.mean_mm), 0.0

    def _of_widths(self, first: int, factors: Sequence[float]) -> tuple[float, float]:
        """Return so many times the widths of strands from one on, added up, and the expanded uncertainty."""
        widths = [_width(strand) for strand in self.strands[first : first + len(factors)]]
        parts = [(f * w.mean_mm, f * w.mean_u95_mm) for f, w in zip(factors, widths, strict=True)]
        return added_up(parts, scale_rel_u=self.strands[0].conditions.scale_rel_u)


def _width(strand: Strand) -> Spread:
    """Return the width of a strand's beads; where none was measured they count as round."""
    across = spread_across(strand)
    return across if across.count else spread_along(strand)
