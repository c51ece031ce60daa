"""The straightened strand: the plane of the string, the photo resampled in it, and its pieces.

A place on the strip is given by how far it lies along the string and how far aside of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera.camera import Camera, on_plane
from vision.common.records import FloatArray, ImageArray, PartKind, Photo
from vision.image.gradient import edge_strength
from vision.strand.axis import STEP_MM, Axis
from vision.topview.orthophoto import Orthophoto

_PROJECTED_EVERY = 5
"""Rows: within half a millimetre the map from a plane to pixels is straight to 0.001 pixel."""
_MIDDLE_HALF = 0.25
"""Of a segment's length, left out at either end."""
_FINE_MM, _COARSE_MM = 0.1, 0.35
"""Scales of an edge and of shadow. Either, at double, flags a count and 14 to 18 more beads of 89."""
_PER_CENT = 100.0
"""Logarithms are taken in hundredths: edges count in per cent of the light, about as large as in codes."""
_TOE = 30 / 255
"""Share of full scale added before taking logarithms: black is never quite black, and its noise is not
contrast. At half 7 fewer beads are flagged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A piece of the strand between two boundaries, in mm along the axis from its first point.

    `clarity` is how sure it is, from 0 to 1, that the piece is one bead, and not two or none; `likely`, that
    it is no stopper or scrap. `kind` is what it is, if it is strung; `wider_mm` is how much wider it is
    between its sides than on the map from above.

    Examples
    --------
    >>> bead = Segment(start_mm=2.0, end_mm=10.0)
    >>> bead.length_mm, bead.middle_mm
    (8.0, 6.0)
    >>> bead.steps(), bead.steps(trim=_MIDDLE_HALF)
    (slice(20, 100, None), slice(40, 80, None))
    """

    start_mm: float
    end_mm: float
    clarity: float = 1.0
    likely: float = 1.0
    kind: PartKind = "bead"
    wider_mm: float = 0.0

    @property
    def length_mm(self) -> float:
        """Length along the axis."""
        return self.end_mm - self.start_mm

    @property
    def middle_mm(self) -> float:
        """Middle along the axis."""
        return (self.start_mm + self.end_mm) / 2

    def steps(self, *, trim: float = 0.0, step_mm: float = STEP_MM) -> slice:
        """Return the steps that it covers, at least one, less a share `trim` of its length at either end."""
        margin = trim * self.length_mm
        first = max(round((self.start_mm + margin) / step_mm), 0)
        return slice(first, max(round((self.end_mm - margin) / step_mm), first + 1))


def middle_width(width_mm: FloatArray, segment: Segment) -> float:
    """Return the median width, mm, of the middle half of a segment, of widths at each step, shape (S,)."""
    return float(np.median(width_mm[segment.steps(trim=_MIDDLE_HALF)]))


