"""What to buy for several pieces together: beads, wire, findings."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from sizing.base.typed_mm import TypedMm
from sizing.base.units import format_length
from sizing.piece.cut_list import Purchase, purchase
from sizing.piece.parts import BeadPart, Finding, Wire
from sizing.piece.piece import Piece
from sizing.piece.plan import Plan, make_plan
from sizing.report.sentences.phrases import counted
from sizing.report.sentences.plan import plan_headline, plan_title
from sizing.report.text.plan import purchase_line


@dataclass(frozen=True, slots=True, kw_only=True)
class Shopping:
    """What to buy for several pieces, in lines.

    Attributes
    ----------
    pieces : sequence of (str, str)
        What each piece is, and what is strung.
    groups : dict
        Lines to tick off, by what they are about.
    """

    pieces: Sequence[tuple[str, str]]
    groups: dict[str, list[str]]


def shopping_list(wanted: Sequence[tuple[Piece, int]]) -> Shopping:
    """Return what to buy for pieces, of each so many.

    Raises
    ------
    TargetError
        A piece cannot be planned.

    Examples
    --------
    Two anklets of 32 beads and their spare ones take 68 beads, of which a strand holds 67:

    >>> bead = BeadPart(along_mm=6, across_mm=6)
    >>> shopping_list([(Piece(beads=(bead,), target_mm={"strung": 192}), 2)]).groups["Beads"]
    ['68 x bead 6 mm (64 and 4 spare): 2 strands of 16 in (about 67 beads on a strand)']
    """
    plans = [(make_plan(piece), count) for piece, count in wanted]
    groups = {
        "Beads": [purchase_line(each) for each in _purchases(plans) if each.to_buy],
        "Wire": list(_wires(plans)),
        "Findings": list(finding_lines(plans)),
    }
    return Shopping(
        pieces=[(f"{count} x {plan_title(plan)}", plan_headline(plan)) for plan, count in plans],
        groups={title: lines for title, lines in groups.items() if lines},
    )


def _purchases(plans: Sequence[tuple[Plan, int]]) -> Iterator[Purchase]:
    """Yield the beads of all pieces by kind; what is there already is there once."""
    strung: Counter[BeadPart] = Counter()
    spare: dict[BeadPart, float] = {}
    for plan, count in plans:
        for each in plan.purchases:
            kind = replace(each.bead, count=1)
            strung[kind] += count * each.strung
            spare[kind] = max(spare.get(kind, 0.0), plan.piece.spare)
    for kind, beads in strung.items():
        yield purchase(kind, strung=beads, spare=spare[kind])


def _wires(plans: Sequence[tuple[Plan, int]]) -> Iterator[str]:
    length_mm: Counter[str] = Counter()
    pieces: Counter[str] = Counter()
    for plan, count in plans:
        name = _wire_name(plan.piece.wire)
        pieces[name] += count
        length_mm[name] += count * plan.cuts[0].length_mm  # type: ignore[assignment]  # a length, not a count
    for name, number in pieces.items():
        yield f"{name}, {format_length(length_mm[name])} in {counted(number, 'piece')}"


def _wire_name(wire: Wire) -> str:
    if wire.gauge:
        return f"wire of gauge {wire.gauge}"
    if wire.diameter_mm is None:
        return "wire"
    typed = wire.diameter_mm.typed if isinstance(wire.diameter_mm, TypedMm) else ""
    return f"wire of {typed or f'{wire.diameter_mm:.2f} mm'}"


def finding_lines(plans: Sequence[tuple[Plan, int]]) -> Iterator[str]:
    """Yield how many findings of each kind pieces take, of each piece so many."""
    needed: Counter[tuple[str, float]] = Counter()
    for plan, count in plans:
        for each in plan.piece.findings or ():
            needed[_finding_key(each)] += count * each.count
        if plan.piece.findings is None:
            yield f"clasp, crimps and rings for {count} x {plan_title(plan)}"
    for (title, length_mm), number in needed.items():
        yield f"{number} x {title}{f', {format_length(length_mm)}' if length_mm else ''}"


def _finding_key(finding: Finding) -> tuple[str, float]:
    return finding.title, finding.length_mm
