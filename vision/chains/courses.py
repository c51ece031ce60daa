"""The courses of the strings on a bed: from pieces in their order to points along each string."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vision.chains.hanging import Clasp, clasp_between
from vision.chains.pieces import Piece
from vision.chains.seen import STEP_MM, Seen
from vision.chains.strings import strings_of
from vision.common.numerics import evenly, quarter_turn, travel, unit
from vision.common.records import FloatArray
from vision.topview.bead_map import BeadMap
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import Fragment

_WIDEST = 90
"""Percentile of the pieces' widths that is the width of a strand: spacers are narrower, two beads taken for
one may be wider."""
_HANGS = 1.5
"""What begins nearer to the clasp of a loop than this many widths of the loop hangs from it: its extender."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Where one string runs.

    Attributes
    ----------
    points_mm : ndarray, shape (N, 2)
        World (x, y), from the outer end of the first piece to that of the last, half a millimetre apart.
    half_mm : float
        Half the width of its widest pieces.
    closed : bool
        Whether it comes back to its beginning; the points leave out what lies between last and first piece.
    clasp : Clasp or None
        What closes a closed one, where it is seen.
    usual_mm : float
        Median size of its pieces, as their outlines show it.
    """

    points_mm: FloatArray
    half_mm: float
    closed: bool
    clasp: Clasp | None = None
    usual_mm: float = math.nan

    @property
    def length_mm(self) -> float:
        """Length of the course."""
        return float(travel(self.points_mm)[-1])


def courses_on(top: Orthophoto, maps: BeadMap, *, shown: Sequence[Fragment]) -> list[Course]:
    """Return the courses of all strings of a top view, in reading order; `shown` are its possible beads."""
    seen = seen_on(top, maps)
    pieces, strings = strings_of(shown, seen)
    courses = [_course([pieces[k] for k in string.pieces], closed=string.closed) for string in strings]
    kept = [
        (course, string)
        for course, string in zip(courses, strings, strict=True)
        if not any(_hangs_from(course, loop) for loop in courses if loop.closed)
    ]
    used = {k for _, string in kept for k in string.pieces + string.clasp_pieces}
    free = [piece for k, piece in enumerate(pieces) if k not in used]
    return [
        replace(
            course,
            clasp=clasp_between(
                course.points_mm[[-1, 0]],
                [pieces[k] for k in string.clasp_pieces],
                seen,
                loop=[pieces[k] for k in string.pieces],
                free=free,
            ),
        )
        if string.clasp
        else course
        for course, string in kept
    ]


def seen_on(top: Orthophoto, maps: BeadMap) -> Seen:
    """Return what each cell of a top view shows."""
    return Seen(kinds=maps.kinds, bed=maps.bed, per_mm=top.cells_per_mm, origin_mm=top.origin_mm)


def _course(pieces: Sequence[Piece], *, closed: bool) -> Course:
    """Return the course through pieces in order."""
    centres = np.array([piece.centre_mm for piece in pieces])
    ways = _ways(centres, pieces)
    aside = zip(pieces, quarter_turn(ways), strict=True)
    widths = [np.ptp(piece.outline_mm @ normal) for piece, normal in aside]
    start = ((pieces[0].outline_mm - centres[0]) @ ways[0]).min()
    stop = ((pieces[-1].outline_mm - centres[-1]) @ ways[-1]).max()
    line = np.vstack([centres[0] + start * ways[0], centres, centres[-1] + stop * ways[-1]])
    return Course(
        points_mm=evenly(line, max(int(travel(line)[-1] / STEP_MM), 4) + 1),
        half_mm=float(np.percentile(widths, _WIDEST)) / 2,
        closed=closed,
        usual_mm=float(np.median([piece.size_mm for piece in pieces])),
    )


def _ways(centres: FloatArray, pieces: Sequence[Piece]) -> FloatArray:
    """Return the direction of the string at each piece, unit vectors, shape (B, 2)."""
    if len(pieces) == 1:
        return pieces[0].direction[None]
    return unit(np.gradient(centres, axis=0))


def _hangs_from(course: Course, loop: Course) -> bool:
    """Return whether an open course begins, or ends, at the clasp of a loop."""
    if course.closed:
        return False
    clasp = (loop.points_mm[0] + loop.points_mm[-1]) / 2
    opening = float(np.hypot(*(loop.points_mm[0] - loop.points_mm[-1])))
    apart = min(float(np.hypot(*(end - clasp))) for end in (course.points_mm[0], course.points_mm[-1]))
    return apart < opening / 2 + _HANGS * 2 * loop.half_mm
