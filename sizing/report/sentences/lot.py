"""What a sorted lot holds, and what to know about the sorting."""

from sizing.base.target import Target
from sizing.base.units import format_mm
from sizing.lot.classes import finest_step_mm, nearest_usual_mm
from sizing.lot.label import DEFAULT_TOLERANCE_MM
from sizing.lot.sizes import mean_of
from sizing.lot.sorting import SortedLot
from sizing.lot.tally import STRAND
from sizing.report.sentences.phrases import counted
from sizing.report.sentences.several import others_said
from vision.common.flags import IN_A_ROW, UNSURE_COUNT
from vision.common.records import Lot

_COLOURS_SEEN_APART = 9  # see sizing.lot.palette


def lot_headline(result: SortedLot) -> str:
    """Say in one sentence what the lot holds: `52 beads in 3 sizes.`."""
    named = sum(not heap.is_between for heap in result.heaps)
    between = sum(len(heap.index) for heap in result.heaps if heap.is_between)
    total, missing = len(result.lot.beads), len(result.unmeasured)
    one = "in one group of sizes" if result.method == "natural" else "of one size"
    in_sizes = f"in {named} sizes" if named > 1 else one
    if named and not between and not missing:
        return f"{counted(total, 'bead')} {in_sizes}."
    parts = [f"{total - between - missing} {in_sizes}"] if named else []
    parts += [f"{between} between two sizes"] if between else []
    parts += [f"{missing} not measured"] if missing else []
    return f"{counted(total, 'bead')}: {', '.join(parts)}."


def lot_notes(result: SortedLot) -> list[str]:
    """Return what the maker should know about the sorting, a sentence each."""
    notes = []
    if result.too_fine:
        finest_mm = finest_step_mm(result.sizes)
        give_or_take, step = format_mm(finest_mm / 4, decimals=2), format_mm(finest_mm, decimals=2)
        notes.append(
            f"Each size is known to \N{PLUS-MINUS SIGN} {give_or_take}: with steps of less than {step} many "
            "beads lie between two sizes."
        )
    notes += _far_from_usual(result)
    if any(tally.beads and tally.is_round for tally in result.tallies):
        notes.append("Rounds turn any way on the string: they string to the mean of their width and length.")
    if result.method == "natural" and len(result.heaps) == 1:
        notes.append(
            "All beads form one group: no gap between their sizes is wider than chance and uncertainty "
            "explain."
        )
    if sum(not heap.is_between for heap in result.heaps) > _COLOURS_SEEN_APART:
        notes.append("With so many sizes neighbouring colours look the same: go by the bead numbers.")
    aside = others_said(result.lot.others, things=True)
    return [*shape_notes(result.lot), *notes, *([aside] if aside else [])]


def _far_from_usual(result: SortedLot) -> list[str]:
    """Say where beads were sorted into the nearest usual size, and would not be sold as that."""
    if result.method != "usual":
        return []
    found = []
    for heap in result.heaps:
        mean = mean_of(result.sizes.at(heap.index))
        usual_mm = nearest_usual_mm(mean.mm)
        off_mm = abs(mean.mm - usual_mm) - mean.u95_mm
        if heap.name == f"{usual_mm:g} mm" and off_mm > DEFAULT_TOLERANCE_MM:
            size = format_mm(mean.mm, mean.u95_mm)
            found.append(
                f"The beads sorted as {heap.name} measure {size}: no usual size is nearer, but beads that "
                "differ so much are not sold by it."
            )
    return found


def shape_notes(lot: Lot) -> list[str]:
    """Say as what shape the beads were measured, and whether their number is certain."""
    notes = [
        f"{each.photo} could not be measured and is left out: no bead on it is counted."
        for each in lot.left_out
    ]
    if IN_A_ROW in lot.flags:
        notes.append(
            "The beads lie one after the other, as on a string: if they are strung, measure a strand."
        )
    if lot.flat:
        notes.append("Measured as flat pieces lying on the sheet: if they are round beads, give --round.")
    if UNSURE_COUNT in lot.flags:
        notes.append("The number of beads is not certain: count them by eye.")
    return notes


def whole_piece(target: Target) -> str:
    """Name what shares are taken of: `a 16 in strand`, or `the piece`."""
    return "a 16 in strand" if target == STRAND else "the piece"
