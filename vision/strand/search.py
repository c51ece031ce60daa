"""From a scene to a strand divided into beads: the search for what is to be measured.

The steps, each in a module of its own: the course of the string (`axis`), the strand straightened (`strip`,
`straightened`), its two sides (`sides`), where beads begin and end on it (`strand_map`, `boundaries`), what
is no bead (`stoppers`), and the sides of beads more closely (`edges`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.distance import cdist

from vision.camera.scene import Scene
from vision.chains.apart import Apart, things_apart, wide_things
from vision.chains.courses import Course, courses_on, seen_on
from vision.chains.seen import SHOWN
from vision.checks.count import contradicted
from vision.checks.layout import FEWEST, loose_beads
from vision.common.errors import NoBeadsError
from vision.common.records import FloatArray, Mask
from vision.strand.axis import STEP_MM, WAVE, Axis, smooth_axis
from vision.strand.boundaries import beads_on
from vision.strand.edges import moved_to_edges
from vision.strand.sides import Sides
from vision.strand.stoppers import Pieces, bead_chances, bead_range, beads_and_stoppers, strung_range
from vision.strand.straightened import Straightened, View
from vision.strand.strand_map import REACH, StrandMap, strand_map
from vision.strand.strip import Segment, StringPlane, Strip, straighten
from vision.topview.reading import map_from_above
from vision.topview.region import PROBABLE, Fragment

_COURSE_SAG, _COURSE_ENDS_MM = 0.5, 6.0
"""How the course through pieces is smoothed: half widths by which a rod may seem to sag; straight
continuation, as a piece may be missed and a stopper lies beyond."""
_ASIDE = 3.0
"""Half widths: the string lies above the bed, and is seen off the place that is under it; and what was lost
beyond an end counts too. Half or double: no difference."""
_CUT_MM, _MORE_MM = 0.5, 20.0
"""An axis that ends nearer than this to a bead is followed so much further, until it grows by less than this.
"""
_NO_ROW = 0.3
"""Below this median clarity nothing on the strip is a row of beads, only a pattern or a tangle."""

_Read = tuple[Straightened, StrandMap, list[Segment]]
"""A straightened strand, the network's map of it, and the beads that it is divided into."""


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
    bare : ndarray of bool, shape (S,)
        Where bare string is seen, and no bead.
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
    bare: Mask
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
    view = View(scene=scene, above=map_from_above(scene))
    top, maps, shown = view.above.top, view.above.maps, view.above.pieces
    courses = courses_on(top, maps, shown=shown)
    rows = _rows_on(view, courses)
    rows.sort(key=lambda row: [course is row.course for course in courses].index(True))
    if rows:
        apart, wide = tuple(_lying_apart(view, rows)), tuple(wide_things(seen_on(top, maps)))
        return [replace(_apart_from(view, others=rows, one=one), apart=apart, wide=wide) for one in rows]
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


def _rows_on(view: View, courses: list[Course]) -> list[DividedStrand]:
    """Return the courses that are rows of beads, divided; what lies on a longer one is the same string.

    Beads of other strands speak against a wide one near them until these are known: it is asked twice.
    """
    rows: list[DividedStrand] = []
    unlikely: list[DividedStrand] = []
    for course in sorted(courses, key=lambda course: -course.length_mm):
        found = None if _lies_on(rows, course) else _divided_along(view, course)
        if found is not None:
            is_a_row = _is_a_row(_apart_from(view, others=rows, one=found))
            (rows if is_a_row else unlikely).append(found)
    known = tuple(rows)
    again = (one for one in unlikely if not _lies_on(known, one.course))
    return [*known, *(one for one in again if _is_a_row(_apart_from(view, others=known, one=one)))]


