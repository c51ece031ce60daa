"""From a scene to a strand divided into beads: the search for what is to be measured.

The steps, each in a module of its own: the course of the string (`axis`), the strand straightened (`strip`),
its two sides (`sides`), where beads begin and end on it (`strand_map`, `boundaries`), what is no
bead (`stoppers`), and the sides of beads more closely (`edges`, `outlines`).
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.distance import cdist

from vision.camera.scene import Scene
from vision.chains.apart import Apart, things_apart, wide_things
from vision.chains.courses import Course, courses_on, seen_on
from vision.checks.count import contradicted
from vision.checks.layout import FEWEST, loose_beads
from vision.common.errors import NoBeadsError
from vision.common.pooling import pooled_kinds
from vision.common.records import PART_KINDS, FloatArray, Mask
from vision.image.gradient import Image
from vision.networks.inference import Map
from vision.strand.axis import STEP_MM, Axis, smooth_axis
from vision.strand.boundaries import beads_on
from vision.strand.edges import moved_to_edges
from vision.strand.outlines import moved_to_outlines
from vision.strand.sides import Sides, recentred, sides_of
from vision.strand.stoppers import Pieces, bead_chances, bead_range, beads_and_stoppers
from vision.strand.strand_map import REACH, StrandMap, strand_map
from vision.strand.strip import Segment, StringPlane, Strip, laid_on, middle_width, straighten
from vision.topview.bead_map import STRUNG, BeadMap
from vision.topview.orthophoto import Orthophoto
from vision.topview.reading import map_from_above
from vision.topview.region import PROBABLE, Fragment

_COURSE_WAVE_MM, _COURSE_SAG, _COURSE_ENDS_MM = 30.0, 0.5, 6.0
"""How the course through pieces is smoothed: waves shorter than three beads are not the string's (at double
one count of 28 is lost or flagged); half widths by which a rod may seem to sag; straight continuation, as a
piece may be missed and a stopper lies beyond."""
_AXIS_SHARE = 0.95
"""Height of the string over the bed as a share of the half width seen, which perspective makes large. At
double p95 of sizes goes from 0.27 to 0.30 mm."""
_ROOM, _ROOM_MM = 1.6, 3.0
"""A strip reaches so many half widths, and as much more, to both sides: bed must show beside the strand."""
_WIDEST = 1.4
"""No side lies beyond so many half widths: at 1.3 a count of 52 is lost, without a limit 4 of 14 lengths in
photographed light."""
_ASIDE = 3.0
"""Half widths: the string lies above the bed, and is seen off the place that is under it; and what was lost
beyond an end counts too. Half or double: no difference."""
_MIDDLE = 0.25
"""A quarter of the width, to either side of the middle, surely shows bead."""
_CUT_MM, _MORE_MM = 0.5, 20.0
"""An axis that ends nearer than this to a bead is followed so much further, until it grows by less than this.
"""
_NO_ROW = 0.3
"""Below this median clarity nothing on the strip is a row of beads, only a pattern or a tangle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DividedStrand:
    """A strand divided into segments, with the pictures that were made on the way.

    Attributes
    ----------
    strip : Strip
    sides : Sides
    segments : list of Segment
        Beads and stoppers, in order.
    beads : slice
        Which of the segments are beads.
    likely : ndarray, shape (S,)
        How likely the middle of the strand shows a bead, at each step.
    network : StrandMap
        What the network of strands makes of it.
    from_above : list of Fragment
        What the network of beads takes for beads along the string, whatever the division.
    surely_seen : int
        How many beads it surely sees on the whole bed.
    course : Course
        Where its string was first seen.
    beyond_mm : float
        By how much the pieces of a loop, seen from above, reach farther than its segments at both ends.
    apart : tuple of Apart
        What lies on the whole bed and is no part of any strand.
    wide : tuple of Apart
        What of it may lie over several beads.
    """

    strip: Strip
    sides: Sides
    segments: list[Segment]
    beads: slice
    likely: FloatArray
    network: StrandMap
    from_above: list[Fragment]
    surely_seen: int
    course: Course
    beyond_mm: float = 0.0
    apart: tuple[Apart, ...] = ()
    wide: tuple[Apart, ...] = ()

    @property
    def closed(self) -> bool:
        """Whether the string comes back to its beginning."""
        return self.course.closed

    @property
    def plane(self) -> StringPlane:
        """The plane of the string."""
        return self.strip.plane

    @property
    def rod(self) -> bool:
        """Whether the beads are on a rod, not on a wire."""
        return self.plane.axis.straight

    @property
    def bead_segments(self) -> list[Segment]:
        """The segments that are beads."""
        return self.segments[self.beads]


