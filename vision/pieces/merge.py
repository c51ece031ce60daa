"""Joins pieces of one bead that the map of beads separated, and tells which beads lie on others.

Two touching beads rarely are one convex body together, and more rarely one of the form that many beads of the
lot have. So touching pieces that are, and whose likes hardly lie alone, are one bead.

A line separates two convex bodies that only touch, so neither lies within the convex hull of the other. Where
one lies on the other the part that is left of the lower one is hollow there.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray
from vision.topview.region import Fragment, owners, window

_FEWEST = 6
"""Pieces are joined only where so many others have the form of the whole, and most of these touch
none."""
_SAME, _TOUCH_MM = 0.2, 0.4
"""Forms are the same if area, width and length differ by less than the first, in logarithms; pieces touch if
they are nearer to each other than the second. In one of 22 drawn lots a bead lay in two pieces; in 18 other
lots nothing changes at half or double of either."""
_CONVEX = 0.93
"""Least share of their convex hull that pieces of one bead fill. Two touching discs fill 0.89, two cubes that
touch anyhow 0.93 with a standard deviation of 0.03 (drawn in cells), embossed tablets in pieces 0.94 to 0.99,
the halves of capsules in a photo 0.96 to 0.99. From 0.91 to 0.94 one count in 14 changes."""
_MOST = 4
"""Pieces that one bead may lie in: an embossed tablet lay in four."""
_HOLLOW = 0.08
"""Share of a bead's cells that others have within its hull, from which on they lie on it. Of 615 drawn beads
none that only touches others reaches 0.03; a round bead that hides a quarter of its like takes 0.17."""


def join_pieces(found: list[Fragment], *, per_mm: float) -> list[Fragment]:
    """Return the pieces of a lot, with `per_mm` cells a millimetre, those of one bead joined."""
    if len(found) < _FEWEST:
        return found
    forms = np.array([form(piece) for piece in found])
    groups = {}
    for group in touching(found, per_mm=per_mm):
        whole = joined([found[k] for k in group])
        if _likes(form(whole), forms) >= _FEWEST and _convexity([found[k] for k in group]) > _CONVEX:
            groups[group] = whole
    grouped = {k for group in groups for k in group}
    alone = forms[[k not in grouped for k in range(len(found))]]
    gone: set[int] = set()
    made = []
    for group, whole in sorted(groups.items(), key=lambda item: -_likes(form(item[1]), alone)):
        parts = max(_likes(forms[k], alone) for k in group)
        if gone.isdisjoint(group) and _likes(form(whole), alone) > parts:
            gone.update(group)
            made.append(whole)
    return [piece for k, piece in enumerate(found) if k not in gone] + made


def form(piece: Fragment) -> FloatArray:
    """Return the logarithms of area, width and length, (3,), in cells; the last two by second moments."""
    spread = np.linalg.eigvalsh(np.cov(np.argwhere(piece.mask).T))
    return np.log([piece.area, *np.sqrt(np.maximum(spread, 1e-9))])


def _likes(one: FloatArray, forms: FloatArray) -> int:
    """Return how many forms (N, 3) are the same as one."""
    return int((np.abs(forms - one) < _SAME).all(axis=1).sum())


def touching(found: Sequence[Fragment], *, per_mm: float) -> list[tuple[int, ...]]:
    """Return the groups of pieces that touch, by their numbers, none larger than two of the largest piece."""
    near = _neighbours(found, touch=round(_TOUCH_MM * per_mm))
    largest = 2 * max((piece.area for piece in found), default=0)
    groups, grown = set[frozenset[int]](), {frozenset([k]) for k in range(len(found))}
    for _ in range(_MOST - 1):
        grown = {group | {k} for group in grown for member in group for k in near[member] - group}
        grown = {group for group in grown if sum(found[k].area for k in group) <= largest}
        groups |= grown
    return sorted(tuple(sorted(group)) for group in groups)


def _neighbours(found: Sequence[Fragment], *, touch: int) -> list[set[int]]:
    """Return which pieces each one touches: is no more than so many cells apart."""
    near: list[set[int]] = [set() for _ in found]
    beside = np.ones((2 * touch + 1, 2 * touch + 1), np.uint8)
    for (i, one), (j, other) in combinations(enumerate(found), 2):
        sides = zip(window(one), window(other), strict=True)
        if any(a.start > b.stop + touch or b.start > a.stop + touch for a, b in sides):
            continue  # most are far apart, and the window of both large
        laid = _laid([one, other])[0]
        if ((laid == 2) & (cv2.dilate((laid == 1).astype(np.uint8), beside) > 0)).any():
            near[i].add(j)
            near[j].add(i)
    return near


def _laid(parts: Sequence[Fragment]) -> tuple[NDArray[np.uint8], tuple[int, int]]:
    """Return the window that holds all parts, with the number of each from 1 on, and its corner."""
    rows, columns = zip(*(window(part) for part in parts), strict=True)
    top, left = (min(side.start for side in sides) for sides in (rows, columns))
    canvas = np.zeros(
        [max(side.stop for side in sides) - low for sides, low in ((rows, top), (columns, left))], np.uint8
    )
    for number, part in enumerate(parts, start=1):
        x, y = part.corner[0] - left, part.corner[1] - top
        height, width = part.mask.shape
        canvas[y : y + height, x : x + width][part.mask] = number
    return canvas, (left, top)


def joined(parts: Sequence[Fragment]) -> Fragment:
    """Return parts as one piece, the seams closed."""
    laid, corner = _laid(parts)
    closed = cv2.morphologyEx((laid > 0).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    return replace(parts[0], mask=closed > 0, corner=corner)


def _convexity(parts: Sequence[Fragment]) -> float:
    """Return the share of the cells within the convex hull of parts that are theirs.

    By Pick's theorem these are the hull's area, plus half of the cells on its sides, plus one.

    Examples
    --------
    >>> _convexity([Fragment(mask=np.tri(20, dtype=bool), corner=(0, 0))])
    1.0
    """
    cells = np.argwhere(_laid(parts)[0] > 0)
    hull = cv2.convexHull(cells.astype(np.int32))[:, 0]
    sides = np.abs(hull - np.roll(hull, 1, axis=0))
    return float(len(cells) / (cv2.contourArea(hull) + np.gcd(*sides.T).sum() / 2 + 1))


def mark_overlaps(beads: Sequence[Fragment], *, shape: tuple[int, ...]) -> list[Fragment]:
    """Return the beads of a map of a shape (H, W), those that lie under or on others marked as such.

    Examples
    --------
    >>> square = Fragment(mask=np.ones((10, 10), dtype=bool), corner=(8, 5))
    >>> angle = Fragment(mask=np.ones((20, 12), dtype=bool), corner=(0, 0))
    >>> angle.mask[5:15, 8:] = False
    >>> [(bead.under, bead.over) for bead in mark_overlaps([square, angle], shape=(30, 30))]
    [(False, True), (True, False)]
    """
    owner, marked = owners(beads, shape), list(beads)
    for number, bead in enumerate(beads, start=1):
        inside = owner[window(bead)][bead.filled]
        others = inside[(inside > 0) & (inside != number)]
        if len(others) > _HOLLOW * bead.area:
            upper = int(np.bincount(others).argmax()) - 1
            marked[number - 1] = replace(marked[number - 1], under=True)
            marked[upper] = replace(marked[upper], over=True)
    return marked