def _lies_on(rows: Sequence[DividedStrand], course: Course) -> bool:
    """Return whether most of a course lies on strands that were divided: one string, seen in two parts."""
    on = np.zeros(len(course.points_mm), dtype=bool)
    for row in rows:
        first, last = (row.bead_segments[k].steps() for k in (0, -1))
        along = cKDTree(row.plane.axis.points_mm[first.start : last.stop])
        on |= along.query(course.points_mm)[0] < course.half_mm
    return float(np.mean(on)) > PROBABLE


def _apart_from(view: View, *, others: Sequence[DividedStrand], one: DividedStrand) -> DividedStrand:
    """Return a strand without the beads that lie on other strands, however near."""
    theirs: list[Fragment] = []
    for other in others:
        if other is not one:
            under = _under(view, other, other.bead_segments[0], other.bead_segments[-1])
            theirs += [f for f in view.above.pieces if under[tuple(f.hull.mean(axis=0).astype(int)[::-1])]]
    taken = {id(fragment) for fragment in theirs}
    return replace(
        one,
        from_above=[fragment for fragment in one.from_above if id(fragment) not in taken],
        surely_seen=one.surely_seen - sum(not fragment.unsure for fragment in theirs),
    )


def _lying_apart(view: View, rows: list[DividedStrand]) -> list[Apart]:
    """Return what is no part of any strand: stoppers of rods, and what the strands leave on the bed."""
    parts = [row.segments if row.closed else row.bead_segments for row in rows]
    taken = [_under(view, row, own[0], own[-1]) for row, own in zip(rows, parts, strict=True)]
    clasps = [row.course.clasp.cells for row in rows if row.course.clasp]
    stoppers = [
        _under(view, row, segment, segment)
        for row in rows
        if row.rod
        for segment in (*row.segments[: row.beads.start], *row.segments[row.beads.stop :])
    ]
    seen = seen_on(view.above.top, view.above.maps)
    return things_apart(view.above.pieces, seen, taken=np.any([*taken, *clasps], axis=0), stoppers=stoppers)


def _under(view: View, row: DividedStrand, first: Segment, last: Segment) -> Mask:
    """Return which cells of the top view a strand covers from one segment to another, shape (H, W)."""
    return view.cells_under(row.plane, row.sides, start_mm=first.start_mm, end_mm=last.end_mm)


def _is_a_row(found: DividedStrand) -> bool:
    """Return whether what was divided is a row of beads, from above and straightened."""
    seen = sum(not fragment.unsure for fragment in found.from_above)
    clear = float(np.median([s.clarity for s in found.segments])) > _NO_ROW
    return clear and not contradicted(len(found.bead_segments), surely_seen=seen)


def _divided_along(view: View, course: Course) -> DividedStrand | None:
    """Straighten a course and divide it; None where nothing on it is thick enough."""
    read = _read_to_its_ends(view, course)
    if read is None:
        return None
    strand, network, beads = read
    first, last = _ends_on(strand.axis, course) if course.closed else (-np.inf, np.inf)
    beads = [bead for bead in beads if first < bead.middle_mm < last]  # the clasp, or the same, lie beyond
    if not beads:
        return None
    ends = max(beads[0].start_mm - first, 0.0), max(last - beads[-1].end_mm, 0.0)
    if course.closed:  # covers, which no bead is like, are told from parts of the clasp
        beads = view.with_kinds(strand, beads, clasped=course.clasp is not None)
    pieces = _pieces(strand, network, beads)
    segments, kept = _kept(pieces, closed=course.closed)
    strand = replace(strand, sides=_final_sides(strand, network, segments[kept]))
    segments[kept] = view.with_kinds(strand, segments[kept], clasped=course.clasp is not None)
    return DividedStrand(
        strip=strand.strip,
        sides=strand.sides,
        segments=segments,
        beads=kept,
        likely=pieces.likely,
        bare=(view.string_on(strand) > SHOWN) & (pieces.likely < PROBABLE),
        network=network,
        from_above=view.beads_along(strand.axis, _ASIDE * strand.half_mm, within=(first, last)),
        surely_seen=sum(not fragment.unsure for fragment in view.above.pieces),
        course=course,
        beyond_mm=sum(ends) if course.closed else 0.0,
    )


