"""A string's course in the photo, from end to end or round, directions beside it, and a line parallel to it.

Courses are polylines, shape (N, 2), (x, y) in px. "Above" is the upper side of a course that runs
across the picture, the left side of one that runs down it.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy.spatial import ConvexHull
from scipy.spatial.distance import cdist

from vision.common.numerics import evenly, evenly_round, quarter_turn, unit
from vision.common.records import FloatArray, Mask

_POINTS = 400
"""Of a course that is drawn: a few pixels apart on any photo."""
_SMOOTHING = 30
"""The dimension line is smoothed over a thirtieth of the course to either side: a few beads."""
_AROUND = 48
"""Directions all round in which a line keeps its distance from a point, or a number may stand: an eye sees no
corner."""
_NEARER = 0.95
"""A point of a parallel that is nearer to the course by more lies on a loop: its smoothed directions alone
bring it nearer by a hundredth or two."""


def beside(centres: FloatArray) -> FloatArray:
    """Return for each bead the two unit vectors square to the strand, shape (N, 2, 2), above first.

    Examples
    --------
    >>> beside(np.array([[100.0, 50.0], [160.0, 50.0]]))[0].tolist()
    [[0.0, -1.0], [-0.0, 1.0]]
    """
    if len(centres) < 2:
        return np.broadcast_to(np.array([(0.0, -1.0), (0.0, 1.0)]), (len(centres), 2, 2))
    normal = _above(centres)
    return np.stack((normal, -normal), axis=1)


def outside(centres: FloatArray) -> FloatArray:
    """Return for each bead of a closed loop the unit vectors away from its middle and to it, (N, 2, 2)."""
    away = unit(centres - centres.mean(axis=0))
    return np.stack((away, -away), axis=1)


def all_round() -> FloatArray:
    """Return unit vectors all round, the first of which leads up, shape (N, 2)."""
    angles = 2 * np.pi * np.arange(_AROUND) / _AROUND
    return np.stack((np.sin(angles), -np.cos(angles)), axis=1)


def course_between_ends(string: FloatArray, *, first: FloatArray, last: FloatArray) -> FloatArray:
    """Return the string from the outer end of the first bead to that of the last, shape (400, 2).

    Parameters
    ----------
    string : ndarray, shape (N, 2)
        If it ends inside the end beads it is extended straight.
    first, last : ndarray, shape (M, 2)
        Outlines of the end beads.
    """
    if len(string) < 2:
        middle = first.mean(axis=0)
        string = middle + np.array([(-1.0, 0.0), (1.0, 0.0)])
    ahead, behind = string[0] - string[1], string[-1] - string[-2]
    extended = np.vstack(
        (
            string[0] + unit(ahead) * np.ptp(first, axis=0).max(),
            string,
            string[-1] + unit(behind) * np.ptp(last, axis=0).max(),
        )
    )
    course = evenly(extended, _POINTS)
    ends = np.vstack((first, last))
    nearest = cdist(course, ends).argmin(axis=0)
    return evenly(course[nearest.min() : nearest.max() + 2], _POINTS)


def parallel(
    course: FloatArray, taken: FloatArray, *, gap_px: float, above: bool = False
) -> tuple[FloatArray, FloatArray, int]:
    """Return a line beside a course, smoothed, clear of the points taken, and its outward unit vectors.

    The third part is how many of 400 points have none beside them, as within bends tighter than its distance.

    Parameters
    ----------
    taken : ndarray, shape (M, 2)
        Points from which the line keeps at least `gap_px` away.
    above : bool, keyword-only
        On which side.
    """
    side = 1.0 if above else -1.0
    normal = side * _above(course)
    nearest = cdist(taken, course).argmin(axis=1)
    depth = ((taken - course[nearest]) * normal[nearest]).sum(axis=1)
    out_px = max(float(depth.max()), 0.0) + gap_px
    beside = course + out_px * unit(_smoothed(normal))
    kept = _untangled(beside, course, out_px=out_px)
    line = _smoothed(evenly(beside[kept], _POINTS))
    return line, side * _above(line), int((~kept).sum())


def _untangled(line: FloatArray, course: FloatArray, *, out_px: float) -> Mask:
    """Return which points of a parallel lie on no loop of it, as in bends tighter than its distance.

    There its points lie nearer to the course than that; its ends stay.
    """
    kept = np.asarray(cdist(line, course).min(axis=1) > _NEARER * out_px)
    kept[[0, -1]] = True
    return kept


def round_line(outlines: FloatArray, taken: FloatArray, *, gap_px: float) -> tuple[FloatArray, FloatArray]:
    """Return a closed line round beads, the lowest point first, and its outward unit vectors.

    It is the outline of the beads' convex hull, farther out by a distance that keeps it `gap_px` clear of
    the other points taken.
    """
    bare = ConvexHull(outlines)
    beyond = (taken @ bare.equations[:, :2].T + bare.equations[:, 2]).max()  # of the farthest point outside
    out_px = max(float(beyond), 0.0) + gap_px
    corners = (outlines[bare.vertices][:, None] + out_px * all_round()).reshape(-1, 2)
    hull = corners[ConvexHull(corners).vertices]  # counterclockwise where y runs up
    hull = np.roll(hull, -int(hull[:, 1].argmax()), axis=0)
    line = evenly_round(hull, _POINTS - 1)
    ahead = unit(np.roll(line, -1, axis=0) - np.roll(line, 1, axis=0))
    return line, -quarter_turn(ahead)


def _above(course: FloatArray) -> FloatArray:
    """Return unit vectors square to a course, shape (N, 2), all on its upper side."""
    normal = -quarter_turn(unit(np.gradient(course, axis=0)))
    lead = normal.mean(axis=0)
    above = lead[1] < 0 if abs(lead[1]) >= abs(lead[0]) else lead[0] < 0
    return normal if above else -normal


def _smoothed(course: FloatArray) -> FloatArray:
    """Return the running mean of a course; its ends stay where they are."""
    half = len(course) // _SMOOTHING
    padded = np.pad(course, ((half, half), (0, 0)), mode="reflect", reflect_type="odd")
    return sliding_window_view(padded, 2 * half + 1, axis=0).mean(axis=2)
