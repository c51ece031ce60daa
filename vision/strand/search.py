"""From a scene to a strand divided into segments: the search for what is to be measured.

The steps, each in a module of its own: where something thick lies (`locate`), its course (`axis`),
pulled straight (`strip`), its two sides (`flanks`, `fold`), where beads begin and end on it (`strandmap`,
`division`), what is no bead (`ends`).
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from vision.camera.scene import Scene
from vision.common.errors import NoBeadsError
from vision.common.records import FloatArray, Mask
from vision.image.gradient import Image
from vision.strand.axis import STEP_MM, Axis, rough_axes, smooth_axis
from vision.strand.boundaries import beads_on
from vision.strand.mirror import outlined
from vision.strand.period_mean import folded_sides
from vision.strand.segment import Segment
from vision.strand.sides import Flanks, find_flanks, guided
from vision.strand.stoppers import beads_only, doubtful_stoppers, with_stoppers
from vision.strand.strand_map import REACH, StrandMap, strand_map
from vision.strand.strip import Strip, laid_on, straighten
from vision.topview.bead_map import BeadMap, map_from_above
from vision.topview.blocks import bead_blocks
from vision.topview.instances import POSSIBLE, beads_of
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import Fragment

_COURSE_WAVE_MM = 30.0
_FINE_WAVE_MM = 25.0
_AXIS_SHARE = 0.95
"""Height of the string over the bed as a share of the half width seen, which perspective makes large."""
_RECENTRED, _CENTRED = 2, 0.12
"""A course that lies off the middle by more than this share of the half width is drawn once more."""
_MIDDLE_MM = 40.0
"""The string's course bends less than the sides of a few beads jump within this length."""
_ASIDE = 3.0
"""Half widths: the string lies above the bed, and is seen off the place that is under it; and what was lost
beyond an end counts too."""
_MIDDLE = 0.25
"""Of the width, to either side."""
_LOPSIDED = 1.15
"""Sides farther from the middle than this many times the other one's distance are not a bead's."""
_CUT_MM, _MORE_MM = 0.5, 20.0
_EITHER = 0.5
"""How sure it is that what may be a stopper of a rod is one, and not a bead."""
_NO_ROW = 0.3
"""Below this median clarity nothing on the strip is a row of beads, only a pattern or a tangle."""


