"""Joins pieces of one bead that the map of beads separated, and tells which beads lie on others.

A gleam in glass, the bright end of a tube or what is pressed into a piece may look like a bead's end. Two
touching beads rarely are one convex body together, and more rarely one of the form that many beads of the lot
have. So touching pieces that are, and whose likes hardly lie alone, are one bead. Where all beads of a lot
lie in halves, as those of two colours may, none shows what a whole one is: pairs do whose sides run on, each
apart from the others.

A line separates two convex bodies that only touch, so neither lies within the convex hull of the other. Where
one lies on the other the part that is left of the lower one is hollow there.
"""

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray, Mask
from vision.topview.region import Fragment, owners, window

_FEWEST = 6
"""Pieces are joined only where so many others, or pairs, have the form of the whole, and most of these touch
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
    """Return the beads of a lot with pieces of one bead joined; a joined bead is unsure.

    Parameters
    ----------
    found : list of Fragment
    per_mm : float
        Cells.
    """
    if len(found) < _FEWEST:
        return found
    forms = np.array([form(piece) for piece in found])
    convex = _convex_groups(found, touch=round(_TOUCH_MM * per_mm))
    pairs = _lone_pairs(convex)
    usual = np.concatenate([forms, *(form(convex[pair])[None] for pair in pairs)])
    groups = {group: one for group, one in convex.items() if _likes(form(one), usual) >= _FEWEST}
    grouped = {k for group in groups for k in group}
    alone = forms[[k not in grouped for k in range(len(found))]]
    wholes = np.concatenate([alone, usual[len(forms) :]])
    gone: set[int] = set()
    whole = []
    for group, joined in sorted(groups.items(), key=lambda item: -_likes(form(item[1]), wholes)):
        parts = max(_likes(forms[k], alone) for k in group)
        others = _likes(form(joined), wholes) - (group in pairs)  # a pair is among the wholes itself
        if not gone & group and others > parts:
            gone |= group
            whole.append(joined)
    return [piece for k, piece in enumerate(found) if k not in gone] + whole


def _lone_pairs(convex: Collection[frozenset[int]]) -> list[frozenset[int]]:
    """Return the pairs that surely are halves of beads: neither is convex with another piece."""
    members = Counter(k for group in convex for k in group)
    return [group for group in convex if len(group) == 2 and all(members[k] == 1 for k in group)]


def form(piece: Fragment) -> FloatArray:
    """Return the logarithms of area, width and length, (3,), in cells; the last two by second moments."""
    spread = np.linalg.eigvalsh(np.cov(np.argwhere(piece.mask).T))
    return np.log([piece.area, *np.sqrt(np.maximum(spread, 1e-9))])


def _likes(one: FloatArray, forms: FloatArray) -> int:
    """Return how many forms (N, 3) are the same as one."""
    return int((np.abs(forms - one) < _SAME).all(axis=1).sum())


def _convex_groups(found: Sequence[Fragment], *, touch: int) -> dict[frozenset[int], Fragment]:
    """Return the groups of touching pieces that are convex together, each as one."""
    near = _neighbours(found, touch=touch)
    largest = 2 * max(piece.area for piece in found)
    groups: dict[frozenset[int], Fragment] = {}
    grown = {frozenset([k]) for k in range(len(found))}
    for _ in range(_MOST - 1):
        grown = {group | {k} for group in grown for member in group for k in near[member] - group}
        grown = {group for group in grown if sum(found[k].area for k in group) <= largest}
        for group in grown:
            if joined := _joined([found[k] for k in group]):
                groups[group] = joined
    return groups


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


def _joined(parts: Sequence[Fragment]) -> Fragment | None:
    """Return parts as one bead, the seams closed; None where they are not convex together."""
    laid, corner = _laid(parts)
    if _convexity(laid > 0) <= _CONVEX:
        return None
    closed = cv2.morphologyEx((laid > 0).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    probability = min(part.probability for part in parts)
    return replace(parts[0], mask=closed > 0, corner=corner, probability=probability, divided=True)


def _convexity(mask: Mask) -> float:
    """Return the share of the cells within the convex hull of a mask that are its own.

    By Pick's theorem these are the hull's area, plus half of the cells on its sides, plus one.

    Examples
    --------
    >>> _convexity(np.tri(20, dtype=bool))
    1.0
    """
    hull = cv2.convexHull(np.argwhere(mask).astype(np.int32))[:, 0]
    sides = np.abs(hull - np.roll(hull, 1, axis=0))
    within = cv2.contourArea(hull) + np.gcd(*sides.T).sum() / 2 + 1
    return float(mask.sum() / within)


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
