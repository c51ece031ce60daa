"""The numbers of strands and of their beads, as drawn on the marked photo."""

from collections.abc import Sequence
from dataclasses import replace

from vision.common.records import Strand


def numbered(strands: Sequence[Strand]) -> tuple[Strand, ...]:
    """Return strands numbered 1, 2, 3 ..., and their beads, which run on from strand to strand."""
    out, before = [], 0
    for number, strand in enumerate(strands, 1):
        beads = tuple(replace(bead, number=bead.number + before) for bead in strand.beads)
        doubts = tuple(replace(d, number=d.number + before * (d.number > 0)) for d in strand.doubts)
        out.append(replace(strand, number=number, beads=beads, doubts=doubts))
        before += len(beads)
    return tuple(out)
