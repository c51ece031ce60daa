"""How far the scale of a photo can be trusted: measured, questioned, refused or assumed.

A photo shows directions, not distances. A sheet printed smaller, or a higher bed with smaller beads on it,
gives exactly the same picture: no bead, shadow or parallax on it proves what the maker typed. What is known
is by what share it moves every size, and how far printers and beds can be off. So that share is bounded, by
the same two limits for check length and bed.
"""

import math

from vision.common.conditions import Question
from vision.common.errors import PhotoError
from vision.sheet.geometry import SHEETS, Sheet

QUESTIONED_REL = 0.02
"""A printer at 100 % is off by up to 1 %, and paper grows by up to 0.4 % (dated trade notes). A reading
further off is likely a misreading, or of a page fitted to the paper. A bed so high is thicker than cloth or
felt: 5 mm at 250 mm. At half, good prints are questioned; at double, nothing is before it is refused."""
REFUSED_REL = 0.04
"""The check lengths of the mats differ by 6.4 %, and a page fitted to the paper may be as much too small: so
far off, a reading of the wrong sheet looks like a fitted page, and a sheet at 100 % can be printed instead. A
bed as large as a mat's clear area, seen from above its middle, hides the tags 4 mm outside it from 3.3 % of
the camera's height on (A4, short sides: 4 / 121.5) to 5.1 % (long sides: 4 / 78). At half, felt of 5 mm is
refused; at double, the other mat's check length passes."""
UNMEASURED_REL_U = 0.065 / math.sqrt(3)
"""Standard uncertainty of a scale that nobody measured: rectangular about the nominal size (JCGM 100:2008,
4.3.7). Margins of 1/4 in leave a fitted page 94 % of its size (197.3 / 210 on the short side of A4, 203.2 /
215.9 on that of Letter; common practice of printer drivers, no source). Half a per cent more is the printer's
and the paper's. Nearly all prints are either at 100 % or too small. Yet the estimate stays nominal: a value
in the middle would be wrong for everybody who printed as told. So the farther side stands for both."""

_SAME_READING_MM = 0.5
"""Half a division of a common ruler: so near, a reading is that of the other sheet."""


def scale_rel_u(check_length_mm: float | None, check_length_u_mm: float) -> float:
    """Return the relative standard uncertainty of the sheet's scale.

    Parameters
    ----------
    check_length_mm : float or None
        As the maker read it; None: not read.
    check_length_u_mm : float
        Standard uncertainty of the reading.

    Examples
    --------
    >>> scale_rel_u(250.0, 0.05)
    0.0002
    >>> round(scale_rel_u(None, 0.0), 4)
    0.0375
    """
    if check_length_mm is None:
        return UNMEASURED_REL_U
    return check_length_u_mm / check_length_mm


def question_check_length(check_length_mm: float, sheet: Sheet) -> tuple[Question, ...]:
    """Return whether a check length should be measured again.

    Raises
    ------
    PhotoError
        It cannot be that of this sheet.

    Examples
    --------
    >>> question_check_length(272.6, SHEETS["mat-a4"]), question_check_length(264.8, SHEETS["mat-a4"])
    ((), ('check-length',))
    """
    off, shown_mm = check_length_mm / sheet.check_length_mm - 1, f"{round(check_length_mm, 2):g} mm"
    if abs(off) <= REFUSED_REL:
        return ("check-length",) if abs(off) > QUESTIONED_REL else ()
    for other in SHEETS.values():
        if abs(check_length_mm - other.check_length_mm) <= _SAME_READING_MM:
            raise PhotoError(
                f"{shown_mm} is the check length of the {other.title}; this photo shows the "
                f"{sheet.title}, {sheet.check_length_mm:g} mm at 100 %: read the ruler again, on this sheet"
            )
    raise PhotoError(
        f"a check length of {shown_mm} is {100 * abs(off):.1f} % "
        f"{'more' if off > 0 else 'less'} than the {sheet.check_length_mm:g} mm of the {sheet.title} in this "
        "photo: measure again from mark to mark above the top row of tags; if it is right, print the sheet "
        "again at 100 %, not fitted to the page"
    )


def question_bed(bed_height_mm: float, camera_height_mm: float) -> tuple[Question, ...]:
    """Return whether the height of a bed should be measured again.

    Parameters
    ----------
    bed_height_mm, camera_height_mm : float
        Heights above the plane of the tags. Their quotient is the share by which the bed makes beads smaller.

    Raises
    ------
    PhotoError
        The bed is no cloth or board over the sheet.

    Examples
    --------
    >>> question_bed(1.2, 250.0), question_bed(6.0, 250.0)
    ((), ('bed-height',))
    """
    moved = bed_height_mm / camera_height_mm
    if moved > REFUSED_REL:
        raise PhotoError(
            f"is the bed really {bed_height_mm:g} mm above the tags, the camera {camera_height_mm:.0f} mm? "
            f"No more than {REFUSED_REL * camera_height_mm:.0f} mm can be allowed for: give the "
            "thickness of the cloth or board under the beads, and lay the sheet on a thicker one"
        )
    return ("bed-height",) if moved > QUESTIONED_REL else ()
