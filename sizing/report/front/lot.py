"""What stands first about a sorted lot."""

from collections import Counter

from sizing.base.units import format_mm
from sizing.lot.roundness import roundness
from sizing.lot.sorting import SortedLot
from sizing.report.front.front import Fact, Front, length_fact
from sizing.report.sentences.conditions import scale_warnings
from sizing.report.sentences.lot import lot_headline, lot_notes, whole_piece
from vision.common.records import Lot

_METHODS = {
    "usual": "the usual sizes of the trade",
    "step": "in steps",
    "pearl": "pearl classes",
    "natural": "as the beads group themselves",
}


def lot_front(result: SortedLot) -> Front:
    """Return what stands first about a sorted lot, what is in it before all."""
    return Front(
        kind="Lot",
        subject=subject_of(result.lot),
        headline=lot_headline(result),
        notes=lot_notes(result),
        facts=_facts(result),
        warnings=scale_warnings(result.lot.conditions),
    )


def subject_of(lot: Lot) -> str:
    """Name a lot by its photo, or by the number of its photos."""
    count = len(lot.conditions)
    return lot.conditions[0].photo if count == 1 else f"{count} photos"


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
        length_fact("All strung", whole.strung_mm, whole.strung_u95_mm),
        Fact(label="That fills", value=f"{100 * whole.share:.0f} %", more=f"of {whole_piece(result.target)}"),
    ]


def _roundness(lot: Lot) -> str:
    """Count the commonest classes of roundness."""
    scale = {each.photo: each.scale_rel_u for each in lot.conditions}
    names = Counter(roundness(bead, scale_rel_u=scale[bead.photo]).name for bead in lot.beads)
    return ", ".join(f"{count} {name}" for name, count in names.most_common(2))
