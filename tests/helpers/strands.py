"""Makes measured strands of given sizes, for tests."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vision.common.changes import largest_change
from vision.common.conditions import Conditions
from vision.common.records import Doubt, Loop, PartKind, Strand, StrandBead

CONDITIONS = Conditions(
    photo="strand.jpg",
    sheet_name="mat-a4",
    tags_found=26,
    tags_on_sheet=26,
    check_length_mm=273.0,
    nominal_check_length_mm=273.0,
    check_length_given=True,
    bed_height_mm=0.0,
    camera_height_mm=250.0,
    tilt_deg=5.0,
    focal_source="exif",
    scale_rel_u=0.001,
)


def make_strand(
    along_mm: Sequence[float],
    *,
    across_mm: Sequence[float] | None = None,
    gap_mm: float = 0.0,
    flags: dict[int, tuple[str, ...]] | None = None,
    colours: Sequence[tuple[int, int, int]] = ((40, 60, 120),),
    kinds: Sequence[PartKind] = ("bead",),
) -> Strand:
    """Make a measured strand.

    Parameters
    ----------
    along_mm, across_mm : sequence of float
        Sizes of the beads along the string and across it; rounds if `across_mm` is None.
    gap_mm : float, keyword-only
        Free string between the first two beads.
    flags : dict, optional, keyword-only
        Flags of a bead, by its number.
    colours : sequence of tuple of int, keyword-only
        sRGB colours, repeated along the strand.
    kinds : sequence of str, keyword-only
        What each part is; repeated along the strand.
    """
    beads = tuple(
        StrandBead(
            number=i + 1,
            centre_px=(100.0 + 60 * i, 400.0),
            across_mm=across,
            across_u95_mm=0.08,
            along_mm=along,
            along_u95_mm=0.08,
            gap_after_mm=gap_mm if i == 0 else 0.0,
            colour_rgb=colours[i % len(colours)],
            outline_px=np.zeros((0, 2)),
            flags=(flags or {}).get(i + 1, ()),
            kind=kinds[i % len(kinds)],
        )
        for i, (along, across) in enumerate(zip(along_mm, across_mm or along_mm, strict=True))
    )
    closed_up_mm = float(np.nansum(along_mm))
    return Strand(
        conditions=CONDITIONS,
        beads=beads,
        length_mm=closed_up_mm + gap_mm,
        length_u95_mm=0.4,
        closed_up_mm=closed_up_mm,
        closed_up_u95_mm=0.4,
        string_px=np.zeros((0, 2)),
    )


def make_loop(
    along_mm: Sequence[float], *, clasp_mm: float = 12.0, kinds: Sequence[PartKind] = ("bead",)
) -> Strand:
    """Make a strand of round beads of these sizes that is closed with a clasp."""
    strand = make_strand(along_mm, kinds=kinds)
    around_mm = strand.length_mm + clasp_mm
    return replace(
        strand,
        loop=Loop(
            around_mm=around_mm,
            around_u95_mm=0.6,
            inner_girth_mm=around_mm - math.pi * float(np.average(along_mm, weights=along_mm)),
            inner_girth_u95_mm=0.6,
            clasp_mm=clasp_mm,
        ),
    )


def numbered_on(*strands: Strand) -> list[Strand]:
    """Return strands numbered, their beads numbered on, one below the other on the photo."""
    out: list[Strand] = []
    before = 0
    for number, strand in enumerate(strands, 1):
        beads = tuple(
            replace(
                bead,
                number=bead.number + before,
                centre_px=(bead.centre_px[0], bead.centre_px[1] + 200.0 * number),
            )
            for bead in strand.beads
        )
        out.append(replace(strand, number=number, beads=beads))
        before += len(beads)
    return out


def with_doubts(strand: Strand, *doubts: Doubt) -> Strand:
    """Return a strand of which the count is doubted, its lengths as uncertain as that makes them."""
    return replace(
        strand,
        doubts=doubts,
        length_u95_mm=strand.length_u95_mm + largest_change(doubt.length_mm for doubt in doubts),
        closed_up_u95_mm=strand.closed_up_u95_mm + largest_change(doubt.closed_up_mm for doubt in doubts),
    )
