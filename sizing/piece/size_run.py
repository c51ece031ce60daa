"""The same piece for a run of sizes."""

import re
from dataclasses import dataclass, replace

from sizing.base.errors import TargetError
from sizing.base.target import EASE_MM, Target
from sizing.base.units import format_length, parse_length
from sizing.piece.anthropometry import PERCENTS, SEXES, girth_at
from sizing.piece.bill import Cost, Mass, price, weigh
from sizing.piece.cut_list import purchases, wire_mm
from sizing.piece.fit import Fit, fit_beads
from sizing.piece.piece import Piece

# A comma between two digits is a decimal comma.
_BETWEEN_SIZES = re.compile(r"\s*(?:;|,(?![0-9])|(?<![0-9]),)\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """One size of the run.

    Attributes
    ----------
    label : str
        `women P25`, or the length as typed.
    target : Target
    fit : Fit
    wire_mm : float
    beads_to_buy : int
    mass : Mass
    cost : Cost or None
    """

    label: str
    target: Target
    fit: Fit
    wire_mm: float
    beads_to_buy: int
    mass: Mass
    cost: Cost | None


def size_run(piece: Piece, target: Target) -> tuple[SizeRow, ...]:
    """Plan a piece for every size it names.

    Raises
    ------
    TargetError
        A size is no length, or a run by percentiles has no girth to go by.
    """
    return tuple(
        size_row(piece, replace(target, length_mm=length_mm), label)
        for label, length_mm in _sizes(piece, target)
    )


def _sizes(piece: Piece, target: Target) -> list[tuple[str, float]]:
    """Return label and length of each size."""
    wanted = piece.sizes.strip().lower()
    if wanted in SEXES:
        if target.body not in EASE_MM:
            raise TargetError(f"sizes for {wanted} need a girth: aim at a wrist, an ankle or a neck")
        return [(f"{wanted} P{percent}", girth_at(target.body, wanted, percent)) for percent in PERCENTS]
    try:
        return [(text, parse_length(text)) for text in _BETWEEN_SIZES.split(piece.sizes.strip()) if text]
    except ValueError as error:
        raise TargetError(f"sizes: {error}; or write women or men") from error


def size_row(piece: Piece, target: Target, label: str) -> SizeRow:
    """Plan a piece for one size."""
    fit, _ = fit_beads(piece, target)
    return SizeRow(
        label=label,
        target=target,
        fit=fit,
        wire_mm=wire_mm(piece, fit),
        beads_to_buy=sum(purchase.to_buy for purchase in purchases(piece, fit)),
        mass=weigh(piece, fit),
        cost=price(piece, fit),
    )


def size_columns(row: SizeRow) -> dict[str, object]:
    """Return one size as columns of a table: lengths in mm and as text with inches."""
    return {
        "size": row.label,
        "target_mm": row.target.length_mm,
        "beads": row.fit.count,
        "strung_mm": row.fit.strung_mm,
        "finished_mm": row.fit.finished_mm,
        "finished": format_length(row.fit.finished_mm),
        "finished_longest_mm": row.fit.finished_longest_mm,
        "inner_girth_mm": row.fit.inner_girth_mm,
        "miss_mm": row.fit.miss_mm,
        "wire_mm": row.wire_mm,
        "wire": format_length(row.wire_mm),
        "beads_to_buy": row.beads_to_buy,
        "mass_g": row.mass.total_g,
        "materials": row.cost.materials if row.cost else None,
        "labour": row.cost.labour if row.cost else None,
        "price": row.cost.price if row.cost else None,
    }