def _read_to_its_ends(view: View, course: Course) -> _Read | None:
    """Straighten a course and read it; an open string is followed where it turns out to end within a bead."""
    axis = smooth_axis(
        course.points_mm,
        wavelength_mm=WAVE * course.half_mm,
        straight_within_mm=_COURSE_SAG * course.half_mm,
        extend_mm=_COURSE_ENDS_MM,
    )
    ends_mm = _COURSE_ENDS_MM, axis.length_mm - _COURSE_ENDS_MM
    read, followed_mm = _read_along(view, axis, course.half_mm, held_mm=ends_mm), 0.0
    while read and not course.closed and _ends_within(read[2], read[0].axis, beyond_mm=followed_mm):
        strand, _, beads = read
        followed_mm = strand.axis.length_mm + _CUT_MM
        ends_mm = _MORE_MM + beads[0].start_mm, _MORE_MM + beads[-1].end_mm
        longer = strand.axis.extended(_MORE_MM)
        read = _read_along(view, longer, strand.half_mm, held_mm=ends_mm) or read
    return read


def _read_along(view: View, axis: Axis, half_mm: float, *, held_mm: tuple[float, float]) -> _Read | None:
    """Straighten a strand along the middle between its sides and read it; None where no sides stand apart."""
    strand = view.recentred(view.straightened(axis, half_mm), held_mm=held_mm)
    if strand.half_mm < STEP_MM:
        return None
    wide = straighten(view.scene.photo, strand.strip.plane, half_mm=REACH * strand.half_mm)
    network = strand_map(wide, half_mm=strand.half_mm)
    return strand, network, beads_on(network)


def _ends_within(beads: list[Segment], axis: Axis, *, beyond_mm: float) -> bool:
    """Return whether an axis longer than that ends among beads."""
    end_mm = axis.length_mm
    return bool(beads) and beyond_mm < end_mm and min(beads[0].start_mm, end_mm - beads[-1].end_mm) < _CUT_MM


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


def _pieces(strand: Straightened, network: StrandMap, beads: list[Segment]) -> Pieces:
    """Return the beads, and the stoppers of a rod, with what the networks make of them.

    Of what it takes for no bead the network of strands sees no sides: that is as wide as from above.
    """
    rod, count = strand.axis.straight, len(strand.axis.points_mm)
    return Pieces(
        segments=beads_and_stoppers(beads, strand.of_things.width_mm) if rod else beads,
        strip=strand.strip,
        width_mm=np.maximum(network.widths_mm(count), strand.of_things.width_mm),
        likely=(strand.in_middle(strand.inside) + network.at_steps(network.between, count)) / 2,
        strung=strand.in_middle(strand.strung),
        rod=rod,
    )


def _kept(pieces: Pieces, *, closed: bool) -> tuple[list[Segment], slice]:
    """Return the pieces, and which are beads; of a loop, which are strung, between the parts of its clasp."""
    if closed:
        kept, chances = strung_range(pieces)
        chances[kept] = 1.0
    else:
        kept = bead_range(pieces)
        chances = bead_chances(pieces, kept)
    return [replace(s, likely=float(p)) for s, p in zip(pieces.segments, chances, strict=True)], kept


def _final_sides(strand: Straightened, network: StrandMap, beads: list[Segment]) -> Sides:
    """Return the sides, those of beads at the sharp edges next to where the network sees them.

    It does not take a hard shadow, whose edge is as sharp, for bead.
    """
    left, right = strand.of_things.left_mm.copy(), strand.of_things.right_mm.copy()
    seen = network.sides_mm(len(left))
    for steps in (bead.steps() for bead in beads):
        left[steps], right[steps] = -seen[0, steps], seen[1, steps]
    found = replace(strand.of_things, left_mm=left, right_mm=right)
    return moved_to_edges(found, beads, strip=strand.strip)