View = tuple[Scene, Orthophoto, BeadMap, list[Fragment]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Divided:
    """A strand divided into segments, with the pictures that were made on the way.

    Attributes
    ----------
    axis : Axis
        The string's course in the plane `height_mm` above the sheet.
    height_mm : float
    strip : Strip
    flanks : Flanks
    likely : ndarray, shape (S,)
        How likely the middle of the strand shows a bead, at each step.
    segments : list of Segment
        Beads and stoppers, in order.
    first, last : int
        The half-open range of the segments that are beads.
    shown : list of Fragment
        What the network takes for beads, whatever the division, along the string.
    seen : StrandMap
        What the network of strands sees along the axis.
    """

    axis: Axis
    height_mm: float
    strip: Strip
    flanks: Flanks
    likely: FloatArray
    segments: list[Segment]
    first: int
    last: int
    shown: list[Fragment]
    seen: StrandMap

    @property
    def beads(self) -> slice:
        """Which of them are beads."""
        return slice(self.first, self.last)


def divide(scene: Scene) -> Divided:
    """Find the strand and divide it.

    Raises
    ------
    NoBeadsError
        Nothing on the sheet looks like a strand.
    """
    top, maps = map_from_above(scene)
    beads = beads_of(maps, per_mm=top.cells_per_mm, least_probability=POSSIBLE)
    for course, half in rough_axes(bead_blocks(top, maps, beads=beads)):
        found = _divide_along((scene, top, maps, beads), course, half)
        if found is not None and np.median([s.clarity for s in found.segments]) > _NO_ROW:
            return found
    raise NoBeadsError(
        "something lies on the sheet but no row of beads can be made out: "
        "lay the strand on a plain bed, clear of the tags, in even light"
    )


def _divide_along(view: View, course: FloatArray, half: float) -> Divided | None:
    """Pull a course straight, twice, and divide it; None where nothing on it is thick enough."""
    scene, top, maps, shown = view
    axis = smooth_axis(course, wavelength_mm=_COURSE_WAVE_MM, straight_within_mm=0.5 * half, extend_mm=6.0)
    height, strip, flanks = _look(view, axis, half, widest=1.5)
    for _ in range(_RECENTRED):
        axis, half = _recentred(axis, flanks)
        height, strip, flanks = _look(view, axis, half, widest=1.15)
        if axis.straight or _off_centre(flanks, half) < _CENTRED:
            break
    seen, beads = _beads_along(scene, axis, half, height)
    if beads and _cut_short(beads, axis):  # the course ended among beads: follow it further
        _, _, flanks = _look(view, axis.extended(_MORE_MM), half, widest=1.15)
        axis, half = _recentred(axis.extended(_MORE_MM), flanks)
        height, strip, flanks = _look(view, axis, half, widest=1.15)
        seen, beads = _beads_along(scene, axis, half, height)
    if not beads:
        return None
    inside = laid_on(strip, maps.inside, top, scene.camera.centre_mm, height_mm=height)
    likely = _in_the_middle(inside, strip.aside_mm, flanks)
    segments = with_stoppers(beads, flanks.width_mm) if axis.straight else beads
    likely = (likely + seen.at_steps(seen.between, len(likely))) / 2
    widths = seen.widths_mm(len(likely))
    first, last = beads_only(strip, widths, segments, likely, rod=axis.straight)
    for k in doubtful_stoppers(segments, widths, (first, last), likely) if axis.straight else []:
        first, last = min(first, k), max(last, k + 1)
        segments[k] = replace(segments[k], clarity=_EITHER)
    guide = folded_sides(strip, flanks, segments[first:last])
    if guide is not None:
        flanks = guided(flanks, strip, guide)
    return Divided(
        axis=axis,
        height_mm=height,
        strip=strip,
        flanks=outlined(strip, flanks, segments[first:last]),
        likely=likely,
        segments=segments,
        first=first,
        last=last,
        shown=_along(axis, top, shown, reach_mm=_ASIDE * half),
        seen=seen,
    )


def _beads_along(scene: Scene, axis: Axis, half: float, height: float) -> tuple[StrandMap, list[Segment]]:
    """Return what the network of strands sees along an axis, and the beads that it divides into."""
    wide = straighten(scene.photo, scene.camera, axis, half_mm=REACH * half, height_mm=height)
    seen = strand_map(wide, scene.camera.centre_mm, half_mm=half, height_mm=height)
    return seen, beads_on(seen)


def _cut_short(beads: list[Segment], axis: Axis) -> bool:
    """Return whether an axis ends within a bead: others may follow."""
    room = min(beads[0].start_mm, (len(axis.points_mm) - 1) * STEP_MM - beads[-1].end_mm)
    return room < _CUT_MM


def _look(view: View, axis: Axis, half: float, *, widest: float) -> tuple[float, Strip, Flanks]:
    """Return the height of the string, the strand pulled straight there, and its sides."""
    scene, top, maps, _ = view
    height = scene.bed_height_mm + _AXIS_SHARE * half
    strip = straighten(scene.photo, scene.camera, axis, half_mm=1.6 * half + 3, height_mm=height)
    inside = laid_on(strip, maps.inside, top, scene.camera.centre_mm, height_mm=height)
    flanks = find_flanks(strip, inside, half_mm=half, widest=widest)
    bare = _shows_tag(scene, axis, height)
    left, right = (np.where(bare, 0.0, side) for side in (flanks.left_mm, flanks.right_mm))
    return height, strip, replace(flanks, left_mm=left, right_mm=right)


def _shows_tag(scene: Scene, axis: Axis, height: float) -> Mask:
    """Return where along an axis a tag is seen that was read: no bead lies there, shape (S,)."""
    string = np.column_stack([axis.points_mm, np.full(len(axis.points_mm), height)])
    ground = scene.camera.to_plane(scene.camera.project(string), 0.0)
    shown = np.zeros(len(ground), dtype=bool)
    for tag in scene.tags_seen:
        square = scene.scale * scene.sheet.corners_mm(tag)
        shown |= ((ground >= square.min(axis=0)) & (ground <= square.max(axis=0))).all(axis=1)
    return shown


def _in_the_middle(inside: Image, aside_mm: FloatArray, flanks: Flanks) -> FloatArray:
    """Return the mean over the middle of the strand at each step, shape (S,), of a layer of the strip."""
    middle = (flanks.left_mm + flanks.right_mm) / 2
    near = np.abs(aside_mm[:, None] - middle) <= np.maximum(_MIDDLE * flanks.width_mm, STEP_MM)
    return np.asarray((inside * near).sum(axis=0) / np.maximum(near.sum(axis=0), 1))


def _along(axis: Axis, top: Orthophoto, shown: list[Fragment], *, reach_mm: float) -> list[Fragment]:
    """Return what the network takes for beads whose middle lies no farther from an axis."""
    points = cKDTree(axis.points_mm)
    return [f for f in shown if points.query(top.to_mm(f.hull.mean(axis=0)))[0] < reach_mm]


def _off_centre(flanks: Flanks, half: float) -> float:
    """Return how far aside the strand runs where it is worst, as a share of its half width."""
    thick = flanks.width_mm > 1.2 * half
    if not thick.any():
        return 0.0
    aside = ndimage.median_filter((flanks.left_mm + flanks.right_mm)[thick] / 2, round(2 * half / STEP_MM))
    return float(np.abs(aside).max()) / half


def _half_widths(flanks: Flanks) -> FloatArray:
    """Return half the width at each step; a bulge on one side alone, of shadow or bed, counts little."""
    span = round(_MIDDLE_MM / STEP_MM)
    middle = ndimage.median_filter((flanks.left_mm + flanks.right_mm) / 2, span, mode="nearest")
    narrower = np.minimum(middle - flanks.left_mm, flanks.right_mm - middle)
    return np.minimum(flanks.width_mm / 2, _LOPSIDED * narrower)


def _recentred(axis: Axis, flanks: Flanks) -> tuple[Axis, float]:
    """Return the axis moved to the middle between the sides, and half the width of the widest beads."""
    width = flanks.width_mm
    thick = width > 0.6 * np.percentile(width, 90)
    half = float(np.percentile(_half_widths(flanks)[thick], 97))
    middle = axis.at(np.arange(len(width)) * STEP_MM, (flanks.left_mm + flanks.right_mm) / 2)[thick]
    moved = smooth_axis(
        middle[::3], wavelength_mm=_FINE_WAVE_MM, straight_within_mm=0.3 * half, extend_mm=9.0
    )
    return moved, half
