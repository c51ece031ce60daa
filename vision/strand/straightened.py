"""A strand straightened along its axis, with what the maps from above show on it."""

from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from scipy.spatial import cKDTree

from vision.camera.scene import Scene
from vision.common.pooling import pooled_kinds
from vision.common.records import PART_KINDS, FloatArray, Mask
from vision.networks.inference import Map
from vision.strand.axis import STEP_MM, Axis
from vision.strand.sides import Sides, recentred, sides_of
from vision.strand.strip import Segment, StringPlane, Strip, laid_on, middle_width, straighten
from vision.topview.kinds import STRUNG, Kind
from vision.topview.reading import Reading
from vision.topview.region import Fragment

_AXIS_SHARE = 0.95
"""Height of the string over the bed as a share of the half width seen, which perspective makes large. At
double p95 of sizes goes from 0.27 to 0.30 mm."""
_ROOM, _ROOM_MM = 1.6, 3.0
"""A strip reaches so many half widths, and as much more, to both sides: bed must show beside the strand."""
_WIDEST = 1.4
"""No side lies beyond so many half widths: at 1.3 a count of 52 is lost, without a limit 4 of 14 lengths in
photographed light."""
_MIDDLE = 0.25
"""A quarter of the width, to either side of the middle, surely shows bead."""


@dataclass(frozen=True, kw_only=True)
class View:
    """A scene, and what was read from above of it."""

    scene: Scene
    above: Reading

    @cached_property
    def strung(self) -> Map:
        """How likely each cell shows a strung part where it shows anything but bed, shape (H, W)."""
        return self.above.maps.strung

    @cached_property
    def things(self) -> Map:
        """How likely each cell shows anything but bed, shape (H, W)."""
        return 1 - self.above.maps.kinds[Kind.BED]

    def straightened(self, axis: Axis, half_mm: float) -> "Straightened":
        """Straighten a strand of about `half_mm` half width."""
        scene = self.scene
        height = scene.bed_height_mm + _AXIS_SHARE * half_mm
        plane = StringPlane(axis=axis, height_mm=height, camera=scene.camera)
        strip = straighten(scene.photo, plane, half_mm=_ROOM * half_mm + _ROOM_MM)
        layers = self.above.maps.inside, self.strung, self.things
        inside, strung, things = laid_on(strip, layers, top=self.above.top)
        # no bead lies on a tag
        near = (np.abs(strip.aside_mm) <= _WIDEST * half_mm)[:, None] & ~_shows_tag(scene, plane)
        return Straightened(
            strip=strip,
            sides=sides_of(inside * near),
            of_things=sides_of(things * near),
            inside=inside,
            strung=strung,
            half_mm=half_mm,
        )

    def recentred(self, last: "Straightened", *, held_mm: tuple[float, float]) -> "Straightened":
        """Straighten a strand once more, along the middle between its sides; beads are held to lie so far."""
        axis, half = recentred(last.axis, last.sides, held_mm=held_mm)
        return self.straightened(axis, half)

    def with_kinds(self, strand: "Straightened", segments: list[Segment], *, clasped: bool) -> list[Segment]:
        """Return segments with the likeliest strung kind of each, and how much wider its sides have it.

        The probabilities of the kinds are pooled over the cells, and over parts of one size.
        """
        layers = laid_on(strand.strip, [self.above.maps.kinds[kind] for kind in STRUNG], top=self.above.top)
        off = np.abs(strand.strip.aside_mm[:, None] - strand.sides.middle_mm)
        within = off <= np.maximum(strand.sides.width_mm / 2, STEP_MM)
        sums = np.array([(layer * within).sum(axis=0) for layer in layers])
        chances = np.array([sums[:, segment.steps()].sum(axis=1) for segment in segments])
        sizes = np.array([[s.length_mm, middle_width(strand.sides.width_mm, s)] for s in segments])
        chances /= np.maximum(chances.sum(axis=1, keepdims=True), np.finfo(float).tiny)
        kinds = pooled_kinds(chances, np.maximum(sizes, STEP_MM), clasped=clasped)
        apart = strand.sides.width_mm - strand.shown_mm()
        return [
            replace(s, kind=PART_KINDS[kind], wider_mm=middle_width(apart, s))
            for s, kind in zip(segments, kinds, strict=True)
        ]

    def string_on(self, strand: "Straightened") -> FloatArray:
        """Return how likely bare string shows at each step, within half a width of the axis, shape (S,)."""
        (string,) = laid_on(strand.strip, [self.above.maps.kinds[Kind.STRING]], top=self.above.top)
        return np.asarray(string[np.abs(strand.strip.aside_mm) <= strand.half_mm].max(axis=0))

    def cells_under(self, plane: StringPlane, sides: Sides, *, start_mm: float, end_mm: float) -> Mask:
        """Return which cells of the top view a stretch of a strand covers, shape (H, W)."""
        along = np.arange(start_mm, end_mm, STEP_MM)
        steps = np.arange(len(sides.width_mm)) * STEP_MM
        left, right = (np.interp(along, steps, side) for side in (sides.left_mm, sides.right_mm))
        outline = plane.at(np.concatenate([along, along[::-1]]), np.concatenate([left, right[::-1]]))
        ground = self.scene.camera.moved_along_rays(outline, self.above.top.height_mm)[:, :2]
        cells = np.zeros(self.above.maps.bed.shape, np.uint8)
        cv2.fillPoly(cells, [np.rint(self.above.top.to_cells(ground)).astype(np.int32)], 1)
        return cells > 0

    def beads_along(self, axis: Axis, reach_mm: float, *, within: tuple[float, float]) -> list[Fragment]:
        """Return what the network takes for beads whose middle lies no farther from an axis.

        Of a loop, whose beads lie within two places, what is nearest to either of these hangs there.
        """
        steps = np.arange(len(axis.points_mm)) * STEP_MM
        points = axis.points_mm[(within[0] < steps) & (steps < within[1])]
        ends = {0, len(points) - 1} if len(points) < len(steps) else set()
        middles = [self.above.top.to_mm(f.hull.mean(axis=0)) for f in self.above.pieces]
        apart, nearest = cKDTree(points).query(np.reshape(middles, (-1, 2)))
        there = zip(self.above.pieces, apart < reach_mm, nearest.tolist(), strict=True)
        return [f for f, is_near, step in there if is_near and step not in ends]


