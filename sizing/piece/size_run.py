"""The same piece in several sizes."""

import re
from dataclasses import dataclass, replace

from sizing.base.errors import TargetError
from sizing.base.target import EASE_MM, Target
from sizing.base.units import parse_length
from sizing.piece.anthropometry import PERCENTS, SEXES, girth_at
from sizing.piece.bill import Cost, Mass, price, weigh
from sizing.piece.cut_list import purchases, wire_mm
from sizing.piece.fillers import Filled, fill_ends
from sizing.piece.fit import Fit, fit_beads
from sizing.piece.piece import Piece, check_target

# A comma between two digits is a decimal comma.
_BETWEEN_SIZES = re.compile(r"\s*(?:;|,(?![0-9])|(?<![0-9]),)\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """The piece in one size.

    Attributes
    ----------
    label : str
        The length as typed, or `women P25`: 25 in 100 women measure less.
    target : Target
    fit : Fit
    filled : Filled or None
        The nearest way of filling the ends, where it comes nearer than whole repeats.
    wire_mm : float
    beads_to_buy : int
    mass : Mass
    cost : Cost or None
    """

    label: str
    target: Target
    fit: Fit
    filled: Filled | None
    wire_mm: float
    beads_to_buy: int
    mass: Mass
    cost: Cost | None


def size_run(piece: Piece, target: Target) -> tuple[SizeRow, ...]:
    """Plan a piece in every size that it names.

    Raises
    ------
    TargetError
        A size is not a length, or sizes for women or men are asked for without a wrist, ankle or neck.

    Examples
    --------
    >>> from sizing.piece.parts import BeadPart
    >>> from sizing.piece.piece import target_from_piece
    >>> bead = BeadPart(along_mm=8, across_mm=8)
    >>> piece = Piece(beads=(bead,), target_mm={"strung": 160}, sizes="16 cm, 20 cm")
    >>> [(row.label, row.fit.count) for row in size_run(piece, target_from_piece(piece))]
    [('16 cm', 20), ('20 cm', 25)]
    """
    return tuple(
        size_row(piece, replace(target, length_mm=length_mm), label=label)
        for label, length_mm in _sizes(piece, target)
    )


def _sizes(piece: Piece, target: Target) -> list[tuple[str, float]]:
    """Return label and length of each size."""
    wanted = piece.sizes.strip().lower()
    if wanted in SEXES:
        if target.body not in EASE_MM:
            raise TargetError(f"sizes for {wanted} need a wrist, an ankle or a neck as the target: give one")
        return [
            (f"{wanted} P{percent}", girth_at(target.body, wanted, percent=percent)) for percent in PERCENTS
        ]
    try:
        return [(text, parse_length(text)) for text in _BETWEEN_SIZES.split(piece.sizes.strip()) if text]
    except ValueError as error:
        raise TargetError(f"sizes: {error}; or write women or men") from error


def size_row(piece: Piece, target: Target, *, label: str) -> SizeRow:
    """Plan a piece for one target; `label` is what to call it."""
    check_target(target)
    fit, _ = fit_beads(piece, target)
    return SizeRow(
        label=label,
        target=target,
        fit=fit,
        filled=next(iter(fill_ends(piece, target, fit)), None),
        wire_mm=wire_mm(piece, fit),
        beads_to_buy=sum(purchase.to_buy for purchase in purchases(piece, fit)),
        mass=weigh(piece, fit),
        cost=price(piece, fit),
    )
