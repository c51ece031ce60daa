"""A planned piece as a page: what to string, cut and buy, drawn to scale."""

from collections.abc import Sequence

from sizing.base.units import format_pair
from sizing.piece.bill import Cost, Mass
from sizing.piece.clearances import Clearance
from sizing.piece.cut_list import Cut, Purchase
from sizing.piece.plan import Plan
from sizing.piece.size_run import SizeRow
from sizing.report.front.plan import plan_front
from sizing.report.html.loop_figure import bead_colour, loop_drawing
from sizing.report.html.page import Beside, Block, Cell, Lines, Page, Row, Section, Stack, Table, render
from sizing.report.html.sections import caution_section, length_cell, trust_section
from sizing.report.html.ways import Way, ways_section
from sizing.report.sentences.phrases import counted, opening
from sizing.report.sentences.plan import (
    filled_sentence,
    filled_size,
    fits_phrase,
    size_name,
    stringing,
    weight_notes,
)
from sizing.report.sentences.trust import plan_trust


def plan_page(plan: Plan) -> str:
    """Return a plan as one HTML document, what to string first."""
    sections = [
        _piece_section(plan),
        _ways_section(plan),
        Section(title="Cut", blocks=[_cut_table(plan.cuts)]),
        Section(title="Buy", blocks=[_purchase_table(plan.purchases)]),
        Section(title="Does the wire fit", blocks=[_clearance_table(plan.clearances)]),
        _size_section(plan.sizes),
        _bill_section(plan),
        caution_section(plan.cautions),
        trust_section(plan_trust(plan)),
    ]
    return render(Page(front=plan_front(plan), sections=sections))


def _piece_section(plan: Plan) -> Section:
    kinds = [bead for bead, _ in plan.best.tally]
    rows: list[Row] = [
        (Cell(text=opening(bead.title), colour=bead_colour(kinds.index(bead))), str(count))
        for bead, count in plan.best.tally
    ]
    order = [f"In order: {stringing(plan.best.sequence)}."] if len(kinds) > 1 else []
    fits = [f"It fits {fits_phrase(plan.girths)}."] if plan.girths else []
    nearer = [filled_sentence(filled) for filled in plan.filled]
    table = Table(title="Beads of the piece", head=("Bead", "Count"), rows=rows, figures=(1,))
    lines = [*order, *fits, *nearer]
    words = Stack(blocks=[table, *([Lines(lines=lines)] if lines else [])])
    return Section(title="The piece", blocks=[Beside(blocks=[loop_drawing(plan), words])])


def _ways_section(plan: Plan) -> Section:
    u95_mm = plan.best.strung_u95_mm
    ranks = {"nearest": plan.best, "next best": plan.other}
    ways = [
        Way(outcome=fit, name=counted(fit.count, "bead"), rank=rank, u95_mm=u95_mm)
        for rank, fit in ranks.items()
        if fit
    ]
    return ways_section(plan.target, ways)


def _cut_table(cuts: Sequence[Cut]) -> Table:
    rows: list[Row] = [
        (Cell(text=opening(cut.name), more=cut.how), str(cut.count), length_cell(cut.length_mm))
        for cut in cuts
    ]
    return Table(title="Cut list", head=("Cut", "Pieces", "Length of each"), rows=rows, figures=(1, 2))


def _purchase_table(purchases: Sequence[Purchase]) -> Table:
    measured = any(p.bead.have is not None for p in purchases)
    rows: list[Row] = [
        (
            opening(p.bead.title),
            str(p.strung),
            *([_or_none(p.bead.have), str(p.lacking)] if measured else []),
            str(p.to_buy),
            Cell(text=str(p.strands), more=f"about {p.per_strand} beads on a strand"),
        )
        for p in purchases
    ]
    stock = ["You have", "Lacking"] if measured else []
    head = ("Bead", "Strung", *stock, "To buy, with spare", "16 in strands")
    return Table(title="Beads to buy", head=head, rows=rows, figures=range(1, len(head)))


def _or_none(count: int | None) -> str:
    return "" if count is None else str(count)


def _clearance_table(clearances: Sequence[Clearance]) -> Table:
    rows: list[Row] = [
        (opening(each.name), _verdict(each), opening(each.sentence.removeprefix(f"{each.name}: ")) + ".")
        for each in clearances
    ]
    return Table(title="Wire through the holes", head=("Part", "Fits", "Why"), rows=rows)


def _verdict(clearance: Clearance) -> Cell:
    if clearance.fits is None:
        return Cell(text="not checked")
    return Cell(text="yes", tone="good") if clearance.fits else Cell(text="no", tone="warning")


def _size_section(sizes: Sequence[SizeRow]) -> Section:
    if not sizes:
        return Section(title="Sizes", blocks=[])
    priced = any(row.cost for row in sizes)
    rows: list[Row] = [
        (
            Cell(text=opening(size_name(row.label)), more=_length(row)),
            str(row.fit.count),
            length_cell(row.fit.finished_mm),
            length_cell(row.fit.inner_girth_mm),
            length_cell(row.wire_mm),
            *([f"{row.cost.price:.2f}" if row.cost else ""] if priced else []),
        )
        for row in sizes
    ]
    head = ("Size", "Beads", "Finished", "Inside", "Wire", *(["Price"] if priced else []))
    table = Table(title="The piece in every size", head=head, rows=rows, figures=range(1, len(head)))
    filled = [filled_size(row) for row in sizes if row.filled]
    nearer = [Lines(lines=["Nearer with filled ends:", *filled])] if filled else []
    return Section(title="Sizes", blocks=[table, *nearer])


def _length(row: SizeRow) -> str:
    """Return the length of a size in both units, without what its label already says."""
    return ", ".join(text for text in format_pair(row.target.length_mm) if text != row.label)


def _bill_section(plan: Plan) -> Section:
    cost = [_cost_table(plan.cost, plan.piece.work.currency)] if plan.cost else []
    tables = [*_mass_table(plan.mass), *cost]
    notes = weight_notes(plan.mass)
    blocks: list[Block | Beside] = [Beside(blocks=tables)] if tables else []
    blocks += [Lines(lines=notes)] if notes else []
    return Section(title="Weight and cost", blocks=blocks)


def _mass_table(mass: Mass) -> list[Table]:
    rows: list[Row] = [(opening(material), f"{grams:.1f} g") for material, grams in mass.by_material_g]
    if len(rows) > 1 and mass.total_g is not None:
        rows.append(("Together", f"{mass.total_g:.1f} g"))
    return [Table(title="Weight", head=("Weight", ""), rows=rows, figures=(1,))] if rows else []


def _cost_table(cost: Cost, currency: str) -> Table:
    rows: list[Row] = [(opening(name), f"{amount:.2f}") for name, amount in cost.items]
    rows += [(opening(name), "not counted") for name in cost.unknown]
    rows += [("Materials", f"{cost.materials:.2f}"), ("Labour", f"{cost.labour:.2f}")]
    rows.append((Cell(text="Price", tone="strong"), Cell(text=f"{cost.price:.2f}", tone="strong")))
    return Table(title="Cost", head=("Cost", currency), rows=rows, figures=(1,))
