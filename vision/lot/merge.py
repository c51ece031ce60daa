"""Beads that the map parted, made whole again by the rest of their lot.

A gleam in glass, or the bright end of a tube, may pass for a bead of its own. Where nearly all beads of a lot
are of one size and shape, two touching pieces that together are of that size and shape are one of them.
"""

from dataclasses import replace
from itertools import combinations

import cv2
import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.topview.region import Fragment, window

_FEWEST = 6
_ALIKE = 0.15
"""Relative scatter of areas up to which a lot is of one size: beads farther out show larger (common practice,
no source)."""
_PIECE, _SAME = 0.9, 0.2
"""Share of the usual area below which something may be a piece, and how near two must come to the usual area,
width and length."""
_TOUCH = 2
"""Cells that pieces may lie apart."""


def made_whole(found: list[Fragment]) -> list[Fragment]:
    """Return the beads of a lot, pieces of one joined; a bead so joined is unsure."""
    areas = np.array([f.area for f in found], dtype=float)
    if len(found) < _FEWEST or robust_sd(areas) > _ALIKE * np.median(areas):
        return found
    usual = _form(found)
    pieces = [k for k, f in enumerate(found) if f.area < _PIECE * usual[0]]
    gone: set[int] = set()
    whole = []
    for i, j in combinations(pieces, 2):
        if gone & {i, j} or not _touching(found[i], found[j]):
            continue
        one = _joined(found[i], found[j])
        if np.all(np.abs(np.log(_form([one]) / usual)) < _SAME):
            gone |= {i, j}
            whole.append(one)
    return [f for k, f in enumerate(found) if k not in gone] + whole


def _form(beads: list[Fragment]) -> FloatArray:
    """Return the median area, width and length, shape (3,), in cells; the last two from second moments."""
    rows = []
    for bead in beads:
        spread = np.linalg.eigvalsh(np.cov(np.argwhere(bead.mask).T))
        rows.append([bead.area, *np.sqrt(np.maximum(spread, 1e-9))])
    return np.asarray(np.median(rows, axis=0), dtype=float)


def _touching(one: Fragment, other: Fragment) -> bool:
    sides = zip(window(one), window(other), strict=True)
    if any(a.start > b.stop + _TOUCH or b.start > a.stop + _TOUCH for a, b in sides):
        return False  # most are far apart, and the window of both large
    both = _canvas(one, other)
    near = cv2.dilate(both[0], np.ones((2 * _TOUCH + 1, 2 * _TOUCH + 1), np.uint8))
    return bool((near & both[1]).any())


def _joined(one: Fragment, other: Fragment) -> Fragment:
    both = _canvas(one, other)
    closed = cv2.morphologyEx(both[0] | both[1], cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)) > 0
    corner = (min(one.corner[0], other.corner[0]), min(one.corner[1], other.corner[1]))
    return replace(one, mask=closed, corner=corner, probability=min(one.probability, other.probability), unsure=True)


def _canvas(one: Fragment, other: Fragment) -> tuple[np.ndarray, np.ndarray]:
    """Return the masks of two fragments on one common window, as 0 and 1."""
    windows = window(one), window(other)
    top, left = (min(w[k].start for w in windows) for k in (0, 1))
    shape = tuple(max(w[k].stop for w in windows) - low for k, low in ((0, top), (1, left)))
    laid = []
    for part, (rows, columns) in zip((one, other), windows, strict=True):
        canvas = np.zeros(shape, np.uint8)
        canvas[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left] = part.mask
        laid.append(canvas)
    return laid[0], laid[1]
