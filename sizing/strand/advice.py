"""How many beads, and which, to add to a strand or remove from it to come nearest to its target.

The strand is compared with all its gaps closed. Beads are added and removed in steps that keep the
pattern of the strand: one bead on a uniform strand, a whole repeat at one end of a repeating one, a bead
at each end of a symmetric one. A strand without a pattern is shortened freely from both ends.
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
from sizing.strand.change import EndChange, Option, Row, make_row
from sizing.strand.colour_order import ColourOrder, colour_order
from sizing.strand.doubtful import Doubtful, count_sure, doubtful_change
from sizing.strand.size_pattern import Pattern
from vision.common.records import Strand

_AS_GOOD_MM = 0.5
"""Coming nearer by less is not worth moving another bead: about the uncertainty of a strand's length."""
_MOST_BEADS = 2000
"""Stops a mistyped unit. At half, a 2 m rope of 2 mm beads would be refused; double only takes longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do with a strand.

    Attributes
    ----------
    target : Target
    pattern : Pattern
    as_is : Option
        The strand left unchanged.
    best : Option
        The change that comes nearest to the target.
    beyond : Option or None
        The nearest on the other side of the target; None if there is none.
    finer : Option or None
        A nearer one that breaks the repeat or the symmetry.
    colours : ColourOrder or None
        Order of the colours on a strand of one size.
    in_colour : Option or None
        The nearest that keeps the order of the colours; None if they have no order or nothing changes.
    usual : Link
        A typical bead of the strand.
    gaps_mm : float
        Total length of all gaps as photographed.
    u95_mm : float
        Expanded uncertainty of the length that `best` reaches.
    wanted_u95_mm : float
        Expanded uncertainty of `wanted_mm`: of the thickness that the beads take from the inside, and of what
        lies inside.
    bend_u95_mm : float
        What a bend, on whose outer side beads gape, leaves uncertain; infinite for a strand cut off.
    count_sure : bool
        Whether neither the strand nor a bead of it is flagged for an uncertain count.
    scale_checked : bool
        Whether the sheet was measured, and nothing typed about it is questioned.
    rules : Rules or None
        The trade's rules of thumb, for a uniform strand and a girth.
    doubtful : Doubtful or None
        How the answer changes with what is doubted about the count.
    cut_by : tuple of str
        What the strand runs out of, or into: then nothing can be said.
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
    wanted_u95_mm: float
    bend_u95_mm: float
    count_sure: bool
    scale_checked: bool
    rules: Rules | None
    doubtful: Doubtful | None
    cut_by: tuple[str, ...]

    @property
    def change_beads(self) -> int:
        """Beads to add (+) or remove (-); 0 if the strand is already the nearest."""
        return self.best.change_beads

    @property
    def wanted_mm(self) -> float:
        """Strung length that would meet the target exactly.

        What the string is too long the inside is too: closed curves a fixed distance apart differ in length
        by a fixed amount (Steiner's formula).
        """
        return self.best.strung_mm - self.best.miss_mm

    @property
    def margin_mm(self) -> float:
        """Error of the measured length, in mm, at which `beyond` would come nearer than `best`."""
        if self.beyond is None:
            return math.inf
        return (abs(self.beyond.miss_mm) - abs(self.best.miss_mm)) / 2

    @property
    def certain(self) -> bool:
        """Whether no error within the measurement uncertainty would change the answer."""
        return self.count_sure and self.scale_checked and self.margin_mm > self.u95_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """A strand to be changed and its target."""

    row: Row
    target: Target
    as_is: Option

    def option(self, change: EndChange) -> Option:
        return self.row.option(change, self.target)


def advise(strand: Strand, target: Target) -> Advice:
    """Return which beads to add or remove so that a strand comes nearest to its target.

    Raises
    ------
    TargetError
        The target takes over 2000 beads.

    Examples
    --------
    21 rounds of 8 mm string to 168 mm; for 153 mm two are too many:

    >>> from sizing.base.target import make_target
    >>> from tests.helpers.strands import make_strand
    >>> advice = advise(make_strand([8.0] * 21), make_target({"strung": 153}))
    >>> advice.change_beads, advice.best.strung_mm, advice.certain
    (-2, 152.0, True)
    """
    row = make_row(strand)
    wanted_u95_mm = math.hypot(_thickness_u95_mm(strand, target), target.longer_u95_mm)
    task = _Task(row=row, target=target, as_is=row.option(EndChange(), target))
    in_pattern = _by_steps(task, row.steps)
    from_ends = [] if row.pattern.uniform else _from_ends(task)
    best, beyond = _nearest(in_pattern if row.pattern.has_order else from_ends + in_pattern)
    finer = _nearest([best, *from_ends])[0]
    alike = row.pattern.uniform and not row.pattern.odd and not row.spacers
    colours = colour_order(strand.of_kind("bead")) if alike else None
    return Advice(
        target=target,
        pattern=row.pattern,
        as_is=task.as_is,
        best=best,
        beyond=beyond,
        finer=finer if abs(finer.miss_mm) < abs(best.miss_mm) - _AS_GOOD_MM else None,
        colours=colours,
        in_colour=_in_colour(task, colours) if colours and best.change_beads else None,
        usual=row.usual,
        gaps_mm=max(strand.length_mm - strand.closed_up_mm, 0.0),
        u95_mm=math.hypot(strung_u95_mm(strand, best), wanted_u95_mm),
        wanted_u95_mm=wanted_u95_mm,
        bend_u95_mm=_bend_u95_mm(strand),
        count_sure=count_sure(strand),
        scale_checked=strand.conditions.scale_checked,
        rules=_rules(row, target),
        doubtful=doubtful_change(strand, lambda other: advise(other, target).change_beads),
        cut_by=strand.cut_by,
    )


def _by_steps(task: _Task, steps: Callable[[int], EndChange]) -> list[Option]:
    """Return the options just below and just above the target.

    `steps` gives the change at the ends for a number of steps, longer (+) or shorter (-).
    """
    beads, per_step = len(task.row.links), steps(1).beads
    start = -round(task.as_is.miss_mm / (task.as_is.strung_mm * per_step / beads))
    if beads + steps(start).beads > _MOST_BEADS:
        goal = task.target.describe()
        raise TargetError(f"{goal} would take over {_MOST_BEADS} of these beads: check its unit")
    option = functools.cache(lambda count: task.option(steps(count)))
    counts = bracket_target(
        lambda count: option(count).miss_mm,
        start=start,
        lowest=-((beads - 1) // max(per_step, 1)),
        highest=_MOST_BEADS,
    )
    return [option(count) for count in counts]


def _in_colour(task: _Task, colours: ColourOrder) -> Option:
    """Return the nearest option that keeps the order of the colours; it names the beads to remove.

    A whole repeat is added or removed at the right end. If the colours are only symmetric, one bead is
    added or removed at each end.
    """

    def steps(count: int) -> EndChange:
        left, right = (0, count * colours.repeat) if colours.repeat else (count, count)
        return EndChange(left=left, right=right)

    best, _ = _nearest(_by_steps(task, steps))
    return replace(best, remove=task.row.removed(steps(best.change_beads // steps(1).beads)))


def _from_ends(task: _Task) -> list[Option]:
    """Return the best way to shorten a strand freely from its ends, and the best just above the target."""
    ends = np.concatenate([[0.0], np.cumsum([link.along_mm for link in task.row.links])])
    n = len(task.row.links)
    # Both [removed at the left, removed at the right]. Thickness costs nearly the same girth whichever
    # beads are removed, so lengths alone rank the ways.
    miss = task.as_is.miss_mm - (ends[:, None] + (ends[-1] - ends[::-1]))
    removed = np.add.outer(np.arange(n + 1), np.arange(n + 1))
    options = []
    for side in (removed < n) & (miss <= 0), (removed < n) & (miss > 0):
        if side.any():
            near = side & (np.abs(miss) <= np.abs(miss[side]).min() + _AS_GOOD_MM)
            fewest = near & (removed == removed[near].min())
            left, right = np.unravel_index(np.where(fewest, np.abs(miss), np.inf).argmin(), miss.shape)
            options.append(task.option(EndChange(left=-int(left), right=-int(right))))
    return options


def _nearest(options: list[Option]) -> tuple[Option, Option | None]:
    """Return the nearest option, the fewest beads moved among equals, and the nearest across the target."""

    def effort(option: Option) -> tuple[float, int]:
        return abs(option.miss_mm), abs(option.change_beads)

    best = min(options, key=effort)
    across = [option for option in options if (option.miss_mm > 0) != (best.miss_mm > 0)]
    return best, min(across, key=effort, default=None)


def strung_u95_mm(strand: Strand, best: Option) -> float:
    """Return the expanded uncertainty of the strung length that is reached.

    It grows with the length: an error of scale applies to the beads that stay and to those added alike.
    """
    return strand.closed_up_u95_mm * best.strung_mm / strand.closed_up_mm


def _bend_u95_mm(strand: Strand) -> float:
    """Return what closing the gaps adds to the uncertainty of measuring; doubts of the count have no say."""
    length_u95_mm, closed_up_u95_mm = strand.measuring_u95_mm
    if not math.isfinite(length_u95_mm):  # cut off
        return math.inf
    return math.sqrt(max(closed_up_u95_mm**2 - length_u95_mm**2, 0.0))


def _thickness_u95_mm(strand: Strand, target: Target) -> float:
    """Return the expanded uncertainty of what the thickness d of the beads takes from a girth: pi d."""
    across = np.array([bead.across_u95_mm for bead in strand.beads])
    known = across[np.isfinite(across)]
    return math.pi * float(known.mean()) if target.kind is TargetKind.GIRTH and known.size else 0.0


def _rules(row: Row, target: Target) -> Rules | None:
    if not row.pattern.uniform:
        return None
    odd = [k for k, link in enumerate(row.links) if link != row.usual]
    others_mm = sum(link.along_mm for link in [*row.covers, *(row.links[k] for k in odd)])
    others = len(set(odd) - row.spacers)
    return rules_of_thumb(target, row.usual, others_mm=others_mm, others=others)
