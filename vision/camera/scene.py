"""A photo with its camera, and the surface the beads lie on."""

from dataclasses import dataclass

from vision.camera.camera import Camera
from vision.common.records import Photo
from vision.sheet.geometry import Sheet

TYPICAL_BLUR_PX = 0.65
"""Lens, pixel and resampling together, of a sharp phone picture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is known before a bead is looked for.

    Attributes
    ----------
    photo, camera, sheet
    scale : float
        Printed size of the sheet over its nominal size.
    bed_height_mm : float
        Height of the surface under the beads above the plane of the tags.
    tags_seen : tuple of int
        Ids of the tags that were read: nothing covers them.
    blur_px : float
        Standard deviation of the blur of an edge in this photo.
    """

    photo: Photo
    camera: Camera
    sheet: Sheet
    scale: float
    bed_height_mm: float
    tags_seen: tuple[int, ...] = ()
    blur_px: float = TYPICAL_BLUR_PX

    @property
    def camera_above_mm(self) -> float:
        """Height of the projection centre above the surface under the beads."""
        return float(self.camera.centre_mm[2]) - self.bed_height_mm
