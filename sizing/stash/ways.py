"""What can be made of the stash for a target, or for a run of sizes: ways that its counts allow."""

import contextlib
import itertools
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from sizing.base.errors import TargetError
from sizing.base.target import Target
from sizing.piece.bill import price
from sizing.piece.fit import Fit, fit_beads
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece, target_from_piece
from sizing.piece.size_run import size_run
from sizing.piece.stringing import Layout
from sizing.stash.colours import DIFFERENT, colour_difference
from sizing.stash.entries import Entry, Size
from sizing.stash.matching import SAME_SIZE_SHARE
from sizing.stash.parts import part_of

_MOST_PAIRED = 8
"""So many sizes, those that string the longest, are tried in pairs: 28 repeats for a wrist take half a
second, at double 120 of them take two."""
_FEWEST_GRADUATED = 3  # sizes of a graduated strand: two make a centre and ends (common practice, no source)
_USUAL = BeadPart(along_mm=8.0, across_mm=8.0)  # any bead: the run of sizes does not depend on it

UNIFORM, REPEAT, GRADUATED = "uniform", "repeat", "graduated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Beads of one size of an entry."""

    entry: Entry
    size: Size

    @property
    def part(self) -> BeadPart:
        """The beads as a part of a piece."""
        return part_of(self.entry, self.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How many beads of one size a way takes.

    Attributes
    ----------
    source : Source
    needed : int
    """

    source: Source
    needed: int

    @property
    def left(self) -> int:
        """How many are left over; negative for those that are lacking."""
        return self.source.size.count - self.needed


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way to make a piece, or one of each size.

    Attributes
    ----------
    kind : str
        `uniform`, `repeat` or `graduated`.
    piece : Piece
        For planning it: beads, order and target.
    fits : tuple of Fit
        The piece for the target, then one for each further size.
    needs : tuple of Need
        For all of them together.
    cost : float or None
        Of all materials whose cost is known; None where that of a bead is not, or currencies differ.
    currency : str
    """

    kind: str
    piece: Piece
    fits: tuple[Fit, ...]
    needs: tuple[Need, ...]
    cost: float | None
    currency: str

    @property
    def lacking(self) -> int:
        """How many beads are missing, of all sizes."""
        return sum(max(-need.left, 0) for need in self.needs)

    @property
    def miss_mm(self) -> float:
        """How far the piece is off that comes least near to its target; positive if too long."""
        return max((fit.miss_mm for fit in self.fits), key=abs)


def ways_to_make(stash: Sequence[Entry], wanted: Piece, *, repeat: Sequence[Source] = ()) -> tuple[Way, ...]:
    """Return ways to make a piece of kept beads: those that need nothing more first, then the nearest ones.

    Parameters
    ----------
    stash : sequence of Entry
    wanted : Piece
        Without beads: target, findings, further sizes. With further sizes, one piece of each is made.
    repeat : sequence of Source, keyword-only
        Beads of one repeat, in order; then this is the only way that is planned.

    Returns
    -------
    tuple of Way
        By rising number of beads that are lacking, then by how far the piece is off in whole millimetres,
        then by number of lots, then by name. Each size alone is always among them, whatever is lacking.
        Repeats of two sizes and graduated strands are listed only where nothing is lacking. Spacers are
        strung with beads only.

    Raises
    ------
    TargetError
        No target is given, or it cannot be met.

    Notes
    -----
    A graduated strand is made of all sizes of an entry, or of sizes of the stash whose colours differ by
    less than `DIFFERENT` and whose sizes differ by more than `SAME_SIZE_SHARE`, at least three.
    """
    maker = _Maker(wanted=wanted, targets=_targets(wanted))
    if repeat:
        return (maker.way(REPEAT, repeat),)
    have = [Source(entry=entry, size=size) for entry in stash for size in entry.sizes if size.count]
    beads = [source for source in have if source.size.kind == "bead"]
    ways = [
        *maker.possible(UNIFORM, ([source] for source in beads)),
        *(way for way in maker.possible(REPEAT, _pairs(have, maker.targets)) if not way.lacking),
        *(way for way in maker.possible(GRADUATED, _graduated(beads)) if not way.lacking),
    ]
    return tuple(sorted(ways, key=_rank))


def no_target() -> TargetError:
    """Return the error that says that a target is missing."""
    return TargetError('no target is given: add --wrist "6 1/2 in", --finished or --strung')


def _rank(way: Way) -> tuple[int, int, int, str]:
    names = ", ".join(need.source.entry.name for need in way.needs)
    return way.lacking, round(abs(way.miss_mm)), len(way.needs), names


def _targets(wanted: Piece) -> tuple[Target, ...]:
    target = target_from_piece(wanted)
    if target is None:
        raise no_target()
    return target, *(row.target for row in size_run(replace(wanted, beads=(_USUAL,)), target))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Maker:
    """Plans ways for the same targets."""

    wanted: Piece
    targets: tuple[Target, ...]

    def possible(self, kind: str, choices: Iterator[Sequence[Source]]) -> Iterator[Way]:
        """Plan choices, but for those that no number of beads brings to the target."""
        for sources in choices:
            with contextlib.suppress(TargetError):
                yield self.way(kind, sources)

    def way(self, kind: str, sources: Sequence[Source]) -> Way:
        """Plan one way, the beads in this order."""
        layout = Layout(graduated=True) if kind == GRADUATED else self.wanted.layout
        currency = _currency(sources)
        piece = replace(
            self.wanted,
            beads=tuple(source.part for source in sources),
            layout=layout,
            work=replace(self.wanted.work, currency=currency or ""),
        )
        fits = tuple(fit_beads(piece, target)[0] for target in self.targets)
        strung = sum((Counter(dict(fit.tally)) for fit in fits), Counter[BeadPart]())
        source_of = {source.part: source for source in sources}
        return Way(
            kind=kind,
            piece=piece,
            fits=fits,
            needs=tuple(Need(source=source, needed=strung[part]) for part, source in source_of.items()),
            cost=None if currency is None else _cost(piece, fits),
            currency=currency or "",
        )


def _currency(sources: Sequence[Source]) -> str | None:
    """Return the one currency that all beads were paid in; None where there are several."""
    paid = {source.entry.details.currency for source in sources}
    return paid.pop() if len(paid) == 1 else None


def _cost(piece: Piece, fits: Sequence[Fit]) -> float | None:
    if any(bead.cost is None for bead in piece.beads):
        return None
    costs = [price(piece, fit) for fit in fits]
    return sum(cost.materials for cost in costs if cost)


def _pairs(have: Sequence[Source], targets: Sequence[Target]) -> Iterator[Sequence[Source]]:
    """Yield two sizes, of those that string the longest, where a quick look does not rule them out."""
    longest = sorted(have, key=lambda source: -source.size.count * source.size.along_mm)[:_MOST_PAIRED]
    for pair in itertools.combinations(longest, 2):
        pair_mm = sum(source.size.along_mm for source in pair)
        # The inside of a closed piece is shorter than its string, so a girth takes this many or more.
        fewest = sum(int((target.goal_mm - target.findings_mm) / pair_mm) for target in targets)
        has_beads = any(source.size.kind == "bead" for source in pair)
        if has_beads and min(source.size.count for source in pair) >= fewest:
            yield pair


def _graduated(have: Sequence[Source]) -> Iterator[Sequence[Source]]:
    """Yield sizes for a graduated strand, the largest first, each choice once."""
    choices = [[other for other in have if other.entry.number == each.entry.number] for each in have]
    choices += [_alike(have, largest) for largest in have]
    keys = {
        tuple((s.entry.number, s.size.place) for s in choice): choice
        for choice in (_falling(choice) for choice in choices)
        if len(choice) >= _FEWEST_GRADUATED
    }
    return iter(keys.values())


def _alike(have: Sequence[Source], largest: Source) -> list[Source]:
    """Return a size and smaller ones of its colour, of each size the one with most beads."""
    alike = [
        source
        for source in have
        if source.size.along_mm <= largest.size.along_mm
        and colour_difference(source.size.colour_rgb, largest.size.colour_rgb) < DIFFERENT
    ]
    chosen = [largest]
    for source in sorted(alike, key=lambda source: -source.size.count):
        if all(_apart(source, other) for other in chosen):
            chosen.append(source)
    return chosen


def _apart(one: Source, other: Source) -> bool:
    low_mm, high_mm = sorted((one.size.along_mm, other.size.along_mm))
    return high_mm - low_mm > SAME_SIZE_SHARE * high_mm


def _falling(sources: Sequence[Source]) -> list[Source]:
    return sorted(sources, key=_along_mm, reverse=True)


def _along_mm(source: Source) -> float:
    return source.size.along_mm