def divide(scene: Scene) -> list[DividedStrand]:
    """Find the strands and divide them, in reading order.

    Raises
    ------
    NoBeadsError
        Nothing on the sheet looks like a strand.
    LooseBeadsError
        Beads lie there, on no string.
    """
    seen = map_from_above(scene)
    top, maps, shown = seen.top, seen.maps, seen.pieces
    things = 1 - maps.kinds[0]
    view = _View(scene=scene, top=top, maps=maps, strung=maps.strung, things=things, shown=shown)
    courses = courses_on(top, maps, shown=shown)
    rows: list[DividedStrand] = []
    for course in sorted(courses, key=lambda course: -course.length_mm):
        found = None if _lies_on(rows, course) else _divided_along(view, course)
        if found is not None and _is_a_row(found):
            rows.append(found)
    rows.sort(key=lambda row: [course is row.course for course in courses].index(True))
    if rows:
        apart, wide = tuple(_lying_apart(view, rows)), tuple(wide_things(seen_on(top, maps)))
        return [replace(_apart_from(others=rows, one=one), apart=apart, wide=wide) for one in rows]
    surely = sum(not fragment.unsure for fragment in shown)
    if not courses and surely >= FEWEST:
        raise loose_beads(surely)
    if not courses:
        raise NoBeadsError(
            "the sheet is found but no beads on it: "
            "lay the strand on the bed, clear of the tags, in even light"
        )
    raise NoBeadsError(
        "something lies on the sheet but no row of beads can be made out: "
        "lay the strand on a plain bed, clear of the tags, in even light (loose beads: `strandgauge lot`)"
    )


def _lies_on(rows: list[DividedStrand], course: Course) -> bool:
    """Return whether most of a course lies on strands that were divided: one string, seen in two parts."""
    on = np.zeros(len(course.points_mm), dtype=bool)
    for row in rows:
        first, last = (row.bead_segments[k].steps() for k in (0, -1))
        along = cKDTree(row.plane.axis.points_mm[first.start : last.stop])
        on |= along.query(course.points_mm)[0] < course.half_mm
    return float(np.mean(on)) > PROBABLE


def _apart_from(*, others: list[DividedStrand], one: DividedStrand) -> DividedStrand:
    """Return a strand that counts no beads of other strands among those that lie about."""
    theirs = {id(f) for other in others if other is not one for f in other.from_above if not f.unsure}
    theirs -= {id(f) for f in one.from_above}
    return replace(one, surely_seen=one.surely_seen - len(theirs))


def _lying_apart(view: "_View", rows: list[DividedStrand]) -> list[Apart]:
    """Return what is no part of any strand: stoppers of rods, and what the strands leave on the bed."""
    taken = [
        view.cells_under(row, row.bead_segments[0].start_mm, row.bead_segments[-1].end_mm) for row in rows
    ]
    clasps = [row.course.clasp.cells for row in rows if row.course.clasp]
    stoppers = [
        view.cells_under(row, segment.start_mm, segment.end_mm)
        for row in rows
        if row.rod
        for segment in (*row.segments[: row.beads.start], *row.segments[row.beads.stop :])
    ]
    seen = seen_on(view.top, view.maps)
    return things_apart(view.shown, seen, taken=np.any([*taken, *clasps], axis=0), stoppers=stoppers)


def _is_a_row(found: DividedStrand) -> bool:
    """Return whether what was divided is a row of beads, from above and straightened."""
    seen = sum(not fragment.unsure for fragment in found.from_above)
    clear = float(np.median([s.clarity for s in found.segments])) > _NO_ROW
    return clear and not contradicted(len(found.bead_segments), surely_seen=seen)


