"""The check length of a printed sheet, measured by a card or a coin that lies on it."""

from dataclasses import dataclass

from vision.camera.scale import question_check_length
from vision.common.records import Photo
from vision.measure import scene_of
from vision.reference.budget import ScaleBudget
from vision.reference.measure import print_scale
from vision.reference.objects import REFERENCES, Reference
from vision.sheet.tags import find_tags

__all__ = ["REFERENCES", "CheckLength", "Reference", "measure_check_length"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckLength:
    """The length of the top row of tags on one printed sheet.

    Attributes
    ----------
    sheet_name : str
    scale : float
        Printed size over nominal size.
    length_mm : float
    u_mm : float
        Standard uncertainty.
    budget : ScaleBudget
        What makes it up, relative.
    questioned : bool
        Whether it is so far from nominal that another thing may lie on the sheet than was said.
    """

    sheet_name: str
    scale: float
    length_mm: float
    u_mm: float
    budget: ScaleBudget
    questioned: bool


def measure_check_length(photo: Photo, reference: Reference) -> CheckLength:
    """Measure the check length of the sheet in a photo by a thing of known size that lies on it.

    Parameters
    ----------
    photo : Photo
    reference : Reference
        What lies on the empty sheet: one of `REFERENCES`.

    Raises
    ------
    NoSheetError, PhotoError
        With one line that says what was found and what to do.
    """
    tags = find_tags(photo)
    nominal = tags.sheet.check_length_mm
    scene = scene_of(photo, tags, check_length_mm=nominal, check_length_u_mm=0.0, bed_height_mm=0.0)
    scale, budget = print_scale(scene, tags, reference)
    length = scale * nominal
    return CheckLength(
        sheet_name=tags.sheet.name,
        scale=scale,
        length_mm=length,
        u_mm=budget.combined * length,
        budget=budget,
        questioned=bool(question_check_length(length, tags.sheet)),
    )
