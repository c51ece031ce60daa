"""A plan in words, and as fields for JSON."""

from collections.abc import Sequence
from dataclasses import asdict
from itertools import groupby

from sizing.base.rules_of_thumb import THIN_MM
from sizing.base.target import TargetKind
from sizing.base.units import format_inches, format_length, format_mm
from sizing.piece.bill import Cost, Mass
from sizing.piece.fit import Fit
from sizing.piece.girth_range import GirthRange
from sizing.piece.parts import BeadPart
from sizing.piece.plan import Plan
from sizing.piece.size_run import SizeRow, size_columns

FORMAT = 1
_ON_TARGET_MM = 0.05


def plan_report(plan: Plan) -> str:
    """Return a plan as text for the terminal."""
    parts = [
        [f"{plan.piece.name or 'Piece'}: {plan.target.describe()}"],
        [headline(plan), *_indented([_why(plan), *thickness_notes(plan), *assumption_notes(plan)])],
        ["Finished", *_indented(_finished(plan))],
        ["Order of stringing", *_indented([stringing(plan.best.sequence)])],
        ["Cut", *_indented(_cuts(plan))],
        ["Buy", *_indented(_purchases(plan))],
        ["Does it go through", *_indented([clearance.sentence for clearance in plan.clearances])],
        ["Mass", *_indented(_mass(plan.mass))],
        ["Cost", *_indented(_cost(plan.cost, plan.piece.work.currency))] if plan.cost else [],
        ["Sizes", *_indented(_size_table(plan.sizes))] if plan.sizes else [],
        ["Take care", *_indented(plan.cautions)],
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def headline(plan: Plan) -> str:
    """Say in one sentence what to string: `String 25 x bead 7 mm: 175.0 mm (6 7/8 in).`."""
    named = "; ".join(f"{count} x {bead.title}" for bead, count in plan.best.tally)
    total = f" ({plan.best.count} beads)" if len(plan.best.tally) > 1 else ""
    strung = format_length(plan.best.strung_mm, plan.best.strung_u95_mm or None)
    return f"String {named}{total}: {strung}."


def thickness_notes(plan: Plan) -> list[str]:
    """Say what the beads' thickness takes off the inside, and what the rules of thumb would do."""
    if plan.target.kind is not TargetKind.GIRTH:
        return []
    taken_mm = plan.best.finished_mm - plan.best.inner_girth_mm
    notes = []
    if plan.target.too_tight(plan.best.inner_girth_mm):
        longer = f": string {plan.other.count} to be sure that it closes" if plan.other else ""
        notes.append(f"Inside it is tighter than the bare {plan.target.body}{longer}.")
    thickness_mm = max(bead.across_mm for bead in plan.best.sequence)
    said = " (it is often ignored up to 6 mm)" if thickness_mm <= THIN_MM else ""
    notes.append(
        f"Beads up to {format_mm(thickness_mm)} thick take {format_length(taken_mm)} off the inside{said}."
    )
    if plan.rules:
        notes.append(
            f"By length alone it would be {plan.rules.by_length} beads, by the rule of adding three "
            f"{plan.rules.add_three}; the closed loop asks for {plan.best.count}."
        )
    return notes


def assumption_notes(plan: Plan) -> list[str]:
    """Say which usual values stand in for what was not given."""
    target = plan.target
    notes = []
    if target.findings_assumed:
        notes.append(f"Findings taken as {format_length(target.findings_mm)}: list them, or give --findings.")
    if target.ease_assumed:
        notes.append(f"Ease taken as {format_length(target.ease_mm)}: give --ease to choose.")
    return notes


def stringing(sequence: Sequence[BeadPart]) -> str:
    """Write the order of stringing: `9 times (3 x blue glass, 1 x spacer)`; a repeat only once."""
    runs = [(bead, len(list(group))) for bead, group in groupby(sequence)]
    for size in range(1, len(runs) // 2 + 1):
        times, rest = divmod(len(runs), size)
        if times > 1 and all(runs[i] == runs[i % size] for i in range(len(runs))):
            closing = f", then {_runs(runs[:rest])}" if rest else ""
            return f"{times} times ({_runs(runs[:size])}){closing}" if size > 1 else _runs(runs)
    return _runs(runs)


def plan_fields(plan: Plan) -> dict[str, object]:
    """Return a plan as fields for JSON, lengths in mm."""
    return {
        "kind": "plan",
        "format": FORMAT,
        "name": plan.piece.name,
        "target": {
            **asdict(plan.target),
            "findings_mm": plan.target.findings_mm,
            "goal_mm": plan.target.goal_mm,
        },
        "best": _fit_fields(plan.best),
        "other": _fit_fields(plan.other) if plan.other else None,
        "rules": asdict(plan.rules) if plan.rules else None,
        "fits": {**asdict(plan.girths), "shares": dict(plan.girths.shares)} if plan.girths else None,
        "cuts": [asdict(cut) for cut in plan.cuts],
        "purchases": [asdict(purchase) for purchase in plan.purchases],
        "clearances": [asdict(clearance) for clearance in plan.clearances],
        "mass": {
            "total_g": plan.mass.total_g,
            "by_material_g": dict(plan.mass.by_material_g),
            "unknown": plan.mass.unknown,
        },
        "cost": _cost_fields(plan.cost, plan.piece.work.currency) if plan.cost else None,
        "sizes": [size_columns(row) for row in plan.sizes],
        "sentence": headline(plan),
        "cautions": plan.cautions,
    }


def _fit_fields(fit: Fit) -> dict[str, object]:
    return {
        "count": fit.count,
        "tally": [
            {"name": bead.title, "along_mm": bead.along_mm, "count": count} for bead, count in fit.tally
        ],
        "order": [bead.title for bead in fit.sequence],
        "strung_mm": fit.strung_mm,
        "strung_u95_mm": fit.strung_u95_mm,
        "finished_mm": fit.finished_mm,
        "finished_longest_mm": fit.finished_longest_mm,
        "inner_girth_mm": fit.inner_girth_mm,
        "inner_girth_longest_mm": fit.inner_girth_longest_mm,
        "miss_mm": fit.miss_mm,
    }


def _cost_fields(cost: Cost, currency: str) -> dict[str, object]:
    return {
        "currency": currency,
        "items": dict(cost.items),
        "materials": cost.materials,
        "labour": cost.labour,
        "price": cost.price,
        "unknown": cost.unknown,
    }


def _indented(lines: Sequence[str]) -> list[str]:
    return [f"  {line}" for line in lines if line]


def _short(bead: BeadPart) -> str:
    return bead.name or f"{round(bead.along_mm, 2):g} mm"


def _runs(runs: Sequence[tuple[BeadPart, int]]) -> str:
    return ", ".join(f"{count} x {_short(bead)}" for bead, count in runs)


def _why(plan: Plan) -> str:
    """Say why this count, against the one across the target."""
    best = _miss(plan.best.miss_mm)
    if plan.other is None:
        return f"That is {best}; the shortest way to string these beads."
    return (
        f"That is {best}; with {plan.other.count} it would be {_miss(plan.other.miss_mm)}, "
        f"finished {format_length(plan.other.finished_mm)}."
    )


def _miss(miss_mm: float) -> str:
    if abs(miss_mm) < _ON_TARGET_MM:
        return "right on the target"
    inches = format_inches(abs(miss_mm))
    size = format_mm(abs(miss_mm)) + ("" if inches == "0 in" else f" ({inches})")
    return f"{size} {'over' if miss_mm > 0 else 'under'}"


def _finished(plan: Plan) -> list[str]:
    best = plan.best
    longer = best.finished_longest_mm > best.finished_mm
    length = f"length      {format_length(best.finished_mm)}"
    inside = f"inside      {format_length(best.inner_girth_mm)}"
    if longer:
        length += f", on the extender's last link {format_length(best.finished_longest_mm)}"
        inside += f", on the last link {format_length(best.inner_girth_longest_mm)}"
    lines = [length, inside]
    return lines + ([f"fits        {fits_sentence(plan.girths)}"] if plan.girths else [])


def fits_sentence(girths: GirthRange) -> str:
    """Say whom a piece fits: `wrists from ... to ...: 83 % of adult women, 5 % of adult men`."""
    shares = ", ".join(f"{100 * share:.0f} % of adult {sex}" for sex, share in girths.shares)
    low = f"from {format_length(girths.low_mm)} to" if girths.low_mm else "up to"
    return f"{girths.body}s {low} {format_length(girths.high_mm)}: {shares}"


def _cuts(plan: Plan) -> list[str]:
    each = ("", " each")
    return [
        f"{cut.count} x {cut.name}, {format_length(cut.length_mm)}{each[cut.count > 1]}: {cut.how}"
        for cut in plan.cuts
    ]


def _purchases(plan: Plan) -> list[str]:
    return [
        f"{p.to_buy} x {p.bead.title} ({p.strung} and {p.to_buy - p.strung} spare): "
        f"{p.strands} strand{'' if p.strands == 1 else 's'} of 16 in at about {p.per_strand} each"
        for p in plan.purchases
    ]


def _mass(mass: Mass) -> list[str]:
    lines = [f"{material}: {grams:.1f} g" for material, grams in mass.by_material_g]
    if len(lines) > 1:
        lines.append(f"together: {mass.total_g:.1f} g")
    return lines + ([f"not known of: {', '.join(mass.unknown)}"] if mass.unknown else [])


def _cost(cost: Cost, currency: str) -> list[str]:
    unit = f" {currency}" if currency else ""
    rows = [*cost.items, ("materials", cost.materials), ("labour", cost.labour), ("price", cost.price)]
    width = max(len(name) for name, _ in rows)
    lines = [f"{name:<{width}} {amount:>9.2f}{unit}" for name, amount in rows]
    return lines + ([f"not counted: {', '.join(cost.unknown)}"] if cost.unknown else [])


def _size_table(rows: Sequence[SizeRow]) -> list[str]:
    head = ("size", "target", "beads", "finished", "inside", "wire", "price")
    table = [head, *(_size_cells(row) for row in rows)]
    if all(row.cost is None for row in rows):
        table = [cells[:-1] for cells in table]
    widths = [max(len(cells[i]) for cells in table) for i in range(len(table[0]))]
    return ["  ".join(c.ljust(w) for c, w in zip(cells, widths, strict=True)).rstrip() for cells in table]


def _size_cells(row: SizeRow) -> tuple[str, ...]:
    return (
        row.label,
        format_length(row.target.length_mm),
        str(row.fit.count),
        format_length(row.fit.finished_mm),
        format_length(row.fit.inner_girth_mm),
        format_length(row.wire_mm),
        f"{row.cost.price:.2f}" if row.cost else "",
    )
