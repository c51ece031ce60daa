"""What to add or remove if a strand is not what it was counted to be."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from vision.common import flags
from vision.common.records import Doubt, Strand, StrandBead


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubtful:
    """How the advice for a strand changes with each doubt about its count.

    Attributes
    ----------
    each : tuple of (Doubt, int)
        The beads to add (+) or remove (-) if that doubt alone is right.
    least, most : int
        Over all doubts together, none of them right among these.
    """

    each: tuple[tuple[Doubt, int], ...]
    least: int
    most: int


def count_sure(strand: Strand) -> bool:
    """Return whether neither a strand nor a bead of it is flagged for an uncertain count."""
    return not any(flags.COUNT_UNSURE & {*strand.flags, *bead.flags} for bead in strand.beads)


def doubtful_change(strand: Strand, change_beads: Callable[[Strand], int]) -> Doubtful | None:
    """Return how the advice depends on what is doubted about a strand; None where nothing is that moves it.

    Parameters
    ----------
    strand : Strand
    change_beads : callable
        Returns the beads to add (+) or remove (-) on a strand.
    """
    known = [doubt for doubt in strand.doubts if doubt.place != "strand"]
    if not known:
        return None
    together = [[d for d in known if d.beads < 0], [d for d in known if d.beads > 0]]
    cases = [*_ends_first(known), [], *together]
    strands = [strand_if(strand, case) for case in cases]
    changes = [change_beads(each) if each.count else None for each in strands]
    alone = zip(known, changes, strict=False)
    each = tuple((doubt, change) for doubt, change in alone if change is not None)
    reached = [change for change in changes if change is not None]
    return Doubtful(each=each, least=min(reached), most=max(reached)) if each else None


def strand_if(strand: Strand, right: Sequence[Doubt]) -> Strand:
    """Return a strand as it is if these doubts are right: with other beads, numbered anew.

    Examples
    --------
    >>> from tests.helpers.strands import make_strand
    >>> strand = make_strand([8.0] * 20)
    >>> end = Doubt(place="left end", number=1, beads=-1, length_mm=-8.0, closed_up_mm=-8.0)
    >>> shorter = strand_if(strand, [end])
    >>> len(shorter.beads), shorter.closed_up_mm
    (19, 152.0)
    """
    at: dict[int, list[StrandBead]] = {bead.number: [bead] for bead in strand.beads}
    last = strand.beads[-1].number
    for doubt in right:
        here = at.get(doubt.number, [])
        if doubt.place == "joint":
            at[doubt.number] = [_longer(bead, at[doubt.number + 1]) for bead in here]
            at[doubt.number + 1] = []
        elif doubt.beads < 0:
            at[doubt.number] = []
        elif doubt.place == "bead":
            parts = doubt.beads + 1
            at[doubt.number] = [replace(b, along_mm=b.along_mm / parts) for b in here] * parts
        else:
            place = {"left end": 0, "right end": last + 1}.get(doubt.place, doubt.number)
            added = replace(strand.beads[0], along_mm=doubt.closed_up_mm / doubt.beads, flags=(), kind="bead")
            at[place] = [*at.get(place, []), *[added] * doubt.beads]
    beads = [bead for place in sorted(at) for bead in at[place]]
    return replace(
        strand,
        beads=tuple(replace(bead, number=k + 1) for k, bead in enumerate(beads)),
        length_mm=strand.length_mm + sum(doubt.length_mm for doubt in right),
        closed_up_mm=strand.closed_up_mm + sum(doubt.closed_up_mm for doubt in right),
        doubts=(),
    )


def _ends_first(doubts: Sequence[Doubt]) -> list[list[Doubt]]:
    """Return for each doubt those that go with it: at an end also those nearer to the outside."""
    return [
        [*(d for d in doubts[:k] if d.place == doubt.place and d.beads == doubt.beads), doubt]
        if doubt.place in {"left end", "right end"}
        else [doubt]
        for k, doubt in enumerate(doubts)
    ]


def _longer(bead: StrandBead, by: Sequence[StrandBead]) -> StrandBead:
    return replace(bead, along_mm=bead.along_mm + sum(each.along_mm for each in by))
