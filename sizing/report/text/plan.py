"""A plan as text: what to string, cut and buy, every size, cost, cautions."""

from collections.abc import Sequence

from sizing.base.units import format_length
from sizing.piece.bill import Cost, Mass
from sizing.piece.cut_list import Cut, Purchase
from sizing.piece.plan import Plan
from sizing.piece.size_run import SizeRow
from sizing.report.sentences.plan import (
    filled_size,
    fits_phrase,
    plan_headline,
    plan_notes,
    plan_outcomes,
    plan_title,
    size_name,
    stock_phrase,
    strands_phrase,
    stringing,
    weight_notes,
)
from sizing.report.text.layout import aligned, joined, section


def plan_text(plan: Plan) -> str:
    """Return a plan as text."""
    currency = plan.piece.work.currency
    return joined(
        [
            [plan_title(plan)],
            section(plan_headline(plan), [*plan_outcomes(plan), *plan_notes(plan)]),
            ["Finished", *aligned(_finished(plan))],
            section("Order of stringing", [stringing(plan.best.sequence)]),
            section("Cut", map(cut_line, plan.cuts)),
            section("Buy", map(purchase_line, plan.purchases)),
            section("Does the wire fit", (clearance.sentence for clearance in plan.clearances)),
            section("Weight", _weights(plan.mass)),
            ["Cost", *_cost_lines(plan.cost, currency)] if plan.cost else [],
            ["Sizes", *_size_table(plan.sizes)] if plan.sizes else [],
            section("Sizes nearer with filled ends", _filled_sizes(plan.sizes)),
            section("Take care", plan.cautions),
        ]
    )


def _finished(plan: Plan) -> list[tuple[str, str]]:
    best = plan.best
    rows = [
        ("length", _let_out(best.finished_mm, best.finished_longest_mm, u95_mm=best.finished_u95_mm)),
        (
            "inside",
            _let_out(best.inner_girth_mm, best.inner_girth_longest_mm, u95_mm=best.inner_girth_u95_mm),
        ),
    ]
    return rows + ([("fits", fits_phrase(plan.girths))] if plan.girths else [])


def _let_out(first_mm: float, last_mm: float, *, u95_mm: float) -> str:
    """Return a length, and what it becomes on an extender's last link."""
    longer = f", on the extender's last link {format_length(last_mm, u95_mm)}" if last_mm > first_mm else ""
    return format_length(first_mm, u95_mm) + longer


def cut_line(cut: Cut) -> str:
    """Say what to cut: `1 x wire, 11 1/8 in (282.3 mm): strung length, and ...`."""
    each = " each" if cut.count > 1 else ""
    return f"{cut.count} x {cut.name}, {format_length(cut.length_mm)}{each}: {cut.how}"


def purchase_line(bought: Purchase) -> str:
    """Say how many beads to buy, with spare ones, and how many strands that is."""
    there = f"{bought.bead.title}: {stock_phrase(bought)}; " if bought.bead.have is not None else ""
    if not bought.to_buy:
        return f"{there}nothing to buy"
    spare = f"{bought.lacking} and {bought.to_buy - bought.lacking} spare"
    what = f"buy {bought.to_buy}" if there else f"{bought.to_buy} x {bought.bead.title}"
    return f"{there}{what} ({spare}): {strands_phrase(bought)}"


def _weights(mass: Mass) -> list[str]:
    lines = [f"{material}: {grams:.1f} g" for material, grams in mass.by_material_g]
    if len(lines) > 1 and mass.total_g is not None:
        lines.append(f"together: {mass.total_g:.1f} g")
    return [*lines, *weight_notes(mass)]


def _cost_lines(cost: Cost, currency: str) -> list[str]:
    unit = f" {currency}" if currency else ""
    rows = [*cost.items, ("materials", cost.materials), ("labour", cost.labour), ("price", cost.price)]
    lines = aligned((name, f"{amount:>9.2f}{unit}") for name, amount in rows)
    return lines + ([f"  not counted: {', '.join(cost.unknown)}"] if cost.unknown else [])


def _size_table(rows: Sequence[SizeRow]) -> list[str]:
    head = ("size", "target", "beads", "finished", "inside", "wire", "price")
    table = [head, *(_size_cells(row) for row in rows)]
    priced = any(row.cost for row in rows)
    return aligned(table if priced else [cells[:-1] for cells in table])


def _filled_sizes(rows: Sequence[SizeRow]) -> list[str]:
    return [filled_size(row) for row in rows if row.filled]


def _size_cells(row: SizeRow) -> tuple[str, ...]:
    return (
        size_name(row.label),
        format_length(row.target.length_mm),
        str(row.fit.count),
        format_length(row.fit.finished_mm),
        format_length(row.fit.inner_girth_mm),
        format_length(row.wire_mm),
        f"{row.cost.price:.2f}" if row.cost else "",
    )
