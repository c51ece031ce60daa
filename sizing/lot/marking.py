"""Which colour each bead gets on the annotated photo, and what the colours mean."""

from collections.abc import Sequence
from dataclasses import dataclass

from sizing.lot.conformity import CONFORMING, NOT_CONFORMING, UNDECIDED, Conformity
from sizing.lot.palette import BETWEEN, DECISION_COLOURS, UNMEASURED, Colour, class_colours
from sizing.lot.sorting import SortedLot
from vision.common.records import LooseBead


@dataclass(frozen=True, slots=True, kw_only=True)
class Marking:
    """A colour for each bead of a lot.

    Attributes
    ----------
    colour_of : dict
        sRGB colour by photo and number.
    legend : tuple of (str, tuple)
        Meaning with the number of beads, and colour.
    """

    colour_of: dict[tuple[str, int], Colour]
    legend: tuple[tuple[str, Colour], ...]


def mark_classes(result: SortedLot) -> Marking:
    """Colour beads by class, dark to light by rising size; those in no class apart."""
    named = [heap.name for heap in result.heaps if not heap.is_between]
    colours = dict(zip(named, class_colours(len(named)), strict=True))
    heaps = list(zip(result.heaps, result.tallies, strict=True))
    between = [bead for heap, tallied in heaps if heap.is_between for bead in tallied.beads]
    groups = [
        (heap.name, colours[heap.name], tallied.beads) for heap, tallied in heaps if not heap.is_between
    ]
    rest = [("between classes", BETWEEN, between), ("not measured", UNMEASURED, result.unmeasured)]
    return _marking([*groups, *rest])


def mark_decisions(conformity: Conformity, unmeasured: Sequence[LooseBead]) -> Marking:
    """Colour beads by whether they conform to a label."""
    decided = list(zip(conformity.beads, conformity.decisions, strict=True))
    groups = [
        (decision, DECISION_COLOURS[decision], [bead for bead, each in decided if each == decision])
        for decision in (CONFORMING, UNDECIDED, NOT_CONFORMING)
    ]
    return _marking([*groups, ("not measured", UNMEASURED, unmeasured)])


def _marking(groups: Sequence[tuple[str, Colour, Sequence[LooseBead]]]) -> Marking:
    """Give each group of beads its colour; groups without beads have no line in the legend."""
    return Marking(
        colour_of={(bead.photo, bead.number): colour for _, colour, beads in groups for bead in beads},
        legend=tuple((f"{name}: {len(beads)}", colour) for name, colour, beads in groups if beads),
    )
