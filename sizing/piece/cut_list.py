"""What to cut and what to buy for one piece."""

import math
from dataclasses import dataclass

from sizing.piece.fit import Fit
from sizing.piece.parts import BeadPart, Kind
from sizing.piece.piece import Piece

_STRAND_MM = 406.4  # 16 in, the usual strand: International Gem Society, bead and necklace size charts
_ROUNDING = 1e-9  # a binary fraction this close to a whole number is that number
_HOW_CUT = {
    Kind.FRENCH_WIRE: "one at each end",
    Kind.EXTENDER: "the whole chain",
    Kind.HEADPIN: "for the end bead",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """Something to cut to length.

    Attributes
    ----------
    name : str
    count : int
    length_mm : float
        Of each.
    how : str
        What the length is made of, or where the part goes.
    """

    name: str
    count: int
    length_mm: float
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """Beads of one kind to buy for one piece.

    Attributes
    ----------
    bead : BeadPart
    strung : int
        How many the piece takes.
    lacking : int
        How many of those are not there already.
    to_buy : int
        How many to buy, with the spare ones.
    per_strand : int
        How many go on a 16 inch strand by their length; shops' tables give up to 4 % fewer.
    strands : int
        How many such strands hold `to_buy`.
    """

    bead: BeadPart
    strung: int
    lacking: int
    to_buy: int
    per_strand: int
    strands: int


def wire_mm(piece: Piece, fit: Fit) -> float:
    """Return the length of wire to cut, in mm: the strung length, and at each end a loop and a tail."""
    return fit.strung_mm + 2 * (piece.wire.tail_mm + piece.wire.loop_mm)


def cut_list(piece: Piece, fit: Fit) -> tuple[Cut, ...]:
    """Return what to cut for one piece, the wire first.

    Examples
    --------
    A 5 1/2 in strand and 2 1/4 in of tail and loop at each end take 10 in of wire:

    >>> from sizing.piece.plan import make_plan
    >>> bead = BeadPart(along_mm=6.35, across_mm=6.35)
    >>> plan = make_plan(Piece(beads=(bead,), target_mm={"strung": 5.5 * 25.4}))
    >>> [wire] = cut_list(plan.piece, plan.best)
    >>> round(wire.length_mm / 25.4, 6)
    10.0
    """
    wire = Cut(
        name="wire",
        count=1,
        length_mm=wire_mm(piece, fit),
        how="strung length, and at each end the loop through the clasp's ring and the tail",
    )
    others = (
        Cut(
            name=finding.title,
            count=finding.count,
            length_mm=finding.length_mm if finding.cut_mm is None else finding.cut_mm,
            how=_HOW_CUT[finding.kind],
        )
        for finding in piece.findings or ()
        if finding.kind in _HOW_CUT
    )
    return wire, *(cut for cut in others if cut.length_mm > 0)


def purchases(piece: Piece, fit: Fit) -> tuple[Purchase, ...]:
    """Return the beads to buy for one piece, by kind."""
    return tuple(purchase(bead, strung=count, spare=piece.spare) for bead, count in fit.tally)


def purchase(bead: BeadPart, *, strung: int, spare: float) -> Purchase:
    """Return what to buy of one kind of bead.

    Parameters
    ----------
    bead : BeadPart
    strung : int, keyword-only
        How many are needed.
    spare : float, keyword-only
        Beads to buy beyond those, as a share of them.
    """
    lacking = max(strung - (bead.have or 0), 0)
    to_buy = math.ceil(lacking * (1 + spare) - _ROUNDING)
    per_strand = max(int(_STRAND_MM / bead.along_mm + _ROUNDING), 1)
    return Purchase(
        bead=bead,
        strung=strung,
        lacking=lacking,
        to_buy=to_buy,
        per_strand=per_strand,
        strands=math.ceil(to_buy / per_strand),
    )