@dataclass(frozen=True, slots=True, kw_only=True)
class StringPlane:
    """The plane that holds the string, parallel to the sheet, as the camera sees it.

    Attributes
    ----------
    axis : Axis
        The string's course in this plane.
    height_mm : float
        Of the plane above the sheet.
    camera : Camera
    """

    axis: Axis
    height_mm: float
    camera: Camera

    def at(self, along_mm: FloatArray, aside_mm: FloatArray) -> FloatArray:
        """Return the world points (..., 3) of places along and aside of the string, each of shape (...)."""
        return on_plane(self.axis.at(along_mm, aside_mm), self.height_mm)

    def grid(self, aside_mm: FloatArray) -> FloatArray:
        """Return the world points (T, S, 3) at every step along, this far aside, shape (T,)."""
        ground = self.axis.points_mm + aside_mm[:, None, None] * self.axis.normals
        return on_plane(ground, self.height_mm)

    def lifted(self, along_mm: FloatArray, aside_mm: FloatArray, *, height_mm: FloatArray) -> FloatArray:
        """Return world points (N, 3) at other heights on the rays that see places of the plane."""
        return self.camera.moved_along_rays(self.at(along_mm, aside_mm), height_mm)

    def ahead(self, along_mm: float, reach_mm: float) -> FloatArray:
        """Return world points (N, 3), a step apart, ahead of a place on the string; behind it if < 0."""
        start, way = self.axis.at(np.array([along_mm]), np.zeros(1))[0], self.axis.direction_at(along_mm)
        steps = np.linspace(0.0, reach_mm, max(round(abs(reach_mm) / STEP_MM), 1) + 1)
        return on_plane(start + steps[:, None] * way, self.height_mm)

    def size_at(self, size_mm: FloatArray, height_mm: FloatArray) -> FloatArray:
        """Return how large things at given heights are that look `size_mm` large in the plane.

        By similar triangles: sizes seen under one angle are as their distances below the camera.
        """
        above = float(self.camera.centre_mm[2])
        return np.asarray(size_mm * ((above - height_mm) / (above - self.height_mm)))

    @property
    def px_per_mm(self) -> float:
        """Scale of the photo at the middle of the string."""
        middle = self.axis.points_mm[len(self.axis.points_mm) // 2]
        return self.camera.px_per_mm(on_plane(middle, self.height_mm))


@dataclass(frozen=True, kw_only=True)
class Strip:
    """A straightened strand.

    Attributes
    ----------
    rgb : ndarray, shape (T, S, 3), uint8
        Row = aside, column = along, both in steps of `STEP_MM`; the middle row lies on the string.
    aside_mm : ndarray, shape (T,)
        Distance of each row from the string, to the right of its direction.
    plane : StringPlane
        Column k lies at `plane.axis.points_mm[k]`.
    """

    rgb: ImageArray
    aside_mm: FloatArray
    plane: StringPlane

    @cached_property
    def strength(self) -> FloatArray:
        """How sharply logarithms of codes change, per cent a step, (T, S): by contrast, on black felt too."""
        tone = (_PER_CENT * np.log(self.rgb.astype(np.float32) + 255 * _TOE)).astype(np.float32)
        return edge_strength(tone, fine_cells=_FINE_MM / STEP_MM, coarse_cells=_COARSE_MM / STEP_MM)


def straighten(photo: Photo, plane: StringPlane, *, half_mm: float) -> Strip:
    """Resample the photo along the string, as far as `half_mm` to both sides."""
    reach = round(half_mm / STEP_MM)
    aside = np.arange(-reach, reach + 1) * STEP_MM
    pixels = _projected(plane, aside)
    rgb = cv2.remap(
        photo.rgb, pixels[..., 0], pixels[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return Strip(rgb=np.asarray(rgb), aside_mm=aside, plane=plane)


def _projected(plane: StringPlane, aside_mm: FloatArray) -> NDArray[np.float32]:
    """Return the pixels (x, y) of all steps along, so far aside (T,); most rows interpolated, (T, S, 2)."""
    some = aside_mm[0] + STEP_MM * np.arange(0, len(aside_mm) + _PROJECTED_EVERY, _PROJECTED_EVERY)
    pixels = plane.camera.project(plane.grid(some))[:, None]
    share = (np.arange(_PROJECTED_EVERY) / _PROJECTED_EVERY)[:, None, None]
    rows = (1 - share) * pixels[:-1] + share * pixels[1:]
    return rows.reshape(-1, *pixels.shape[2:])[: len(aside_mm)].astype(np.float32)


def laid_on(
    strip: Strip, layers: Sequence[NDArray[np.float32]], *, top: Orthophoto
) -> list[NDArray[np.float32]]:
    """Return layers of the top view as they show on a strip, each of shape (T, S).

    The camera sees a point of the strip where its ray meets the top view's plane.
    """
    # a plane seen from another that is parallel to it: straight lines stay straight and even
    edges = strip.plane.camera.moved_along_rays(strip.plane.grid(strip.aside_mm[[0, -1]]), top.height_mm)
    first, last = np.moveaxis(top.to_cells(edges[..., :2]).astype(np.float32), -1, 1)[:, :, None]
    share = np.linspace(0, 1, len(strip.aside_mm), dtype=np.float32)[:, None]
    x, y = first + share * (last - first)
    return [
        np.asarray(cv2.remap(layer, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT), dtype=np.float32)
        for layer in layers
    ]