@dataclass(frozen=True, slots=True, kw_only=True)
class _View:
    """A scene as seen from above: its top view, what shows beads, strung parts and things, and its pieces."""

    scene: Scene
    top: Orthophoto
    maps: BeadMap
    strung: Map
    things: Map
    shown: list[Fragment]

    def straightened(self, axis: Axis, half_mm: float) -> "_Straightened":
        """Straighten a strand of about `half_mm` half width."""
        scene = self.scene
        height = scene.bed_height_mm + _AXIS_SHARE * half_mm
        plane = StringPlane(axis=axis, height_mm=height, camera=scene.camera)
        strip = straighten(scene.photo, plane, half_mm=_ROOM * half_mm + _ROOM_MM)
        layers = self.maps.inside, self.strung, self.things
        inside, strung, things = laid_on(strip, layers, top=self.top)
        # no bead lies on a tag
        near = (np.abs(strip.aside_mm) <= _WIDEST * half_mm)[:, None] & ~_shows_tag(scene, plane)
        return _Straightened(
            strip=strip,
            sides=sides_of(inside * near),
            of_things=sides_of(things * near),
            inside=inside,
            strung=strung,
            half_mm=half_mm,
        )

    def recentred(self, last: "_Straightened") -> "_Straightened":
        """Straighten a strand once more, along the middle between its sides."""
        axis, half = recentred(last.axis, last.sides)
        return self.straightened(axis, half)

    def with_kinds(self, strand: "_Straightened", segments: list[Segment], *, clasped: bool) -> list[Segment]:
        """Return segments with the likeliest strung kind of each, and how much wider its sides have it.

        The probabilities of the kinds are pooled over the cells, and over parts of one size.
        """
        layers = laid_on(strand.strip, list(self.maps.kinds[STRUNG]), top=self.top)
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

    def cells_under(self, row: DividedStrand, start_mm: float, end_mm: float) -> Mask:
        """Return which cells of the top view a stretch of a strand covers, shape (H, W)."""
        along = np.arange(start_mm, end_mm, STEP_MM)
        steps = np.arange(len(row.sides.width_mm)) * STEP_MM
        left, right = (np.interp(along, steps, side) for side in (row.sides.left_mm, row.sides.right_mm))
        outline = row.plane.at(np.concatenate([along, along[::-1]]), np.concatenate([left, right[::-1]]))
        ground = self.scene.camera.moved_along_rays(outline, self.top.height_mm)[:, :2]
        cells = np.zeros(self.maps.bed.shape, np.uint8)
        cv2.fillPoly(cells, [np.rint(self.top.to_cells(ground)).astype(np.int32)], 1)
        return cells > 0

    def beads_along(self, axis: Axis, reach_mm: float) -> list[Fragment]:
        """Return what the network takes for beads whose middle lies no farther from an axis."""
        points = cKDTree(axis.points_mm)
        return [f for f in self.shown if points.query(self.top.to_mm(f.hull.mean(axis=0)))[0] < reach_mm]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Straightened:
    """A strand straightened along an axis, its sides as seen from above, and what each cell shows, (T, S).

    `of_things` are the sides of stoppers and string too. `inside`: how likely it shows a bead; `strung`: the
    same where it shows anything but bed.
    """

    strip: Strip
    sides: Sides
    of_things: Sides
    inside: Image
    strung: Image
    half_mm: float

    @property
    def axis(self) -> Axis:
        """What it was straightened along."""
        return self.strip.plane.axis

    def likely(self) -> FloatArray:
        """Return how likely the middle of the strand shows a bead at each step, shape (S,)."""
        return self._in_middle(self.inside)

    def strung_share(self) -> FloatArray:
        """Return how likely what the middle shows is a strung part, if it is not bed, shape (S,)."""
        return self._in_middle(self.strung)

    def shown_mm(self) -> FloatArray:
        """Return how wide the strand is on the map from above, shape (S,)."""
        off = np.abs(self.strip.aside_mm[:, None] - self.sides.middle_mm)
        return np.asarray((self.inside * (off <= self.sides.width_mm)).sum(axis=0) * STEP_MM)

    def _in_middle(self, cells: Image) -> FloatArray:
        off = np.abs(self.strip.aside_mm[:, None] - self.sides.middle_mm)
        near = off <= np.maximum(_MIDDLE * self.sides.width_mm, STEP_MM)
        return np.asarray((cells * near).sum(axis=0) / np.maximum(near.sum(axis=0), 1))


