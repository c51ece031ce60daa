"""What one piece weighs and costs, and what to ask for it."""

from collections import defaultdict
from dataclasses import dataclass

from sizing.base.units import registry
from sizing.piece.cut_list import wire_mm
from sizing.piece.fit import Fit
from sizing.piece.piece import Piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Mass:
    """What a finished piece weighs, as far as it is known.

    Attributes
    ----------
    by_material_g : tuple of (str, float)
        Beads by their material, findings together.
    unknown : tuple of str
        Beads and findings whose mass is not known.
    """

    by_material_g: tuple[tuple[str, float], ...]
    unknown: tuple[str, ...]

    @property
    def total_g(self) -> float:
        """Mass of all that is known."""
        return sum(grams for _, grams in self.by_material_g)

    @property
    def total_carat(self) -> float:
        """The same in metric carats."""
        return float(registry.convert(self.total_g, "gram", "carat"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one piece costs, in the piece's currency.

    Attributes
    ----------
    items : tuple of (str, float)
        Materials as used, without spare beads.
    labour : float
    price : float
        Leaves the chosen margin after materials and labour.
    unknown : tuple of str
        Materials whose cost was not given.
    """

    items: tuple[tuple[str, float], ...]
    labour: float
    price: float
    unknown: tuple[str, ...]

    @property
    def materials(self) -> float:
        """Cost of all materials whose cost was given."""
        return sum(amount for _, amount in self.items)


def weigh(piece: Piece, fit: Fit) -> Mass:
    """Add up the masses of beads, as rounds or ellipsoids less their holes, and of findings."""
    grams: defaultdict[str, float] = defaultdict(float)
    unknown = []
    for bead, count in fit.tally:
        if bead.mass_g is None:
            unknown.append(bead.title)
        else:
            grams[bead.material or bead.title] += count * bead.mass_g
    for finding in piece.findings or ():
        if finding.mass_g is None:
            unknown.append(finding.title)
        else:
            grams["findings"] += finding.count * finding.mass_g
    return Mass(by_material_g=tuple(grams.items()), unknown=tuple(unknown))


def price(piece: Piece, fit: Fit) -> Cost | None:
    """Add up what a piece costs and ask the price that leaves the margin; None where no cost is given."""
    per_metre = piece.wire.cost_per_metre
    used = [(bead.title, count, bead.cost) for bead, count in fit.tally]
    used += [(finding.title, finding.count, finding.cost) for finding in piece.findings or ()]
    metres = float(registry.convert(wire_mm(piece, fit), "mm", "m"))
    items = [(name, count * cost) for name, count, cost in used if cost is not None]
    items += [] if per_metre is None else [("wire", metres * per_metre)]
    labour = piece.work.minutes / 60 * piece.work.rate_per_hour
    if not items and not labour:
        return None
    unknown = [name for name, _, cost in used if cost is None]
    return Cost(
        items=tuple(items),
        labour=labour,
        price=(sum(amount for _, amount in items) + labour) / (1 - piece.work.margin),
        unknown=tuple(unknown + (["wire"] if per_metre is None else [])),
    )
