"""What becomes of a strand when beads come or go at its ends."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sizing.base.loop import Link, inner_girth
from sizing.base.target import Target
from sizing.strand.size_pattern import Pattern, find_pattern
from vision.common.records import FloatArray, Strand


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to change a strand, and what comes of it.

    Attributes
    ----------
    change_beads : int
        Beads to add (+) or remove (-).
    remove : tuple of int
        Numbers of the beads to take off; empty on a uniform strand, where any usual one will do.
    add_left, add_right : tuple of Link
        Beads to add at the ends, in order along the string.
    count : int
        Beads afterwards.
    strung_mm, finished_mm : float
        Length of the beads closed up; the same with the findings.
    inner_girth_mm : float
        Girth of the largest cylinder inside the closed piece.
    miss_mm : float
        What the piece comes to less what the target asks; above zero it is too long.
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
    """A measured strand closed up, ready to lose or gain beads at its ends.

    Attributes
    ----------
    links : tuple of Link
        The beads; their lengths add up to the closed-up length.
    numbers : tuple of int
        Which bead of the strand each link is.
    pattern : Pattern
    usual : Link
        A bead like most of them.
    """

    links: tuple[Link, ...]
    numbers: tuple[int, ...]
    pattern: Pattern
    usual: Link

    def step(self, rung: int) -> tuple[int, int]:
        """Return the changes at the left and right end, `rung` steps that keep the strand's order."""
        if self.pattern.symmetric and not self.pattern.repeat:
            return rung, rung
        return 0, rung * max(self.pattern.repeat, 1)

    def option(self, left: int, right: int, target: Target) -> Option:
        """Work out what adding (+) or taking off (-) beads at the two ends gives."""
        before, after = self._added(left, right)
        first, last = max(-left, 0), len(self.links) - max(-right, 0)
        chain = [*before, *self.links[first:last], *after]
        strung_mm = sum(link.along_mm for link in chain)
        return Option(
            change_beads=left + right,
            remove=() if self.pattern.uniform else self.numbers[:first] + self.numbers[last:],
            add_left=before,
            add_right=after,
            count=len(chain),
            strung_mm=strung_mm,
            finished_mm=strung_mm + target.findings_mm,
            inner_girth_mm=inner_girth([*chain, *target.findings]),
            miss_mm=target.reached_mm(chain) - target.goal_mm,
        )

    def _added(self, left: int, right: int) -> tuple[tuple[Link, ...], tuple[Link, ...]]:
        """Return the beads that go on at each end so that the order runs on."""
        n, repeat = len(self.links), self.pattern.repeat
        if repeat:
            return (), tuple(_mean(self.links[(n + i) % repeat :: repeat]) for i in range(right))
        end = _mean((self.links[0], self.links[-1])) if self.pattern.symmetric else self.usual
        return (end,) * left, (end,) * right


def make_row(strand: Strand) -> Row:
    """Turn a measured strand into chain links that add up to its closed-up length."""
    pattern = find_pattern(strand.beads)
    along = _filled(np.array([bead.along_mm for bead in strand.beads]), 1.0)
    across = _filled(np.array([bead.across_mm for bead in strand.beads]), float(along.mean()))
    along *= strand.closed_up_mm / along.sum()
    numbers = np.array([bead.number for bead in strand.beads])
    if pattern.uniform:
        # Equal beads share the length equally: their differences are doubt. Odd ones come first, because
        # beads go from the right end and those to spare are usual ones.
        odd = np.isin(numbers, pattern.odd)
        along[~odd] = along[~odd].mean()
        across[~odd] = across[~odd].mean()
        order = np.argsort(~odd, kind="stable")
        along, across, numbers = along[order], across[order], numbers[order]
    links = tuple(Link(along_mm=float(a), across_mm=float(t)) for a, t in zip(along, across, strict=True))
    usual = links[-1] if pattern.uniform else sorted(links, key=lambda link: link.along_mm)[len(links) // 2]
    return Row(links=links, numbers=tuple(int(i) for i in numbers), pattern=pattern, usual=usual)


def _filled(sizes_mm: FloatArray, otherwise_mm: float) -> FloatArray:
    """Give unmeasured beads the mean size of the measured ones, or another where there are none."""
    known = np.isfinite(sizes_mm)
    result: FloatArray = np.where(known, sizes_mm, sizes_mm[known].mean() if known.any() else otherwise_mm)
    return result


def _mean(links: Sequence[Link]) -> Link:
    return Link(
        along_mm=sum(link.along_mm for link in links) / len(links),
        across_mm=sum(link.across_mm for link in links) / len(links),
    )
