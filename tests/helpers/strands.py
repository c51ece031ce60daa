"""Makes measured strands of given sizes, for tests."""

from collections.abc import Sequence

import numpy as np

from vision.common.records import Conditions, Strand, StrandBead

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
