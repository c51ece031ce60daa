"""A string's course in the photo, from end to end, directions beside it, and a line parallel to it.

Courses are polylines, shape (N, 2), (x, y) in px. "Above" is the upper side of a course that runs
across the picture, the left side of one that runs down it.
"""

import numpy as np

from vision.common.records import FloatArray

_POINTS = 400
"""Of a course that is drawn: a few pixels apart on any photo."""
_SMOOTHING = 30
"""The dimension line is smoothed over a thirtieth of the course to either side: a few beads."""
_NO_LENGTH = 1e-9
"""Instead of zero, to divide by."""


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
            string[0] + _unit(ahead) * np.ptp(first, axis=0).max(),
            string,
            string[-1] + _unit(behind) * np.ptp(last, axis=0).max(),
        )
    )
    course = _resampled(extended)
    ends = np.vstack((first, last))
    nearest = np.hypot(*np.moveaxis(course[:, None] - ends[None], 2, 0)).argmin(axis=0)
    return _resampled(course[nearest.min() : nearest.max() + 2])


def parallel(course: FloatArray, taken: FloatArray, *, gap_px: float) -> tuple[FloatArray, FloatArray]:
    """Return a line below a course, smoothed, clear of the points taken, and its outward unit vectors.

    Parameters
    ----------
    taken : ndarray, shape (M, 2)
        Points from which the line keeps at least `gap_px` away.
    """
    normal = -_above(course)
    away = taken[:, None] - course[None]
    nearest = np.hypot(away[..., 0], away[..., 1]).argmin(axis=1)
    depth = (away[np.arange(len(taken)), nearest] * normal[nearest]).sum(axis=1)
    line = _smoothed(course + (max(depth.max(), 0.0) + gap_px) * _unit(_smoothed(normal)))
    outward = -_above(line)
    return line, outward


def _above(course: FloatArray) -> FloatArray:
    """Return unit vectors square to a course, shape (N, 2), all on its upper side."""
    tangent = _unit(np.gradient(course, axis=0))
    normal = np.stack((tangent[:, 1], -tangent[:, 0]), axis=1)
    lead = normal.mean(axis=0)
    above = lead[1] < 0 if abs(lead[1]) >= abs(lead[0]) else lead[0] < 0
    return normal if above else -normal


def _unit(vectors: FloatArray) -> FloatArray:
    length = np.maximum(np.sqrt((vectors**2).sum(axis=-1, keepdims=True)), _NO_LENGTH)
    unit: FloatArray = vectors / length
    return unit


def _resampled(course: FloatArray) -> FloatArray:
    """Return points at equal steps along a course."""
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(course, axis=0).T))))
    steps = np.linspace(0, at[-1], _POINTS)
    return np.stack([np.interp(steps, at, axis) for axis in course.T], axis=1)


def _smoothed(course: FloatArray) -> FloatArray:
    """Return the running mean of a course; its ends stay where they are."""
    half = len(course) // _SMOOTHING
    padded = np.pad(course, ((half, half), (0, 0)), mode="reflect", reflect_type="odd")
    window = np.ones(2 * half + 1) / (2 * half + 1)
    return np.stack([np.convolve(axis, window, "valid") for axis in padded.T], axis=1)
