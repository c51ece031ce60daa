"""One piece planned whole: beads, lengths, fits, cut list, purchases, mass, cost and the run of sizes."""

from dataclasses import dataclass

from sizing.base.cautions import CAUTIONS
from sizing.base.errors import TargetError
from sizing.base.rules_of_thumb import Rules, rules_of_thumb
from sizing.base.target import Target
from sizing.piece.bill import Cost, Mass, price, weigh
from sizing.piece.clearances import Clearance, clearances
from sizing.piece.cut_list import Cut, Purchase, cut_list, purchases
from sizing.piece.fit import Fit, fit_beads
from sizing.piece.girth_range import GirthRange, girth_range
from sizing.piece.piece import Piece, target_from_piece
from sizing.piece.size_run import SizeRow, size_run


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything that follows from a piece and its target.

    Attributes
    ----------
    piece : Piece
    target : Target
    best : Fit
        The nearest whole count of beads.
    other : Fit or None
        The nearest on the other side of the target.
    rules : Rules or None
        What the trade's rules of thumb would string, for a girth and one kind of bead.
    girths : GirthRange or None
        Whom the piece fits.
    cuts : tuple of Cut
    purchases : tuple of Purchase
    clearances : tuple of Clearance
    mass : Mass
    cost : Cost or None
    sizes : tuple of SizeRow
        Empty where the piece names no sizes.
    cautions : tuple of str
    """

    piece: Piece
    target: Target
    best: Fit
    other: Fit | None
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
        No target, no beads, or something that does not add up.
    """
    target = target_from_piece(piece)
    if target is None:
        raise TargetError('no target is given: add --wrist "6 1/2 in", --finished or --strung, or a [target]')
    best, other = fit_beads(piece, target)
    return Plan(
        piece=piece,
        target=target,
        best=best,
        other=other,
        rules=rules_of_thumb(target, piece.beads[0].link) if len(piece.beads) == 1 else None,
        girths=girth_range(best, target),
        cuts=cut_list(piece, best),
        purchases=purchases(piece, best),
        clearances=clearances(piece, best),
        mass=weigh(piece, best),
        cost=price(piece, best),
        sizes=size_run(piece, target),
    )
