"""A sorted lot as a page."""

from collections import Counter
from collections.abc import Sequence

from sizing.base.units import format_inches, format_mm
from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.marking import Marking
from sizing.lot.picks import Picks
from sizing.lot.roundness import roundness
from sizing.lot.sorting import SortedLot
from sizing.lot.tally import Tally
from sizing.report.html.lot_sections import (
    BEAD_HEAD,
    bead_rows,
    key_of,
    mean_cell,
    sizes_drawing,
    subject_of,
)
from sizing.report.html.page import Cell, Drawing, Fact, Page, Picture, Row, Section, Table, render
from sizing.report.html.picks import pick_section
from sizing.report.html.plots import Range
from sizing.report.html.sections import (
    bead_section,
    caution_section,
    condition_section,
    css,
    flag_section,
    photo_section,
    trust_section,
)
from sizing.report.sentences.conditions import scale_warnings
from sizing.report.sentences.flagged import lot_flagged
from sizing.report.sentences.lot import lot_headline, lot_notes, whole_piece
from sizing.report.sentences.phrases import bare_mm, opening
from sizing.report.sentences.trust import lot_trust
from vision.common.records import LooseBead, Lot

_METHODS = {
    "usual": "the usual sizes of the trade",
    "step": "in steps",
    "pearl": "pearl classes",
    "natural": "as the beads group themselves",
}


def lot_page(result: SortedLot, picks: Picks, *, marking: Marking, pictures: Sequence[Picture]) -> str:
    """Return a sorted lot as one HTML document, what is in it first."""
    letters = photo_letters(result.lot)
    sections = [
        photo_section(pictures, key_of(marking)),
        _size_section(result, marking),
        pick_section(result.sizes, picks, letters=letters),
        flag_section(lot_flagged(result.lot)),
        bead_section(BEAD_HEAD, bead_rows(result.lot, marking)),
        condition_section(result.lot.conditions, letters),
        caution_section(),
        trust_section(lot_trust()),
    ]
    return render(
        Page(
            kind="Lot",
            subject=subject_of(result.lot),
            headline=lot_headline(result),
            notes=lot_notes(result),
            facts=_facts(result),
            sections=sections,
            warnings=scale_warnings(result.lot.conditions),
        )
    )


def _facts(result: SortedLot) -> list[Fact]:
    whole = result.whole
    named = sum(not heap.is_between for heap in result.heaps)
    facts = [
        Fact(label="Beads", value=str(len(result.lot.beads)), more=_roundness(result.lot)),
        Fact(label="Sizes", value=str(named), more=_METHODS[result.method]),
    ]
    if not whole.beads:
        return facts
    return [
        *facts,
        Fact(label="Mean width", value=format_mm(whole.width.mm, whole.width.u95_mm)),
        Fact(
            label="All strung",
            value=format_mm(whole.strung_mm, whole.strung_u95_mm),
            more=format_inches(whole.strung_mm),
        ),
        Fact(label="That fills", value=f"{100 * whole.share:.0f} %", more=f"of {whole_piece(result.target)}"),
    ]


def _roundness(lot: Lot) -> str:
    """Count the commonest classes of roundness."""
    scale = {each.photo: each.scale_rel_u for each in lot.conditions}
    names = Counter(roundness(bead, scale_rel_u=scale[bead.photo]).name for bead in lot.beads)
    return ", ".join(f"{count} {name}" for name, count in names.most_common(2))


def _plot(result: SortedLot, marking: Marking) -> Drawing:
    """Draw the sizes with the classes that the lot's beads reach into."""
    classes = {each.low_mm: each for heap in result.heaps for each in heap.classes}
    ranges = [Range(name=each.name, low_mm=each.low_mm, high_mm=each.high_mm) for each in classes.values()]
    return sizes_drawing(result.sizes, marking, ranges=ranges, name=result.dimension)


def _size_section(result: SortedLot, marking: Marking) -> Section:
    sizes = (_plot(result, marking), _size_table(result, marking)) if result.heaps else ()
    return Section(title="Sizes", blocks=[*sizes, _bead_table(result, marking)])


def _size_table(result: SortedLot, marking: Marking) -> Table:
    """Return how many beads there are of each size; lengths stand in it if beads are longer than wide."""
    named = [
        (Cell(text=opening(heap.name), colour=_heap_colour(tallied, marking)), tallied)
        for heap, tallied in zip(result.heaps, result.tallies, strict=True)
    ]
    if len(named) > 1:
        named.append((Cell(text="All measured"), result.whole))
    long = any(not tallied.is_round for _, tallied in named)
    piece = f"Fills of {whole_piece(result.target)}"
    head = ("Size", "Beads", "Width, mm", *(["Length, mm"] if long else []), "Strung, mm", piece)
    rows: list[Row] = [(name, *_tally_cells(tallied, with_length=long)) for name, tallied in named]
    return Table(title="Beads of each size", head=head, rows=rows, figures=range(1, len(head)))


def _tally_cells(tallied: Tally, *, with_length: bool) -> Row:
    means = (tallied.width, tallied.length) if with_length else (tallied.width,)
    more = format_inches(tallied.strung_mm)
    if not tallied.is_round:
        more = f"lengthwise {format_mm(tallied.strung_long_mm)}"
    return (
        str(len(tallied.beads)),
        *map(mean_cell, means),
        Cell(text=bare_mm(tallied.strung_mm, tallied.strung_u95_mm), more=more),
        f"{100 * tallied.share:.0f} %",
    )


def _heap_colour(tallied: Tally, marking: Marking) -> str:
    first: LooseBead | None = next(iter(tallied.beads), None)
    return css(marking.colour_of[first.photo, first.number]) if first else ""


def _bead_table(result: SortedLot, marking: Marking) -> Table:
    """Return which beads are of which size."""
    letters = photo_letters(result.lot)
    rows: list[Row] = [
        (
            Cell(text=opening(heap.name), colour=_heap_colour(tallied, marking)),
            bead_list(tallied.beads, letters),
        )
        for heap, tallied in zip(result.heaps, result.tallies, strict=True)
    ]
    if result.unmeasured:
        rows.append((Cell(text="Not measured"), bead_list(result.unmeasured, letters)))
    return Table(title="Bead numbers of each size", head=("Size", "Bead numbers"), rows=rows)
