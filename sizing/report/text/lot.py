"""A sorted lot as text: how many beads of each size, the picks, which beads to check."""

from collections import Counter

from sizing.base.units import format_length, format_mm
from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.picks import Picks
from sizing.lot.roundness import roundness
from sizing.lot.sizes import Mean
from sizing.lot.sorting import SortedLot
from sizing.lot.tally import Tally
from sizing.report.sentences.corrections import CORRECTED_BY_HAND, lot_corrections
from sizing.report.sentences.flagged import lot_flagged
from sizing.report.sentences.lot import lot_headline, lot_notes, whole_piece
from sizing.report.sentences.phrases import bare_mm
from sizing.report.text.layout import aligned, joined, section, wrap
from sizing.report.text.photos import condition_lines, flag_lines, photo_lines, scale_lines
from sizing.report.text.picks import pick_sections
from vision.common.records import Lot


def lot_text(result: SortedLot, picks: Picks) -> str:
    """Return what is in a lot, what was picked from it, which beads to check and how it was measured."""
    letters = photo_letters(result.lot)
    return joined(
        [
            scale_lines(result.lot.conditions),
            [lot_headline(result), *map(wrap, lot_notes(result))],
            photo_lines(result.lot),
            _size_table(result),
            _bead_lines(result, letters),
            *pick_sections(result.sizes, picks, letters=letters),
            _roundness_lines(result.lot),
            section(CORRECTED_BY_HAND, lot_corrections(result.lot)),
            flag_lines(lot_flagged(result.lot)),
            condition_lines(result.lot.conditions, letters),
        ]
    )


def _size_table(result: SortedLot) -> list[str]:
    """Return how many beads there are of each size; lengths stand in it where beads are longer than wide."""
    rows = list(zip((heap.name for heap in result.heaps), result.tallies, strict=True))
    if len(rows) > 1:
        rows.append(("all measured", result.whole))
    long = any(not tallied.is_round for _, tallied in rows)
    head = ("size", "beads", "width, mm", "spread", *(["length, mm", "spread"] if long else []), "strung")
    cells = [(name, *_cells(tallied, with_length=long)) for name, tallied in rows]
    return aligned([(*head, f"share of {whole_piece(result.target)}"), *cells]) if rows else []


def _cells(tallied: Tally, *, with_length: bool) -> tuple[str, ...]:
    strung = format_length(tallied.strung_mm, tallied.strung_u95_mm)
    if not tallied.is_round:
        strung = f"{format_mm(tallied.strung_mm)}, lengthwise {format_mm(tallied.strung_long_mm)}"
    length = _mean_cells(tallied.length) if with_length else ()
    share = f"{100 * tallied.share:.0f} %"
    return (str(len(tallied.beads)), *_mean_cells(tallied.width), *length, strung, share)


def _mean_cells(mean: Mean) -> tuple[str, str]:
    """Return a mean with its uncertainty, and the standard deviation of the beads."""
    return bare_mm(mean.mm, mean.u95_mm), f"{mean.sd_mm:.2f}"


def _bead_lines(result: SortedLot, letters: dict[str, str]) -> list[str]:
    """List the beads of each size."""
    rows = [(heap.name, tallied.beads) for heap, tallied in zip(result.heaps, result.tallies, strict=True)]
    rows += [("not measured", result.unmeasured)] if result.unmeasured else []
    return section("Beads of each size", (f"{name}: {bead_list(beads, letters)}" for name, beads in rows))


def _roundness_lines(lot: Lot) -> list[str]:
    """Count the classes of roundness."""
    scale = {each.photo: each.scale_rel_u for each in lot.conditions}
    names = [roundness(bead, scale_rel_u=scale.get(bead.photo, 0.0)).name for bead in lot.beads]
    counts = [f"{count} {name}" for name, count in Counter(names).most_common()]
    return section("Shape seen from above", [", ".join(counts)] if counts else [])
