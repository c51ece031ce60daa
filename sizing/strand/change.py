"""What a strand becomes when beads are added or removed at its ends."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sizing.base.loop import Link, inner_girth
from sizing.base.target import Target
from sizing.strand.size_pattern import ALIKE_SHARE, Pattern, find_pattern, is_reliable
from vision.common.records import FloatArray, Strand, StrandBead


@dataclass(frozen=True, slots=True, kw_only=True)
class EndChange:
    """Beads to add (+) or remove (-) at the left and at the right end of a strand."""

    left: int = 0
    right: int = 0

    @property
    def beads(self) -> int:
        """Both ends together."""
        return self.left + self.right

    @property
    def removed(self) -> tuple[int, int]:
        """Beads removed at the left and at the right end, counted positive."""
        return max(-self.left, 0), max(-self.right, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to change a strand, and the result.

    Attributes
    ----------
    change_beads, change_spacers : int
        Beads to add (+) or remove (-), and the spacers between them.
    remove : tuple of int
        Numbers of the beads and spacers to remove; empty for a uniform strand, where any usual bead will do.
    remove_spacers : tuple of int
        Which of these are spacers.
    add_left, add_right : tuple of Link
        Beads to add at the ends, in order along the string.
    count, spacers : int
        Number of beads and of spacers afterwards.
    strung_mm, finished_mm : float
        Length of the beads with all gaps closed; the same with the findings.
    inner_girth_mm : float
        Girth of the largest cylinder that fits inside the closed piece.
    miss_mm : float
        Length reached minus length wanted; positive where the piece is too long.
    """

    change_beads: int
    change_spacers: int
    remove: tuple[int, ...]
    remove_spacers: tuple[int, ...]
    add_left: tuple[Link, ...]
    add_right: tuple[Link, ...]
    count: int
    spacers: int
    strung_mm: float
    finished_mm: float
    inner_girth_mm: float
    miss_mm: float

    @property
    def leaves_all(self) -> bool:
        """Whether nothing is added or removed."""
        return self.change_beads == self.change_spacers == 0

    @property
    def remove_beads(self) -> tuple[int, ...]:
        """Numbers of the beads to remove, spacers left out."""
        return tuple(number for number in self.remove if number not in self.remove_spacers)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A measured strand with its gaps closed, ready for changes at its ends.

    Attributes
    ----------
    links : tuple of Link
        The beads and spacers; with the covers their lengths add up to the closed-up length.
    numbers : tuple of int
        The number of each link's bead on the strand.
    pattern : Pattern
        Of beads and spacers; its odd ones are beads.
    usual : Link
        A typical bead of the strand.
    spacers : frozenset of int
        Which of the links are spacers.
    covers : tuple of Link
        Covers at the ends, which stay.

    Examples
    --------
    Twenty rounds of 8 mm, one removed at the right end:

    >>> from sizing.base.target import make_target
    >>> bead, target = Link(along_mm=8, across_mm=8), make_target({"strung": 150})
    >>> pattern, numbers = Pattern(uniform=True), tuple(range(1, 21))
    >>> row = Row(links=(bead,) * 20, numbers=numbers, pattern=pattern, usual=bead)
    >>> option = row.option(EndChange(right=-1), target)
    >>> option.count, option.strung_mm, option.miss_mm
    (19, 152, 2.0)
    """

    links: tuple[Link, ...]
    numbers: tuple[int, ...]
    pattern: Pattern
    usual: Link
    spacers: frozenset[int] = frozenset()
    covers: tuple[Link, ...] = ()

    def steps(self, count: int) -> EndChange:
        """Return `count` steps, longer (+) or shorter (-), that keep the pattern of the strand."""
        if self.pattern.symmetric and not self.pattern.repeat:
            return EndChange(left=count, right=count)
        return EndChange(right=count * max(self.pattern.repeat, 1))

    def option(self, change: EndChange, target: Target) -> Option:
        """Return what a change at the ends gives."""
        before, after = self._added(change)
        left, right = change.removed
        chain = [*before, *self.links[left : len(self.links) - right], *after, *self.covers]
        strung_mm = sum(link.along_mm for link in chain)
        spacers = self._spacers_added(change)
        beads = change.beads - spacers
        remove = () if self.pattern.uniform else self.removed(change)
        spacer_numbers = {self.numbers[k] for k in self.spacers}
        return Option(
            change_beads=beads,
            change_spacers=spacers,
            remove=remove,
            remove_spacers=tuple(number for number in remove if number in spacer_numbers),
            add_left=before,
            add_right=after,
            count=len(self.links) - len(self.spacers) + beads,
            spacers=len(self.spacers) + spacers,
            strung_mm=strung_mm,
            finished_mm=strung_mm + target.findings_mm,
            inner_girth_mm=inner_girth([*chain, *target.findings]),
            miss_mm=target.reached_mm(chain) - target.goal_mm,
        )

    def removed(self, change: EndChange) -> tuple[int, ...]:
        """Return the numbers of the beads that a change removes."""
        left, right = change.removed
        return self.numbers[:left] + self.numbers[len(self.numbers) - right :]

    def _spacers_added(self, change: EndChange) -> int:
        """Return how many spacers a change at the ends adds (+) or removes (-)."""
        n, repeat = len(self.links), self.pattern.repeat
        left, right = change.removed
        removed = [k for k in self.spacers if k < left or k >= n - right]
        added = [k for k in range(change.right) if repeat and (n + k) % repeat in self.spacers]
        return len(added) - len(removed)

    def _added(self, change: EndChange) -> tuple[tuple[Link, ...], tuple[Link, ...]]:
        """Return the beads to add at the left and right end so that the pattern goes on."""
        n, repeat = len(self.links), self.pattern.repeat
        if repeat:
            return (), tuple(_mean(self.links[(n + i) % repeat :: repeat]) for i in range(change.right))
        end = _mean((self.links[0], self.links[-1])) if self.pattern.symmetric else self.usual
        return (end,) * change.left, (end,) * change.right


def make_row(strand: Strand) -> Row:
    """Turn a measured strand into links; beads and spacers may change, covers stay."""
    kept = [part for part in strand.beads if part.kind != "cover"] if strand.count else list(strand.beads)
    pattern = find_pattern(kept, scale_rel_u=strand.conditions.scale_rel_u)
    numbers = np.array([part.number for part in kept])
    spacer = np.array([part.kind == "spacer" for part in kept])
    links, covers = _links(strand, kept)
    if pattern.uniform:
        # Beads of one size share the length equally: their measured differences are mostly measuring error.
        odd = np.isin(numbers, pattern.odd) | spacer
        odd |= _misread(kept, links, ~odd)
        usual = _mean([link for link, is_odd in zip(links, odd, strict=True) if not is_odd])
        # Odd beads first: beads are removed at the right end, and only usual ones may go.
        order = np.argsort(~odd, kind="stable")
        links = tuple(links[k] if odd[k] else usual for k in order)
        numbers, spacer = numbers[order], spacer[order]
        pattern = replace(pattern, odd=tuple(i for i in pattern.odd if i not in numbers[spacer]))
    beads = [link for link, is_spacer in zip(links, spacer, strict=True) if not is_spacer]
    return Row(
        links=links,
        numbers=tuple(int(i) for i in numbers),
        pattern=pattern,
        usual=links[-1] if pattern.uniform else _median(beads or links),
        spacers=frozenset(np.flatnonzero(spacer).tolist()),
        covers=covers,
    )


def _misread(
    kept: Sequence[StrandBead], links: Sequence[Link], chosen: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Return which chosen beads are not of the usual length as they are doubtful: two read as one, say."""
    sure = np.array([is_reliable(part) for part in kept])
    if not (chosen & sure).any():
        return np.zeros(len(kept), dtype=bool)
    along = np.array([link.along_mm for link in links])
    usual = float(np.median(along[chosen & sure]))
    return np.asarray(chosen & ~sure & (np.abs(along - usual) > ALIKE_SHARE * usual))


