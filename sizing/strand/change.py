"""What a strand becomes when beads are added or removed at its ends."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sizing.base.loop import Link, inner_girth
from sizing.base.target import Target
from sizing.strand.size_pattern import Pattern, find_pattern
from vision.common.records import FloatArray, Strand


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
    change_beads : int
        Beads to add (+) or remove (-).
    remove : tuple of int
        Numbers of the beads to remove; empty for a uniform strand, where any usual bead will do.
    add_left, add_right : tuple of Link
        Beads to add at the ends, in order along the string.
    count : int
        Number of beads afterwards.
    strung_mm, finished_mm : float
        Length of the beads with all gaps closed; the same with the findings.
    inner_girth_mm : float
        Girth of the largest cylinder that fits inside the closed piece.
    miss_mm : float
        Length reached minus length wanted; positive where the piece is too long.
    """

    change_beads: int
    remove: tuple[int, ...]
    add_left: tuple[Link, ...]
    add_right: tuple[Link, ...]
    count: int
    strung_mm: float
    finished_mm: float
    inner_girth_mm: float
    miss_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A measured strand with its gaps closed, ready for changes at its ends.

    Attributes
    ----------
    links : tuple of Link
        The beads; their lengths add up to the closed-up length.
    numbers : tuple of int
        The number of each link's bead on the strand.
    pattern : Pattern
    usual : Link
        A typical bead of the strand.

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

    def steps(self, count: int) -> EndChange:
        """Return `count` steps, longer (+) or shorter (-), that keep the pattern of the strand."""
        if self.pattern.symmetric and not self.pattern.repeat:
            return EndChange(left=count, right=count)
        return EndChange(right=count * max(self.pattern.repeat, 1))

    def option(self, change: EndChange, target: Target) -> Option:
        """Return what a change at the ends gives."""
        before, after = self._added(change)
        left, right = change.removed
        chain = [*before, *self.links[left : len(self.links) - right], *after]
        strung_mm = sum(link.along_mm for link in chain)
        return Option(
            change_beads=change.beads,
            remove=() if self.pattern.uniform else self.removed(change),
            add_left=before,
            add_right=after,
            count=len(chain),
            strung_mm=strung_mm,
            finished_mm=strung_mm + target.findings_mm,
            inner_girth_mm=inner_girth([*chain, *target.findings]),
            miss_mm=target.reached_mm(chain) - target.goal_mm,
        )

    def removed(self, change: EndChange) -> tuple[int, ...]:
        """Return the numbers of the beads that a change removes."""
        left, right = change.removed
        return self.numbers[:left] + self.numbers[len(self.numbers) - right :]

    def _added(self, change: EndChange) -> tuple[tuple[Link, ...], tuple[Link, ...]]:
        """Return the beads to add at the left and right end so that the pattern goes on."""
        n, repeat = len(self.links), self.pattern.repeat
        if repeat:
            return (), tuple(_mean(self.links[(n + i) % repeat :: repeat]) for i in range(change.right))
        end = _mean((self.links[0], self.links[-1])) if self.pattern.symmetric else self.usual
        return (end,) * change.left, (end,) * change.right


def make_row(strand: Strand) -> Row:
    """Turn a measured strand into links whose lengths add up to its closed-up length."""
    pattern = find_pattern(strand.beads, scale_rel_u=strand.conditions.scale_rel_u)
    numbers = np.array([bead.number for bead in strand.beads])
    along = _filled(np.array([bead.along_mm for bead in strand.beads]), 1.0)
    across = _filled(np.array([bead.across_mm for bead in strand.beads]), float(along.mean()))
    along *= strand.closed_up_mm / along.sum()
    if pattern.uniform:
        # Beads of one size share the length equally: their measured differences are mostly measuring error.
        odd = np.isin(numbers, pattern.odd)
        along[~odd] = along[~odd].mean()
        across[~odd] = across[~odd].mean()
        # Odd beads first: beads are removed at the right end, and only usual ones may go.
        order = np.argsort(~odd, kind="stable")
        along, across, numbers = along[order], across[order], numbers[order]
    links = tuple(Link(along_mm=float(a), across_mm=float(t)) for a, t in zip(along, across, strict=True))
    return Row(
        links=links,
        numbers=tuple(int(i) for i in numbers),
        pattern=pattern,
        usual=links[-1] if pattern.uniform else _median(links),
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