def _divided_along(view: _View, course: Course) -> DividedStrand | None:
    """Straighten a course and divide it; None where nothing on it is thick enough."""
    axis = smooth_axis(
        course.points_mm,
        wavelength_mm=_COURSE_WAVE_MM,
        straight_within_mm=_COURSE_SAG * course.half_mm,
        extend_mm=_COURSE_ENDS_MM,
    )
    strand = view.recentred(view.straightened(axis, course.half_mm))
    if strand.half_mm < STEP_MM:  # no sides stand apart
        return None
    network, beads = _beads_along(view, strand)
    followed_mm = 0.0
    while beads and not course.closed and _ends_within(beads, strand.axis, beyond_mm=followed_mm):
        followed_mm = strand.axis.length_mm + _CUT_MM
        longer = view.straightened(strand.axis.extended(_MORE_MM), strand.half_mm)
        strand = view.recentred(longer)
        network, beads = _beads_along(view, strand)
    first, last = _ends_on(strand.axis, course) if course.closed else (-np.inf, np.inf)
    beads = [bead for bead in beads if first < bead.middle_mm < last]  # the clasp, or the same, lie beyond
    if not beads:
        return None
    ends = max(beads[0].start_mm - first, 0.0), max(last - beads[-1].end_mm, 0.0)
    pieces = _pieces(strand, network, beads)
    segments, kept = (beads, slice(0, len(beads))) if course.closed else _kept(pieces)
    strand = replace(strand, sides=_final_sides(strand, network, segments[kept]))
    return DividedStrand(
        strip=strand.strip,
        sides=strand.sides,
        segments=view.with_kinds(strand, segments, clasped=course.clasp is not None),
        beads=kept,
        likely=pieces.likely,
        network=network,
        from_above=view.beads_along(strand.axis, _ASIDE * strand.half_mm),
        surely_seen=sum(not fragment.unsure for fragment in view.shown),
        course=course,
        beyond_mm=sum(ends) if course.closed else 0.0,
    )


def _ends_within(beads: list[Segment], axis: Axis, *, beyond_mm: float) -> bool:
    """Return whether an axis longer than that ends among beads."""
    end_mm = axis.length_mm
    return beyond_mm < end_mm and min(beads[0].start_mm, end_mm - beads[-1].end_mm) < _CUT_MM


def _ends_on(axis: Axis, course: Course) -> tuple[float, float]:
    """Return where on its axis the course of a loop begins and ends.

    The ends lie side by side, and the axis may run past both: each is looked for in its own half.
    """
    points, half = course.points_mm, len(axis.points_mm) // 2
    apart = cdist(axis.points_mm, points[[len(points) // 4, -len(points) // 4]]).argmin(axis=0)
    if apart[0] > apart[1]:
        points = points[::-1]  # the axis runs the other way
    first = int(cdist(axis.points_mm[:half], points[:1]).argmin())
    last = half + int(cdist(axis.points_mm[half:], points[-1:]).argmin())
    return STEP_MM * first, STEP_MM * last


def _beads_along(view: _View, strand: _Straightened) -> tuple[StrandMap, list[Segment]]:
    """Return the network's map of a strand, and the beads that it is divided into."""
    wide = straighten(view.scene.photo, strand.strip.plane, half_mm=REACH * strand.half_mm)
    network = strand_map(wide, half_mm=strand.half_mm)
    return network, beads_on(network)


def _pieces(strand: _Straightened, network: StrandMap, beads: list[Segment]) -> Pieces:
    """Return the beads, and the stoppers of a rod, with what the networks make of them."""
    rod, count = strand.axis.straight, len(strand.axis.points_mm)
    return Pieces(
        segments=beads_and_stoppers(beads, strand.of_things.width_mm) if rod else beads,
        strip=strand.strip,
        width_mm=network.widths_mm(count),
        likely=(strand.likely() + network.at_steps(network.between, count)) / 2,
        strung=strand.strung_share(),
        rod=rod,
    )


def _kept(pieces: Pieces) -> tuple[list[Segment], slice]:
    """Return the pieces, and which are beads."""
    beads = bead_range(pieces)
    chances = bead_chances(pieces, beads)
    return [replace(s, likely=float(p)) for s, p in zip(pieces.segments, chances, strict=True)], beads


def _final_sides(strand: _Straightened, network: StrandMap, beads: list[Segment]) -> Sides:
    """Return the sides, those of beads at the sharp edges next to where the network sees them.

    It does not take a hard shadow, whose edge is as sharp, for bead.
    """
    left, right = strand.of_things.left_mm.copy(), strand.of_things.right_mm.copy()
    seen = network.sides_mm(len(left))
    for steps in (bead.steps() for bead in beads):
        left[steps], right[steps] = -seen[0, steps], seen[1, steps]
    found = replace(strand.of_things, left_mm=left, right_mm=right)
    at_edges = moved_to_edges(found, beads, strip=strand.strip)
    return moved_to_outlines(at_edges, beads, strip=strand.strip)


def _shows_tag(scene: Scene, plane: StringPlane) -> Mask:
    """Return where along an axis a tag is seen that was read: no bead lies there, shape (S,)."""
    ground = scene.camera.moved_along_rays(plane.grid(np.zeros(1))[0], 0.0)[:, :2]
    shown = np.zeros(len(ground), dtype=bool)
    for tag in scene.tags_seen:
        square = scene.scale * scene.sheet.corners_mm(tag)
        shown |= ((ground >= square.min(axis=0)) & (ground <= square.max(axis=0))).all(axis=1)
    return shown