def _links(strand: Strand, kept: Sequence[StrandBead]) -> tuple[tuple[Link, ...], tuple[Link, ...]]:
    """Return the parts kept, and the others, as links whose lengths add up to the closed-up length."""
    along = _filled(np.array([part.along_mm for part in strand.beads]), 1.0)
    across = _filled(np.array([part.across_mm for part in strand.beads]), float(along.mean()))
    along *= strand.closed_up_mm / along.sum()
    numbers = {part.number for part in kept}
    links = [Link(along_mm=float(a), across_mm=float(t)) for a, t in zip(along, across, strict=True)]
    is_kept = [part.number in numbers for part in strand.beads]
    return (
        tuple(link for link, here in zip(links, is_kept, strict=True) if here),
        tuple(link for link, here in zip(links, is_kept, strict=True) if not here),
    )


def _filled(sizes_mm: FloatArray, default_mm: float) -> FloatArray:
    """Give unmeasured beads the mean size of the measured ones, or a default if none is measured."""
    known = np.isfinite(sizes_mm)
    result: FloatArray = np.where(known, sizes_mm, sizes_mm[known].mean() if known.any() else default_mm)
    return result


def _median(links: Sequence[Link]) -> Link:
    """Return the link of median length, the longer of two middle ones."""
    return sorted(links, key=lambda link: link.along_mm)[len(links) // 2]


def _mean(links: Sequence[Link]) -> Link:
    return Link(
        along_mm=sum(link.along_mm for link in links) / len(links),
        across_mm=sum(link.across_mm for link in links) / len(links),
    )
