"""Why the count of a strand may be wrong, and what count and length would then be.

A bead in doubt within the strand changes the count alone. One in doubt at an end, or a piece left out there,
moves the end, and so changes the length as well.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import takewhile
from typing import Literal

import numpy as np

from vision.common import flags
from vision.common.records import Doubt, FloatArray, Mask

UNCLEAR = 0.6
"""The count is not certain where it is less sure than this that a bead is one, and not two or none. Of 4986
beads 74 % below this were one, from here to 0.8 94 %, above 98.5 %. At double every bead is flagged."""
_FAINT = 0.85
"""What is found less likely to be a bead may be a stopper. Of 24 end beads of drawn and traced strands that
are less likely 2 are none, of 294 others 1. At double every count is flagged."""
_PERHAPS = 0.15
"""What is likelier than this to be a bead, and was left out at an end, may be one. Of 46 such pieces beyond
traced rods and wires 25 were, of 99 others 11; of 14 beyond drawn ones 1. At double three wrong counts more
of 129 are stated as certain, at half six right ones more of 173 are doubted."""
_HIDING_GAP = 0.7
"""Where nothing is seen of the bare string as far as this, in median beads, a bead may hide. Of 89 gaps as
long 17 hid one, in two of which string was seen all along, and in 44 of the 72 others."""
_SURE_ROW = 3
"""A strand surely reaches as far as so many beads in a row of which none is in doubt: two loops of a spring
can look like beads, rarely more."""
_STOPPERS = 2
"""On a rod."""

_End = Literal["left end", "right end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceBeyond:
    """A piece beyond an end that was not taken for a bead.

    `likely` is the probability that it is one; `reach_mm` how much longer the strand is with it, its gap
    included.
    """

    likely: float
    length_mm: float
    reach_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CountEvidence:
    """What speaks for and against each bead of a strand.

    Attributes
    ----------
    clarity, likely : ndarray, shape (B,)
        How sure it is that the place of a bead holds exactly one, and that it shows a bead at all.
    ends : tuple of float
        How likely the first and the last are beads, as their kinds and looks say besides.
    along_mm, gaps_mm : ndarray, shape (B,)
        Length of each bead, and of the free string after it.
    unseen_mm : ndarray, shape (B,)
        How much of that string is not seen bare.
    before, after : tuple of PieceBeyond
        What was left out beyond the left and the right end, the nearest first.
    rod : bool
        Whether stoppers are expected.
    from_above : tuple of int
        The fewest and the most beads that the network of beads sees, which takes each by itself.
    """

    clarity: FloatArray
    likely: FloatArray
    ends: tuple[float, float]
    along_mm: FloatArray
    gaps_mm: FloatArray
    unseen_mm: FloatArray
    before: tuple[PieceBeyond, ...]
    after: tuple[PieceBeyond, ...]
    rod: bool
    from_above: tuple[int, int]

    @property
    def typical_mm(self) -> float:
        """Median length of a bead."""
        return float(np.median(self.along_mm))

    @property
    def joints(self) -> Mask:
        """Whether only its joint with the next bead is in doubt, shape (B,): both are unclear, and touch."""
        unclear = self.clarity < UNCLEAR
        found = np.zeros(len(unclear), dtype=bool)
        same = unclear[:-1] & unclear[1:] & (self.gaps_mm[:-1] == 0)
        for k in np.flatnonzero(same):
            found[k] = k == 0 or not found[k - 1]
        return found

    @property
    def faint(self) -> Mask:
        """Which may be no beads, shape (B,)."""
        found = self.likely < _FAINT
        found[[0, -1]] |= np.array(self.ends) < _FAINT
        return np.asarray(found)

    @property
    def doubtful(self) -> Mask:
        """Which beads may be none, or several, shape (B,)."""
        joined = self.joints
        joined[1:] |= self.joints[:-1]
        return np.asarray(((self.clarity < UNCLEAR) & ~joined) | self.faint)

    @property
    def broken(self) -> Mask:
        """Where a gap wider than usual has room for a bead, shape (B - 1,): what follows may be apart."""
        usual = 2 * float(np.median(self.gaps_mm[:-1])) if len(self.gaps_mm) > 1 else 0.0
        return np.asarray(self.gaps_mm[:-1] > self.typical_mm + usual)


def contradicted(count: int, *, surely_seen: int) -> bool:
    """Return whether the network of beads surely sees twice as many or more, stoppers aside.

    Then what was divided is no row of beads: no count near either of the two can be stated.
    """
    return surely_seen >= 2 * count + _STOPPERS


def doubts_about(row: CountEvidence) -> tuple[Doubt, ...]:
    """Return all reasons why a strand may hold more or fewer beads; none where its count is certain."""
    count, doubtful, broken = len(row.along_mm), row.doubtful, row.broken
    if count == 1:  # no row: nothing of its kind confirms that it is a bead
        return tuple(_shorter(row, range(1), "left end"))
    left, right = _unsure_run(doubtful, broken), _unsure_run(doubtful[::-1], broken[::-1])
    if left + right >= count:  # nothing is certain but that there is a bead
        left, right = count - 1, 0
    first, last = range(left), range(count - 1, count - 1 - right, -1)
    return (
        *_shorter(row, first, "left end"),
        *_longer(row, first, "left end"),
        *_within(row, slice(left, count - right)),
        *_shorter(row, last, "right end"),
        *_longer(row, last, "right end"),
        *_counted_otherwise(row),
    )


def doubt_flags(doubts: tuple[Doubt, ...]) -> tuple[str, ...]:
    """Return the flags of a strand of which this is doubted."""
    divided = {doubt.place in {"bead", "joint"} for doubt in doubts}
    return tuple(
        flag for flag, on in ((flags.UNSURE_SPLIT, True), (flags.UNSURE_COUNT, False)) if on in divided
    )


def _unsure_run(doubtful: Mask, broken: Mask) -> int:
    """Return how many beads (B,), with breaks (B - 1,) between, lie before the first row of sure ones."""
    row = min(_SURE_ROW, len(doubtful))
    sure = np.convolve(~doubtful, np.ones(row), mode="valid") == row
    whole = np.convolve(broken, np.ones(row - 1), mode="valid") == 0 if row > 1 else sure
    return int(np.argmax(sure & whole)) if (sure & whole).any() else len(doubtful)


def _shorter(row: CountEvidence, outermost: range, end: _End) -> Iterator[Doubt]:
    """Yield the beads at an end that may be none, the outermost first.

    One that alone is in doubt, for its outer end, surely is one: of 20 drawn and traced ones all were there.
    """
    inner = 0 if end == "left end" else -1  # from a bead to the gap towards the others
    for k in outermost:
        if len(outermost) == 1 < len(row.along_mm) and not row.faint[k] and not row.broken[k + inner]:
            return
        gap = row.gaps_mm[k + inner]
        yield Doubt(
            place=end,
            number=k + 1,
            beads=-1,
            length_mm=-float(row.along_mm[k] + gap),
            closed_up_mm=-float(row.along_mm[k]),
        )


def _longer(row: CountEvidence, outermost: range, end: _End) -> Iterator[Doubt]:
    """Yield pieces left out at an end that may be beads, nearest first; else one beyond a doubtful bead."""
    beyond = row.before if end == "left end" else row.after
    left_out = [*takewhile(lambda piece: piece.likely > _PERHAPS, beyond)]
    yield from (Doubt(place=end, beads=1, length_mm=p.reach_mm, closed_up_mm=p.length_mm) for p in left_out)
    if not left_out and outermost and row.doubtful[outermost[0]]:  # of 40 drawn ones more lay beyond 8
        more = row.typical_mm
        yield Doubt(place=end, number=outermost[0] + 1, beads=1, length_mm=more, closed_up_mm=more)


def _within(row: CountEvidence, certain: slice) -> Iterator[Doubt]:
    """Yield what is in doubt between the certain ends: beads, joints and gaps."""
    typical, joints, doubtful = row.typical_mm, row.joints, row.doubtful
    for k in range(certain.start, certain.stop):
        along, unseen = float(row.along_mm[k]), float(row.unseen_mm[k])
        if joints[k]:
            yield Doubt(place="joint", number=k + 1, beads=-1)
        elif doubtful[k] and round(along / typical) > 1:  # rather several than none
            yield Doubt(place="bead", number=k + 1, beads=round(along / typical) - 1)
        elif doubtful[k]:
            yield Doubt(place="bead", number=k + 1, beads=-1, closed_up_mm=-along)
        if k < certain.stop - 1 and unseen > _HIDING_GAP * typical:
            hidden = max(int(unseen / typical), 1)
            yield Doubt(place="gap", number=k + 1, beads=hidden, closed_up_mm=hidden * typical)


def _counted_otherwise(row: CountEvidence) -> list[Doubt]:
    """Return the doubt that the network of beads counts otherwise, as far as it is sure.

    It may take stoppers for beads: on a rod up to two more are no contradiction.
    """
    least, most = row.from_above
    count, stoppers = len(row.along_mm), _STOPPERS if row.rod else 0
    more = max(least - stoppers - count, 0)
    fewer = min(most - count, 0) if least == most else 0
    return [Doubt(place="strand", beads=more + fewer)] if more or fewer else []
