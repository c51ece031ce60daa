"""Makes lots of loose beads of given sizes, for tests of sorting and labels."""

from collections.abc import Iterable, Sequence

import numpy as np

from vision.common.conditions import Conditions
from vision.common.records import LooseBead, Lot


def conditions(photo: str = "lot.jpg", *, scale_rel_u: float = 0.0) -> Conditions:
    """Make the conditions of a photo on which all went well."""
    return Conditions(
        photo=photo,
        sheet_name="mat-a4",
        tags_found=26,
        tags_on_sheet=26,
        check_length_mm=273.0,
        nominal_check_length_mm=273.0,
        check_length_given=True,
        bed_height_mm=0.0,
        camera_height_mm=260.0,
        tilt_deg=2.0,
        focal_source="exif",
        scale_rel_u=scale_rel_u,
    )


def bead(
    number: int,
    width_mm: float,
    length_mm: float,
    *,
    u95_mm: float = 0.06,
    photo: str = "lot.jpg",
) -> LooseBead:
    """Make one bead; `width_mm` and `length_mm` are its smallest and largest caliper size."""
    x, y = 40.0 * (number % 9), 40.0 * (number // 9)
    corners = np.array([[-9, -9], [9, -9], [9, 9], [-9, 9]], dtype=float)
    return LooseBead(
        photo=photo,
        number=number,
        centre_px=(x, y),
        max_feret_mm=length_mm,
        max_feret_u95_mm=u95_mm,
        min_feret_mm=width_mm,
        min_feret_u95_mm=u95_mm,
        colour_rgb=(40, 90, 160),
        outline_px=corners + np.array([x, y]),
    )


def lot_of(
    widths_mm: Iterable[float],
    lengths_mm: Sequence[float] | None = None,
    *,
    u95_mm: float = 0.06,
    scale_rel_u: float = 0.0,
) -> Lot:
    """Make one photo of beads; without lengths they are perfect rounds."""
    widths = [float(width) for width in widths_mm]
    lengths = widths if lengths_mm is None else [float(length) for length in lengths_mm]
    beads = tuple(
        bead(i, width, length, u95_mm=u95_mm)
        for i, (width, length) in enumerate(zip(widths, lengths, strict=True), start=1)
    )
    return Lot(conditions=(conditions(scale_rel_u=scale_rel_u),), beads=beads)
