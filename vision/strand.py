"""A loaded strand, from photo to sizes: order, count, size across and along, lengths.

The steps, each in a module of its own: where something thick lies (`locate`), its course (`axis`),
pulled straight (`strip`), its two sides (`flanks`, `rims`), its division (`partition`), what is no bead
(`ends`), sizes (`across`, `along`), doubt (`uncertainty`).
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from vision.across import radii, tangent_angles
from vision.axis import STEP_MM, Axis, rough_axes, smooth_axis
from vision.camera import Camera
from vision.ends import beads_only
from vision.errors import NoBeadsError
from vision.flanks import Flanks, find_flanks, guided
from vision.fold import folded_sides
from vision.locate import survey
from vision.orthophoto import orthophoto
from vision.partition import Partition, partition
from vision.records import FloatArray, Photo
from vision.rims import Rim, bead_rims
from vision.sheet import Sheet
from vision.strip import Strip, straighten

_COURSE_WAVE_MM = 30.0
_FINE_WAVE_MM = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A photo with its camera, and the surface the beads lie on."""

    photo: Photo
    camera: Camera
    sheet: Sheet
    scale: float
    bed_height_mm: float

    @property
    def camera_above_mm(self) -> float:
        """Height of the projection centre above the surface under the beads."""
        return float(self.camera.centre_mm[2]) - self.bed_height_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Divided:
    """A strand divided into segments, with the pictures that were made on the way."""

    axis: Axis
    height_mm: float
    strip: Strip
    flanks: Flanks
    parts: Partition
    first: int
    last: int


def divide(scene: Scene) -> Divided:
    """Find the strand and divide it.

    Raises
    ------
    NoBeadsError
        Nothing on the sheet looks like a strand.
    """
    top = orthophoto(
        scene.photo, scene.camera, scene.sheet, scale=scene.scale, height_mm=scene.bed_height_mm
    )
    around = survey(top, scene.sheet, scale=scene.scale)
    for course, half in rough_axes(around):
        found = _divide_along(scene, course, half)
        if found is not None:
            return found
    raise NoBeadsError(
        "something lies on the sheet but no row of beads is made out: lay the strand on a plain bed in even light"
    )


def _divide_along(scene: Scene, course: FloatArray, half: float) -> Divided | None:
    axis = smooth_axis(course, wavelength_mm=_COURSE_WAVE_MM, straight_within_mm=0.5 * half, extend_mm=6.0)
    height = scene.bed_height_mm + 0.95 * half
    strip = straighten(scene.photo, scene.camera, axis, half_mm=1.6 * half + 3, height_mm=height)
    flanks = find_flanks(strip, half_mm=half, widest=1.5)
    width = flanks.width_mm
    thick = width > 0.6 * np.percentile(width, 90)
    half = float(np.percentile(width[thick], 97)) / 2
    middle = axis.at(np.arange(len(width)) * STEP_MM, (flanks.left_mm + flanks.right_mm) / 2)[thick]
    axis = smooth_axis(
        middle[::3], wavelength_mm=_FINE_WAVE_MM, straight_within_mm=0.3 * half, extend_mm=9.0
    )
    height = scene.bed_height_mm + 0.95 * half
    strip = straighten(scene.photo, scene.camera, axis, half_mm=1.6 * half + 3, height_mm=height)
    flanks = find_flanks(strip, half_mm=half, widest=1.15)
    radius = ndimage.gaussian_filter1d(flanks.width_mm / 2, 2.0)
    surface = straighten(
        scene.photo, scene.camera, axis, half_mm=1.2 * half, height_mm=height, radius_mm=radius
    )
    parts = partition(surface, flanks.width_mm, free_ends=axis.straight)
    if parts is None or len(parts.segments) < 1:
        return None
    first, last = beads_only(strip, flanks.width_mm, parts.segments, rod=axis.straight)
    guide = folded_sides(strip, flanks, list(parts.segments[first:last]))
    if guide is not None:
        flanks = guided(flanks, strip, guide)
    return Divided(
        axis=axis, height_mm=height, strip=strip, flanks=flanks, parts=parts, first=first, last=last
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """Radii and heights of all segments, stoppers included."""

    rims: list[tuple[Rim, Rim]]
    radius_mm: FloatArray
    centre_above_mm: FloatArray


def size_across(scene: Scene, strand: Divided) -> Sized:
    """Measure every segment across the string."""
    segments = list(strand.parts.segments)
    rims = bead_rims(
        scene.photo, scene.camera, strand.strip, strand.flanks, segments, height_mm=strand.height_mm
    )
    angles = tangent_angles(scene.camera, strand.axis, segments, rims, height_mm=strand.height_mm)
    resting = radii(angles, camera_above_mm=scene.camera_above_mm, centre_above_mm=None)
    if not strand.axis.straight:
        return Sized(rims=rims, radius_mm=resting, centre_above_mm=resting)
    rod = float(resting.max())
    held = radii(angles, camera_above_mm=scene.camera_above_mm, centre_above_mm=rod)
    return Sized(rims=rims, radius_mm=held, centre_above_mm=np.full(len(held), rod))
