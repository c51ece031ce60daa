"""The circumstances under which a photo was measured; part of all that is measured on it."""

from dataclasses import dataclass
from typing import Literal

Question = Literal["check-length", "bed-height"]
"""A typed length that should be measured again, because it is unlikely."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """The circumstances under which a photo was measured.

    Attributes
    ----------
    photo : str
        File name.
    sheet_name : str
        `mat-a4`, `mat-letter` or `card`.
    tags_found, tags_on_sheet : int
    check_length_mm : float
        As the maker read it, or nominal.
    nominal_check_length_mm : float
        What a ruler reads where the sheet is printed at 100 %.
    check_length_given : bool
        False: the nominal length is assumed, and every uncertainty is wider for it.
    bed_height_mm : float
        Height of the surface under the beads above the plane of the tags.
    camera_height_mm, tilt_deg : float
        Height of the projection centre above the sheet; angle of the optical axis to the vertical.
    focal_source : str
        `exif`; `exif-unchecked`: the same, where the tags could not tell a zoom; or `estimated`.
    scale_rel_u : float
        Relative standard uncertainty of the sheet's scale, shared by every length of the photo.
    check_length_origin : str
        How a given check length was measured; empty: with a ruler.
    questioned : tuple of str
        Which typed lengths should be measured again; nothing is certain before that.
    doubt_rel_u : float
        What decisions allow for besides, as a relative standard uncertainty, where something is questioned.
    """

    photo: str
    sheet_name: str
    tags_found: int
    tags_on_sheet: int
    check_length_mm: float
    nominal_check_length_mm: float
    check_length_given: bool
    bed_height_mm: float
    camera_height_mm: float
    tilt_deg: float
    focal_source: str
    scale_rel_u: float
    check_length_origin: str = ""
    questioned: tuple[Question, ...] = ()
    doubt_rel_u: float = 0.0

    @property
    def scale_checked(self) -> bool:
        """Whether the scale was measured and nothing about it is questioned."""
        return self.check_length_given and not self.questioned
