"""What to cut and what to buy for one piece."""

import math
from dataclasses import dataclass

from sizing.piece.fit import Fit
from sizing.piece.parts import BeadPart, Kind
from sizing.piece.piece import Piece

STRAND_MM = 406.4  # beads are sold on strands of 16 in
_CUT = (Kind.FRENCH_WIRE, Kind.EXTENDER, Kind.HEADPIN)


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
        Where the length comes from.
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
    to_buy : int
        With the spare ones.
    per_strand : int
        How many a 16-inch strand holds by their length; shops' tables run up to 4 % under it.
    strands : int
        16-inch strands that hold `to_buy`.
    """

    bead: BeadPart
    strung: int
    to_buy: int
    per_strand: int
    strands: int


def wire_mm(piece: Piece, fit: Fit) -> float:
    """Return the length of wire to cut: the strung length, and at each end a loop and a tail."""
    return fit.strung_mm + 2 * (piece.wire.tail_mm + piece.wire.loop_mm)


def cut_list(piece: Piece, fit: Fit) -> tuple[Cut, ...]:
    """Return what to cut for one piece, the wire first."""
    wire = Cut(
        name="wire",
        count=1,
        length_mm=wire_mm(piece, fit),
        how="strung length, and at each end the loop through the clasp's ring and the tail",
    )
    hows = {
        Kind.FRENCH_WIRE: "one at each end",
        Kind.EXTENDER: "the whole chain",
        Kind.HEADPIN: "for the end bead",
    }
    others = (
        Cut(
            name=finding.title,
            count=finding.count,
            length_mm=finding.length_mm if finding.cut_mm is None else finding.cut_mm,
            how=hows[finding.kind],
        )
        for finding in piece.findings or ()
        if finding.kind in _CUT
    )
    return wire, *(cut for cut in others if cut.length_mm > 0)


def purchases(piece: Piece, fit: Fit) -> tuple[Purchase, ...]:
    """Return the beads to buy for one piece, by kind."""
    return tuple(_purchase(bead, count, piece.spare) for bead, count in fit.tally)


def _purchase(bead: BeadPart, count: int, spare: float) -> Purchase:
    # A binary fraction just above a whole number must not cost a bead.
    to_buy = math.ceil(count * (1 + spare) - 1e-9)
    per_strand = max(int(STRAND_MM / bead.along_mm + 1e-9), 1)
    return Purchase(
        bead=bead,
        strung=count,
        to_buy=to_buy,
        per_strand=per_strand,
        strands=math.ceil(to_buy / per_strand),
    )
