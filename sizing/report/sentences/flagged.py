"""Which beads to check: the carriers of each flag, in words."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from sizing.lot.bead_names import bead_list, photo_letters
from sizing.report.sentences.phrases import number_runs
from vision.common.flags import DESCRIPTIONS
from vision.common.records import LooseBead, Lot, Strand, StrandBead

CHECK_THESE = "Check these beads"

Bead = TypeVar("Bead", StrandBead, LooseBead)


def strand_flagged(strands: Sequence[Strand]) -> dict[str, str]:
    """Return for each flag of strands who carries it: `beads 3, 7`, `all beads`, `the strand as a whole`."""
    beads = [bead for strand in strands for bead in strand.beads]
    found = _flagged(beads, lambda carriers: number_runs([bead.number for bead in carriers]))
    for word in {word for strand in strands for word in strand.flags}:
        whose = [strand.number for strand in strands if word in strand.flags]
        found[word] = _whole(whose) if len(strands) > 1 else "the strand as a whole"
    return _in_order(found)


def _whole(numbers: Sequence[int]) -> str:
    return f"strand{'' if len(numbers) == 1 else 's'} {number_runs(numbers)} as a whole"


def lot_flagged(lot: Lot) -> dict[str, str]:
    """Return for each flag of a lot who carries it: `beads A3, B7`, `all beads`, `the lot as a whole`."""
    letters = photo_letters(lot)
    found = _flagged(lot.beads, lambda beads: bead_list(beads, letters))
    return _in_order(dict.fromkeys(lot.flags, "the lot as a whole") | found)


def _flagged(beads: Sequence[Bead], names: Callable[[Sequence[Bead]], str]) -> dict[str, str]:
    found = {}
    for word in DESCRIPTIONS:
        carriers = [bead for bead in beads if word in bead.flags]
        if len(carriers) == len(beads) > 1:
            found[word] = "all beads"
        elif carriers:
            found[word] = f"bead{'' if len(carriers) == 1 else 's'} {names(carriers)}"
    return found


def _in_order(found: dict[str, str]) -> dict[str, str]:
    """Return flags in the order of their register."""
    return {word: found[word] for word in DESCRIPTIONS if word in found}
