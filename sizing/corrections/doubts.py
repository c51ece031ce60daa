"""What is still doubtful about the count of a strand once its maker has put beads right."""

from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from typing import Literal

from sizing.corrections.row import Part
from vision.checks.count import doubt_flags
from vision.common import flags
from vision.common.records import Doubt, Strand

Said = Literal["", "shortened", "settled"]
"""Of an end: nothing; that its outermost is no bead; or where it is, by a stopper or a missed bead there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What corrections tell about the doubts of a strand.

    Attributes
    ----------
    named : set of int
        Beads, by their old numbers, of which the maker says what they are.
    filled : set of int
        Beads, by their old numbers, that a missed one follows.
    ends : dict
        What is said of the `left end` and the `right end`.
    more : int
        Beads more (+) or fewer (-) than were counted.
    """

    named: AbstractSet[int]
    filled: AbstractSet[int]
    ends: Mapping[str, Said]
    more: int


def still_doubted(doubts: Iterable[Doubt], known: Known) -> tuple[Doubt, ...]:
    """Return the doubts that corrections leave, beads by their old numbers.

    Examples
    --------
    >>> joint = Doubt(place="joint", number=4, beads=-1)
    >>> known = Known(named={5}, filled=set(), ends={}, more=0)
    >>> still_doubted([joint], known), len(still_doubted([replace(joint, number=9)], known))
    ((), 1)
    """
    left = [_rest(doubt, known) for doubt in doubts]
    return tuple(doubt for doubt in left if doubt is not None)


def renumbered(doubts: Iterable[Doubt], row: Sequence[Part]) -> tuple[Doubt, ...]:
    """Return doubts by the new numbers of their beads, 1, 2, 3 ... in this row; those without one go."""
    new = {old: k for k, part in enumerate(row, 1) for old in part.bead.was or ()}
    kept = (doubt for doubt in doubts if doubt.number == 0 or doubt.number in new)
    kept = (d for d in kept if d.place not in {"gap", "joint"} or new[d.number] < len(row))
    return tuple(replace(doubt, number=new.get(doubt.number, 0)) for doubt in kept)


def strand_flags(strand: Strand, doubts: Sequence[Doubt]) -> tuple[str, ...]:
    """Return the flags of a strand as a whole, of which only this is doubted any more."""
    settled = {*doubt_flags(strand.doubts)} - {*doubt_flags(tuple(doubts))}
    return tuple(flag for flag in strand.flags if flag not in settled)


def cleared(row: Sequence[Part], before: Iterable[Doubt], after: Iterable[Doubt]) -> list[Part]:
    """Return beads without the flag of an unsure division, where nothing doubts them any more."""
    settled = _doubted(before) - _doubted(after)
    return [
        replace(part, bead=replace(part.bead, flags=_without_split(part.bead.flags)))
        if settled & set(part.bead.was or ())
        else part
        for part in row
    ]


def _rest(doubt: Doubt, known: Known) -> Doubt | None:
    """Return a doubt, what is left of it, or None where the maker has settled it."""
    if doubt.place == "strand":
        rest = doubt.beads - known.more
        return replace(doubt, beads=rest) if rest * doubt.beads > 0 else None
    said = known.ends.get(doubt.place, "")
    by_end = said == "settled" or (said == "shortened" and doubt.beads > 0)
    by_bead = bool(_beads_of(doubt) & known.named)
    by_gap = doubt.place == "gap" and doubt.number in known.filled
    return None if by_end or (by_bead and doubt.place != "gap") or by_gap else doubt


def _beads_of(doubt: Doubt) -> set[int]:
    """Return the old numbers of the beads that a doubt is about."""
    if doubt.place == "joint":
        return {doubt.number, doubt.number + 1}
    return {doubt.number} if doubt.number else set()


def _doubted(doubts: Iterable[Doubt]) -> set[int]:
    return {number for doubt in doubts if doubt.place != "gap" for number in _beads_of(doubt)}


def _without_split(found: Sequence[str]) -> tuple[str, ...]:
    return tuple(flag for flag in found if flag != flags.UNSURE_SPLIT)
