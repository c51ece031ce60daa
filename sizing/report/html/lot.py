"""A sorted lot as a page."""

from collections import Counter
from collections.abc import Mapping, Sequence

from sizing.base.units import format_inches, format_mm
from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.marking import Marking
from sizing.lot.picks import Picks
from sizing.lot.roundness import roundness
from sizing.lot.sorting import SortedLot
from sizing.lot.tally import STRAND, Tally
from sizing.report.html.lot_sections import (
    BEAD_HEAD,
    bead_rows,
    flagged_in,
    key_of,
    mean_cell,
    sizes_drawing,
    subject_of,
)
from sizing.report.html.page import Cell, Drawing, Fact, Page, Picture, Row, Section, Table, render
from sizing.report.html.picks import pick_section
from sizing.report.html.plots import Range
from sizing.report.html.sections import (
    bare_mm,
    bead_section,
    caution_section,
    condition_section,
    css,
    doubt_section,
    opening,
    photo_section,
)
from sizing.report.text_lot import lot_headline, lot_notes
from vision.common.records import LooseBead, Lot

_METHODS = {
    "usual": "by the usual sizes",
    "step": "by steps",
    "pearl": "pearl classes",
    "natural": "natural groups",
}


def lot_page(result: SortedLot, picks: Picks, marking: Marking, pictures: Sequence[Picture]) -> str:
    """Return a sorted lot as one HTML document: what is in it, photos, sizes, classes, picks, cautions."""
    letters = photo_letters(result.lot)
    sections = [
        photo_section(pictures, key_of(marking)),
        Section(title="Sizes", blocks=[_plot(result, marking)] if result.heaps else []),
        Section(title="Classes", blocks=_class_tables(result, marking, letters)),
        pick_section(result.sizes, picks, letters),
        doubt_section(flagged_in(result.lot, letters)),
        bead_section(BEAD_HEAD, bead_rows(result.lot, marking, letters)),
        condition_section(result.lot.conditions, letters),
        caution_section(),
    ]
    return render(
        Page(
            kind="Lot",
            subject=subject_of(result.lot),
            headline=lot_headline(result),
            notes=lot_notes(result),
            facts=_facts(result),
            sections=sections,
        )
    )


def _facts(result: SortedLot) -> list[Fact]:
    whole = result.whole
    classes = sum(not heap.is_between for heap in result.heaps)
    facts = [
        Fact(label="Beads", value=str(len(result.lot.beads)), more=_roundness(result.lot)),
        Fact(label="Classes", value=str(classes), more=_METHODS[result.method]),
    ]
    if not whole.beads:
        return facts
    piece = "16 in strand" if result.target == STRAND else result.target.describe()
    return [
        *facts,
        Fact(label="Mean width", value=format_mm(whole.width.mm, whole.width.u95_mm)),
        Fact(
            label="All strung",
            value=format_mm(whole.strung_mm, whole.strung_u95_mm),
            more=format_inches(whole.strung_mm),
        ),
        Fact(label="Share", value=f"{100 * whole.share:.0f} %", more=f"of {piece}"),
    ]


def _roundness(lot: Lot) -> str:
    """Name the commonest class of roundness."""
    scale = {each.photo: each.scale_rel_u for each in lot.conditions}
    names = Counter(roundness(bead, scale_rel_u=scale[bead.photo]).name for bead in lot.beads)
    return ", ".join(f"{count} {name}" for name, count in names.most_common(2))


def _plot(result: SortedLot, marking: Marking) -> Drawing:
    """Draw the sizes with the classes that the lot's beads reach into."""
    classes = {each.low_mm: each for heap in result.heaps for each in heap.classes}
    ranges = [Range(name=each.name, low_mm=each.low_mm, high_mm=each.high_mm) for each in classes.values()]
    return sizes_drawing(result.sizes, marking, ranges, name=result.dimension)


def _class_tables(result: SortedLot, marking: Marking, letters: Mapping[str, str]) -> list[Table]:
    tally = [_class_table(result, marking)] if result.heaps else []
    return [*tally, _heap_table(result, marking, letters)]


def _class_table(result: SortedLot, marking: Marking) -> Table:
    """Return the tally; lengths stand in it where beads are longer than wide."""
    named = [
        (Cell(text=opening(heap.name), colour=_heap_colour(tallied, marking)), tallied)
        for heap, tallied in zip(result.heaps, result.tallies, strict=True)
    ]
    if len(named) > 1:
        named.append((Cell(text="All measured"), result.whole))
    long = any(not tallied.is_round for _, tallied in named)
    head = ("Class", "Beads", "Width, mm", *(["Length, mm"] if long else []), "Strung, mm", "Share")
    rows: list[Row] = [(name, *_tally_cells(tallied, with_length=long)) for name, tallied in named]
    return Table(title="Classes", head=head, rows=rows, figures=range(1, len(head)))


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


def _heap_table(result: SortedLot, marking: Marking, letters: Mapping[str, str]) -> Table:
    """Say which beads go into which heap."""
    rows: list[Row] = [
        (
            Cell(text=opening(heap.name), colour=_heap_colour(tallied, marking)),
            bead_list(tallied.beads, dict(letters)),
        )
        for heap, tallied in zip(result.heaps, result.tallies, strict=True)
    ]
    if result.unmeasured:
        rows.append((Cell(text="Not measured"), bead_list(result.unmeasured, dict(letters))))
    return Table(title="Beads by class", head=("Class", "Beads by number"), rows=rows)
