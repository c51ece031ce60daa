"""How many beads, and which, a strand needs more or fewer to come nearest to its target.

The target is compared with the strand closed up, that is with every gap pushed shut. Beads come and
go by steps that leave the strand's order as it is: one bead on a uniform strand, a whole repeat at
one end of a patterned one, a bead at each end of a symmetric one, any from the ends otherwise.
"""

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sizing.base.errors import TargetError
from sizing.base.loop import Link
from sizing.base.rules_of_thumb import Rules, rules_of_thumb
from sizing.base.search import bracket_target
from sizing.base.target import Target, TargetKind
from sizing.strand.change import Option, Row, make_row
from sizing.strand.colour_order import ColourOrder, colour_order
from sizing.strand.size_pattern import Pattern
from vision.common import flags
from vision.common.records import Strand

_AS_GOOD_MM = 0.5
"""Coming nearer by less than this is not worth moving another bead."""
_MOST_BEADS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do with a strand.

    Attributes
    ----------
    target : Target
    pattern : Pattern
    as_is : Option
        The strand left alone, closed up.
    best : Option
        The nearest that can be reached.
    beyond : Option or None
        The nearest on the other side of the target; None where there is none.
    finer : Option or None
        A nearer one that breaks the repeat or the symmetry.
    colours : ColourOrder or None
        Of a strand of one size.
    in_colour : Option or None
        The nearest that keeps the order of the colours; None where they have none, or nothing changes.
    usual : Link
        The usual bead.
    gaps_mm : float
        Length of all gaps together, as photographed.
    u95_mm : float
        Expanded uncertainty of what `best` comes to.
    count_sure : bool
        No bead carries a doubt about where it ends.
    rules : Rules or None
        For a uniform strand and a girth.
    """

    target: Target
    pattern: Pattern
    as_is: Option
    best: Option
    beyond: Option | None
    finer: Option | None
    colours: ColourOrder | None
    in_colour: Option | None
    usual: Link
    gaps_mm: float
    u95_mm: float
    count_sure: bool
    rules: Rules | None

    @property
    def change_beads(self) -> int:
        """Beads to add (+) or remove (-); 0 where the strand is already the nearest."""
        return self.best.change_beads

    @property
    def margin_mm(self) -> float:
        """How much the measured length may be wrong before `beyond` comes nearer than `best`."""
        if self.beyond is None:
            return math.inf
        return (abs(self.beyond.miss_mm) - abs(self.best.miss_mm)) / 2

    @property
    def certain(self) -> bool:
        """Whether the doubt of the measurement leaves the answer as it is."""
        return self.count_sure and self.margin_mm > self.u95_mm


def advise(strand: Strand, target: Target) -> Advice:
    """Say which beads to add or remove so that a strand comes nearest to its target.

    Raises
    ------
    TargetError
        The target would take more beads than anyone strings.
    """
    row = make_row(strand)
    as_is = row.option(0, 0, target)
    by_steps = _by_steps(row, as_is, target, row.step)
    from_ends = [] if row.pattern.uniform else _from_ends(row, as_is, target)
    ordered = row.pattern.uniform or row.pattern.repeat or row.pattern.symmetric
    best, beyond = _nearest(by_steps if ordered else from_ends + by_steps)
    finer = _nearest([best, *from_ends])[0]
    colours = colour_order(strand.beads) if row.pattern.uniform and not row.pattern.odd else None
    return Advice(
        target=target,
        pattern=row.pattern,
        as_is=as_is,
        best=best,
        beyond=beyond,
        finer=finer if abs(finer.miss_mm) < abs(best.miss_mm) - _AS_GOOD_MM else None,
        colours=colours,
        in_colour=_in_colour(row, as_is, target, colours) if colours and best.change_beads else None,
        usual=row.usual,
        gaps_mm=max(strand.length_mm - strand.closed_up_mm, 0.0),
        u95_mm=_u95_mm(strand, target, best),
        count_sure=not any(flags.UNSURE_SPLIT in (*strand.flags, *bead.flags) for bead in strand.beads),
        rules=_rules(row, target),
    )


def _by_steps(
    row: Row, as_is: Option, target: Target, step: Callable[[int], tuple[int, int]]
) -> list[Option]:
    """Return the options just short of the target and just beyond it, by steps that keep an order.

    `step` tells how many beads so many steps put on, or take off, at the left and at the right end.
    """
    fewest = -((len(row.links) - 1) // max(sum(step(1)), 1))
    step_mm = as_is.strung_mm * sum(step(1)) / len(row.links)
    start = -round(as_is.miss_mm / step_mm)
    if len(row.links) + sum(step(start)) > _MOST_BEADS:
        raise TargetError(f"{target.describe()} would take over {_MOST_BEADS} of these beads: check its unit")
    option = functools.cache(lambda rung: row.option(*step(rung), target))
    rungs = bracket_target(
        lambda rung: option(rung).miss_mm, start=start, lowest=fewest, highest=_MOST_BEADS
    )
    return [option(rung) for rung in rungs]


def _in_colour(row: Row, as_is: Option, target: Target, colours: ColourOrder) -> Option:
    """Return the nearest way that leaves the order of the colours as it is, its beads named.

    A whole repeat goes or comes at the right end; where colours only mirror each other, one bead at each end.
    """

    def step(rung: int) -> tuple[int, int]:
        return (0, rung * colours.repeat) if colours.repeat else (rung, rung)

    best, _ = _nearest(_by_steps(row, as_is, target, step))
    left, right = step(best.change_beads // sum(step(1)))
    gone = row.numbers[: max(-left, 0)] + row.numbers[len(row.numbers) - max(-right, 0) :]
    return replace(best, remove=gone)


def _from_ends(row: Row, as_is: Option, target: Target) -> list[Option]:
    """Return the best way to shorten a strand freely from its ends, and the best just beyond it."""
    ends = np.concatenate([[0.0], np.cumsum([link.along_mm for link in row.links])])
    n = len(row.links)
    # Thickness costs nearly the same girth whichever beads go, so lengths alone can rank the ways.
    miss = as_is.miss_mm - (ends[:, None] + (ends[-1] - ends[::-1]))
    gone = np.add.outer(np.arange(n + 1), np.arange(n + 1))
    ways = []
    for side in (gone < n) & (miss <= 0), (gone < n) & (miss > 0):
        if side.any():
            near = side & (np.abs(miss) <= np.abs(miss[side]).min() + _AS_GOOD_MM)
            easiest = near & (gone == gone[near].min())
            left, right = np.unravel_index(np.where(easiest, np.abs(miss), np.inf).argmin(), miss.shape)
            ways.append(row.option(-int(left), -int(right), target))
    return ways


def _nearest(options: list[Option]) -> tuple[Option, Option | None]:
    """Return the nearest option, fewest beads moved among equals, and the nearest across the target."""

    def effort(option: Option) -> tuple[float, int]:
        return abs(option.miss_mm), abs(option.change_beads)

    best = min(options, key=effort)
    across = [option for option in options if (option.miss_mm > 0) != (best.miss_mm > 0)]
    return best, min(across, key=effort, default=None)


def _u95_mm(strand: Strand, target: Target, best: Option) -> float:
    """Doubt of what is reached: a wrong scale is wrong for the beads that stay and that come alike."""
    length_u95 = strand.closed_up_u95_mm * best.strung_mm / strand.closed_up_mm
    if target.kind is not TargetKind.GIRTH:
        return length_u95
    across = np.array([bead.across_u95_mm for bead in strand.beads])
    known = across[np.isfinite(across)]
    return math.hypot(length_u95, math.pi * float(known.mean()) if known.size else 0.0)


def _rules(row: Row, target: Target) -> Rules | None:
    if not row.pattern.uniform:
        return None
    odd = row.links[: len(row.pattern.odd)]
    return rules_of_thumb(target, row.usual, others_mm=sum(link.along_mm for link in odd), others=len(odd))
