"""What one piece weighs, what it costs, and the price to ask for it."""

from collections import defaultdict
from dataclasses import dataclass

from sizing.base.units import converted
from sizing.piece.cut_list import wire_mm
from sizing.piece.fit import Fit
from sizing.piece.materials import is_metal
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Mass:
    """The mass of a finished piece, as far as it is known.

    Attributes
    ----------
    by_material_g : tuple of (str, float)
        Beads by their material; all findings together.
    unknown_beads : tuple of BeadPart
        Beads whose mass is not known.
    unknown_findings : tuple of str
    metals : tuple of str
        Metals among the materials, of which beads may be hollow.
    """

    by_material_g: tuple[tuple[str, float], ...]
    unknown_beads: tuple[BeadPart, ...] = ()
    unknown_findings: tuple[str, ...] = ()
    metals: tuple[str, ...] = ()

    @property
    def unknown(self) -> tuple[str, ...]:
        """Beads and findings whose mass is not known."""
        return *(bead.title for bead in self.unknown_beads), *self.unknown_findings

    @property
    def total_g(self) -> float | None:
        """Mass of the beads and of the findings whose mass is known; None if that of a bead is not."""
        return None if self.unknown_beads else sum(grams for _, grams in self.by_material_g)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """The cost of one piece, in the piece's currency; each amount to the cent, so that they add up as shown.

    Attributes
    ----------
    items : tuple of (str, float)
        What each material costs, without spare beads.
    labour : float
    price : float
        Leaves the chosen margin after materials and labour are paid.
    unknown : tuple of str
        Materials whose cost was not given.
    """

    items: tuple[tuple[str, float], ...]
    labour: float
    price: float
    unknown: tuple[str, ...]

    @property
    def materials(self) -> float:
        """The known costs of materials together."""
        return _cents(sum(amount for _, amount in self.items))


def weigh(piece: Piece, fit: Fit) -> Mass:
    """Add up the masses of beads, taken as drilled balls or ellipsoids, and of findings.

    Examples
    --------
    25 balls of quartz, 8 mm thick (0.7104 g each by pi/6 d^3 at 2.65 g/cm3):

    >>> from sizing.piece.parts import BeadPart
    >>> from sizing.piece.plan import make_plan
    >>> quartz = BeadPart(along_mm=8, across_mm=8, material="quartz")
    >>> plan = make_plan(Piece(beads=(quartz,), target_mm={"strung": 200}))
    >>> round(weigh(plan.piece, plan.best).total_g, 2)
    17.76
    """
    grams: defaultdict[str, float] = defaultdict(float)
    for bead, count in fit.tally:
        if bead.mass_g is not None:
            grams[bead.material or bead.title] += count * bead.mass_g
    for finding in piece.findings or ():
        if finding.mass_g is not None:
            grams["findings"] += finding.count * finding.mass_g
    return Mass(
        by_material_g=tuple(grams.items()),
        unknown_beads=tuple(bead for bead, _ in fit.tally if bead.mass_g is None),
        unknown_findings=tuple(each.title for each in piece.findings or () if each.mass_g is None),
        metals=tuple(dict.fromkeys(bead.material for bead, _ in fit.tally if is_metal(bead.material))),
    )


def price(piece: Piece, fit: Fit) -> Cost | None:
    """Add up the costs of a piece, and find the price that leaves the margin; None where no cost is given.

    The price is cost / (1 - margin): the margin is a share of the price.
    """
    per_metre = piece.wire.cost_per_metre
    used: list[tuple[str, float, float | None]] = [(b.title, count, b.cost) for b, count in fit.tally]
    used += [(finding.title, finding.count, finding.cost) for finding in piece.findings or ()]
    metres = converted(wire_mm(piece, fit), "mm", "m")
    if per_metre is not None:
        used.append(("wire", metres, per_metre))
    amounts: defaultdict[str, float] = defaultdict(float)
    for name, count, cost in used:
        if cost is not None:
            amounts[name] += count * cost
    items = [(name, _cents(amount)) for name, amount in amounts.items()]
    labour = _cents(piece.work.minutes / 60 * piece.work.rate_per_hour)
    if not items and not labour:
        return None
    unknown = [name for name, _, cost in used if cost is None]
    return Cost(
        items=tuple(items),
        labour=labour,
        price=_cents((sum(amount for _, amount in items) + labour) / (1 - piece.work.margin)),
        unknown=tuple(unknown + (["wire"] if per_metre is None else [])),
    )


def _cents(amount: float) -> float:
    """Round an amount of money to the cent."""
    return round(amount, 2)
