"""The whole plan of a piece: beads, lengths, whom it fits, what to cut and buy, mass, cost and sizes."""

from dataclasses import dataclass

from sizing.base.cautions import CAUTIONS
from sizing.base.errors import TargetError
from sizing.base.rules_of_thumb import Rules, rules_of_thumb
from sizing.base.target import Target
from sizing.piece.bill import Cost, Mass, price, weigh
from sizing.piece.clearances import Clearance, clearances
from sizing.piece.cut_list import Cut, Purchase, cut_list, purchases
from sizing.piece.fillers import Filled, fill_ends
from sizing.piece.fit import Fit, count_range, fit_beads
from sizing.piece.girth_range import GirthRange, girth_range
from sizing.piece.piece import Piece, target_from_piece
from sizing.piece.size_run import SizeRow, size_run


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything that follows from a piece and its target; `make_plan` makes it.

    Attributes
    ----------
    piece : Piece
    target : Target
    best : Fit
        The number of beads that comes nearest to the target.
    other : Fit or None
        The nearest on the other side of the target; None where no strand is shorter than the target.
    filled : tuple of Filled
        Ways of filling the ends that come nearer than whole repeats, the nearest first.
    counts : tuple of int or None
        The fewest and the most beads that may come nearest, by the uncertainty of their sizes; None for sizes
        that were typed.
    rules : Rules or None
        What the trade's rules of thumb give, for a girth and one kind of bead.
    girths : GirthRange or None
        Whom the piece fits; None where it fits no adult.
    cuts : tuple of Cut
    purchases : tuple of Purchase
    clearances : tuple of Clearance
    mass : Mass
    cost : Cost or None
    sizes : tuple of SizeRow
        Empty where the piece names no sizes.
    cautions : tuple of str
        What can hurt somebody.
    """

    piece: Piece
    target: Target
    best: Fit
    other: Fit | None
    filled: tuple[Filled, ...]
    counts: tuple[int, int] | None
    rules: Rules | None
    girths: GirthRange | None
    cuts: tuple[Cut, ...]
    purchases: tuple[Purchase, ...]
    clearances: tuple[Clearance, ...]
    mass: Mass
    cost: Cost | None
    sizes: tuple[SizeRow, ...]
    cautions: tuple[str, ...] = CAUTIONS


def make_plan(piece: Piece) -> Plan:
    """Plan a piece.

    Raises
    ------
    TargetError
        The target or the beads are missing, or the target cannot be met.

    Examples
    --------
    A wrist of 160 mm with no ease, rounds of 8 mm and nothing between them: a regular polygon of 23
    leaves 159.4 mm inside, one of 24 leaves 167.4 mm.

    >>> from sizing.piece.parts import BeadPart
    >>> bead = BeadPart(along_mm=8, across_mm=8)
    >>> plan = make_plan(Piece(beads=(bead,), target_mm={"wrist": 160}, ease_mm=0, findings=()))
    >>> [(fit.count, round(fit.inner_girth_mm, 1)) for fit in (plan.best, plan.other)]
    [(23, 159.4), (24, 167.4)]
    """
    target = target_from_piece(piece)
    if target is None:
        raise TargetError(
            'no target is given: add --wrist "6 1/2 in", --finished or --strung, or a [target] in the file'
        )
    best, other = fit_beads(piece, target)
    return Plan(
        piece=piece,
        target=target,
        best=best,
        other=other,
        filled=fill_ends(piece, target, best),
        counts=count_range(piece, target),
        rules=rules_of_thumb(target, piece.beads[0].link) if len(piece.beads) == 1 else None,
        girths=girth_range(best, target),
        cuts=cut_list(piece, best),
        purchases=purchases(piece, best),
        clearances=clearances(piece, best),
        mass=weigh(piece, best),
        cost=price(piece, best),
        sizes=size_run(piece, target),
    )
