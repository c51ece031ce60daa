"""Chooses the colour of each bead on the annotated photo, and the legend of the colours."""

from collections.abc import Sequence
from dataclasses import dataclass

from sizing.lot.conformity import CONFORMING, NOT_CONFORMING, OUTCOMES, UNDECIDED, Conformity
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Beads that get the same colour."""

    meaning: str
    colour: Colour
    beads: Sequence[LooseBead]


def mark_classes(result: SortedLot) -> Marking:
    """Colour beads by class, from dark (smallest) to light; beads between classes and unmeasured apart."""
    heaps = list(zip(result.heaps, result.tallies, strict=True))
    decided = [(heap.name, tallied.beads) for heap, tallied in heaps if not heap.is_between]
    between = [bead for heap, tallied in heaps if heap.is_between for bead in tallied.beads]
    groups = [
        _Group(meaning=name, colour=colour, beads=beads)
        for (name, beads), colour in zip(decided, class_colours(len(decided)), strict=True)
    ]
    groups.append(_Group(meaning="between two sizes", colour=BETWEEN, beads=between))
    return _marking([*groups, _unmeasured(result.unmeasured)])


def mark_decisions(conformity: Conformity, unmeasured: Sequence[LooseBead]) -> Marking:
    """Colour beads by the decision whether they conform to their label."""
    decided = list(zip(conformity.beads, conformity.decisions, strict=True))
    groups = [
        _Group(
            meaning=OUTCOMES[decision],
            colour=DECISION_COLOURS[decision],
            beads=[bead for bead, each in decided if each == decision],
        )
        for decision in (CONFORMING, UNDECIDED, NOT_CONFORMING)
    ]
    return _marking([*groups, _unmeasured(unmeasured)])


def _unmeasured(beads: Sequence[LooseBead]) -> _Group:
    return _Group(meaning="not measured", colour=UNMEASURED, beads=beads)


def _marking(groups: Sequence[_Group]) -> Marking:
    """Collect the colours of groups of beads; an empty group has no line in the legend."""
    return Marking(
        colour_of={(bead.photo, bead.number): group.colour for group in groups for bead in group.beads},
        legend=tuple(
            (f"{group.meaning}: {len(group.beads)}", group.colour) for group in groups if group.beads
        ),
    )
