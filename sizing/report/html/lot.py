"""A sorted lot as a page."""

from collections.abc import Sequence
from dataclasses import replace

from sizing.base.units import format_pair
from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.marking import Marking
from sizing.lot.picks import Picks
from sizing.lot.sorting import SortedLot
from sizing.lot.tally import Tally
from sizing.report.front.lot import lot_front
from sizing.report.html.lot_sections import (
    BEAD_HEAD,
    bead_rows,
    key_of,
    mean_cell,
    sizes_drawing,
)
from sizing.report.html.page import Cell, Drawing, Page, Picture, Row, Section, Table, render
from sizing.report.html.picks import pick_section
from sizing.report.html.plots import Range
from sizing.report.html.sections import (
    bead_section,
    caution_section,
    condition_section,
    correction_section,
    css,
    flag_section,
    length_cell,
    photo_section,
    trust_section,
)
from sizing.report.sentences.corrections import lot_corrections
from sizing.report.sentences.flagged import lot_flagged
from sizing.report.sentences.lot import whole_piece
from sizing.report.sentences.phrases import opening
from sizing.report.sentences.trust import lot_trust


def lot_page(result: SortedLot, picks: Picks, *, marking: Marking, pictures: Sequence[Picture]) -> str:
    """Return a sorted lot as one HTML document, what is in it first."""
    letters = photo_letters(result.lot)
    sections = [
        photo_section(pictures, key_of(marking)),
        _size_section(result, marking),
        pick_section(result.sizes, picks, letters=letters),
        correction_section(lot_corrections(result.lot)),
        flag_section(lot_flagged(result.lot)),
        bead_section(BEAD_HEAD, bead_rows(result.lot, marking)),
        condition_section(result.lot.conditions, letters),
        caution_section(),
        trust_section(lot_trust()),
    ]
    return render(Page(front=lot_front(result), sections=sections))


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
    head = ("Size", "Beads", "Width, mm", *(["Length, mm"] if long else []), "Strung", piece)
    rows: list[Row] = [(name, *_tally_cells(tallied, with_length=long)) for name, tallied in named]
    return Table(title="Beads of each size", head=head, rows=rows, figures=range(1, len(head)))


def _tally_cells(tallied: Tally, *, with_length: bool) -> Row:
    means = (tallied.width, tallied.length) if with_length else (tallied.width,)
    strung = length_cell(tallied.strung_mm, tallied.strung_u95_mm)
    if not tallied.is_round:
        strung = replace(strung, more=f"lengthwise {format_pair(tallied.strung_long_mm)[0]}")
    return (
        str(len(tallied.beads)),
        *map(mean_cell, means),
        strung,
        f"{100 * tallied.share:.0f} %",
    )


def _heap_colour(tallied: Tally, marking: Marking) -> str:
    colours = [css(marking.colour_of[bead.photo, bead.number]) for bead in tallied.beads[:1]]
    return "".join(colours)


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
