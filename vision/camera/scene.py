"""A photo with its camera and its sheet: all that is known before a bead is detected."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from vision.camera.camera import Camera, on_plane
from vision.camera.scale import UNMEASURED_REL_U
from vision.common.conditions import Conditions, Question
from vision.common.records import FloatArray, Photo
from vision.sheet.geometry import Sheet
from vision.sheet.sharpness import TYPICAL_BLUR_PX

PAGE_EDGE_MM = 11.5
"""A mat's tags begin 12 mm from its edges. Outside them stand caption and ruler line, and no beads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """The context of a measurement: made once for a photo and passed on.

    Attributes
    ----------
    photo : Photo
    camera : Camera
    sheet : Sheet
    scale : float
        Printed size of the sheet over its nominal size.
    scale_rel_u : float
        Relative standard uncertainty of `scale`, shared by every length of the photo.
    check_length_given : bool
        Whether the maker read the check length; if not, `scale` is assumed to be 1.
    bed_height_mm : float
        Height of the surface under the beads above the plane of the tags.
    questioned : tuple of str
        Which of check length and bed height are unlikely and should be measured again.
    tags_seen : tuple of int
        Ids of the tags that were read, so nothing covers them.
    blur_px : float
        Standard deviation of the blur of an edge in this photo.
    """

    photo: Photo
    camera: Camera
    sheet: Sheet
    scale: float = 1.0
    scale_rel_u: float = 0.0
    check_length_given: bool = True
    bed_height_mm: float = 0.0
    questioned: tuple[Question, ...] = ()
    tags_seen: tuple[int, ...] = ()
    blur_px: float = TYPICAL_BLUR_PX

    @property
    def blur_times(self) -> float:
        """How many times as wide as in a sharp photo every edge is, at least 1.

        Seen so much coarser, a blurred photo looks like a sharp one: what misleads an edge by a share of a
        pixel in a sharp photo does so by as many times more here. That a blurred disc of radius r also looks
        smaller by about blur^2 / (2 r) is little beside it: `vision.checks.resolution` has r over 6 blurs.
        """
        return max(1.0, self.blur_px / TYPICAL_BLUR_PX)

    @property
    def camera_above_mm(self) -> float:
        """Height of the projection centre above the surface under the beads."""
        return float(self.camera.centre_mm[2]) - self.bed_height_mm

    def bed_to_px(self, ground_mm: FloatArray) -> FloatArray:
        """Return the pixels (..., 2) at which world points (x, y) of the bed show."""
        return self.camera.project(on_plane(ground_mm, self.bed_height_mm))

    @property
    def size_px(self) -> tuple[int, int]:
        """(width, height) of the photo."""
        return self.photo.rgb.shape[1], self.photo.rgb.shape[0]

    @property
    def page_mm(self) -> FloatArray:
        """(width, height) of the sheet as printed, shape (2,)."""
        return np.array(self.sheet.page_mm) * self.scale

    @property
    def _focal_source(self) -> str:
        """Where the focal length is from."""
        if self.photo.focal_35mm is None or not self.camera.is_whole:
            return "estimated"
        return "exif" if self.camera.zoom_seen else "exif-unchecked"

    @property
    def conditions(self) -> Conditions:
        """The circumstances, as reports state them."""
        return Conditions(
            photo=self.photo.name,
            sheet_name=self.sheet.name,
            tags_found=len(self.tags_seen),
            tags_on_sheet=len(self.sheet.ids),
            check_length_mm=self.scale * self.sheet.check_length_mm,
            nominal_check_length_mm=self.sheet.check_length_mm,
            check_length_given=self.check_length_given,
            bed_height_mm=self.bed_height_mm,
            camera_height_mm=float(self.camera.centre_mm[2]),
            tilt_deg=self.camera.tilt_deg,
            focal_source=self._focal_source,
            scale_rel_u=self.scale_rel_u,
            questioned=self.questioned,
            # a questioned scale is worth no more than an unmeasured one
            doubt_rel_u=UNMEASURED_REL_U if self.questioned else 0.0,
        )


def printed_boxes(
    sheet: Sheet, scale: float, *, tags: Iterable[int]
) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Yield the boxes, two world corners (x, y), of these tags of a printed mat, or of the whole card."""
    if sheet.bed_mm is None:
        yield np.zeros(2), scale * np.array(sheet.page_mm)
        return
    for tag in tags:
        square = scale * sheet.corners_mm(tag)
        yield square.min(axis=0), square.max(axis=0)