@dataclass(frozen=True, slots=True, kw_only=True)
class Straightened:
    """A strand straightened along an axis, its sides as seen from above, and what each cell shows, (T, S).

    `of_things` are the sides of stoppers and string too. `inside`: how likely it shows a bead; `strung`: the
    same where it shows anything but bed.
    """

    strip: Strip
    sides: Sides
    of_things: Sides
    inside: FloatArray
    strung: FloatArray
    half_mm: float

    @property
    def axis(self) -> Axis:
        """What it was straightened along."""
        return self.strip.plane.axis

    def shown_mm(self) -> FloatArray:
        """Return how wide the strand is on the map from above, shape (S,)."""
        off = np.abs(self.strip.aside_mm[:, None] - self.sides.middle_mm)
        return np.asarray((self.inside * (off <= self.sides.width_mm)).sum(axis=0) * STEP_MM)

    def in_middle(self, cells: FloatArray) -> FloatArray:
        """Return the mean of what cells (T, S) show in the middle of the strand at each step, shape (S,)."""
        off = np.abs(self.strip.aside_mm[:, None] - self.sides.middle_mm)
        near = off <= np.maximum(_MIDDLE * self.sides.width_mm, STEP_MM)
        return np.asarray((cells * near).sum(axis=0) / np.maximum(near.sum(axis=0), 1))


def _shows_tag(scene: Scene, plane: StringPlane) -> Mask:
    """Return where along an axis a tag is seen that was read: no bead lies there, shape (S,)."""
    ground = scene.camera.moved_along_rays(plane.grid(np.zeros(1))[0], 0.0)[:, :2]
    shown = np.zeros(len(ground), dtype=bool)
    for tag in scene.tags_seen:
        square = scene.scale * scene.sheet.corners_mm(tag)
        shown |= ((ground >= square.min(axis=0)) & (ground <= square.max(axis=0))).all(axis=1)
    return shown
