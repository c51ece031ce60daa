"""Joins pieces of one bead that the map of beads separated.

A gleam in glass, or the bright end of a tube, may look like a bead of its own. Where nearly all beads of a
lot are of one size and shape, two touching pieces that together have that size and shape are one bead.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import cv2
import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray, Mask
from vision.topview.region import Fragment, window

_FEWEST, _ALIKE = 6, 0.15
"""Pieces are joined only in a lot of at least so many beads, whose areas scatter by less than the second,
relative to their median: beads farther out look larger."""
_PIECE, _SAME, _TOUCH_MM = 0.9, 0.2, 0.4
"""Pieces have less than this share of the usual area; two are one bead if its area, width and length differ
from the usual ones by less than the second, and if they are nearer to each other than the third. In one of 22
drawn lots a bead lay in two pieces; in 18 other lots nothing changes at half or double of any of these."""


def join_pieces(found: list[Fragment], *, per_mm: float) -> list[Fragment]:
    """Return the beads of a lot with pieces of one bead joined; a joined bead is unsure.

    Parameters
    ----------
    found : list of Fragment
    per_mm : float
        Cells.
    """
    areas = np.array([f.area for f in found], dtype=float)
    if len(found) < _FEWEST or robust_sd(areas) > _ALIKE * np.median(areas):
        return found
    usual = usual_form(found)
    pieces = [k for k, f in enumerate(found) if f.area < _PIECE * usual[0]]
    gone: set[int] = set()
    whole = []
    for i, j in combinations(pieces, 2):
        pair = _Pair(one=found[i], other=found[j])
        if gone & {i, j} or not pair.touches(round(_TOUCH_MM * per_mm)):
            continue
        joined = pair.joined()
        if np.all(np.abs(np.log(usual_form([joined]) / usual)) < _SAME):
            gone |= {i, j}
            whole.append(joined)
    return [f for k, f in enumerate(found) if k not in gone] + whole


def usual_form(beads: Sequence[Fragment]) -> FloatArray:
    """Return the median area, width and length, shape (3,), in cells; the last two from second moments."""
    rows = []
    for bead in beads:
        spread = np.linalg.eigvalsh(np.cov(np.argwhere(bead.mask).T))
        rows.append([bead.area, *np.sqrt(np.maximum(spread, 1e-9))])
    return np.asarray(np.median(rows, axis=0), dtype=float)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """Two fragments on the window that holds both."""

    one: Fragment
    other: Fragment

    @property
    def corner(self) -> tuple[int, int]:
        """(column, row) of the window's first cell."""
        (x, y), (u, v) = self.one.corner, self.other.corner
        return min(x, u), min(y, v)

    def touches(self, cells: int) -> bool:
        """Return whether the two lie no more than so many cells apart."""
        sides = zip(window(self.one), window(self.other), strict=True)
        if any(a.start > b.stop + cells or b.start > a.stop + cells for a, b in sides):
            return False  # most are far apart, and the window of both large
        near = cv2.dilate(
            self._laid(self.one).astype(np.uint8), np.ones((2 * cells + 1, 2 * cells + 1), np.uint8)
        )
        return bool((self._laid(self.other) & (near > 0)).any())

    def joined(self) -> Fragment:
        """Return both as one bead, the seam between them closed."""
        both = (self._laid(self.one) | self._laid(self.other)).astype(np.uint8)
        closed = cv2.morphologyEx(both, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)) > 0
        probability = min(self.one.probability, self.other.probability)
        return replace(self.one, mask=closed, corner=self.corner, probability=probability, divided=True)

    def _laid(self, part: Fragment) -> Mask:
        """Return the mask of one of the two on the common window."""
        left, top = self.corner
        windows = window(self.one), window(self.other)
        height, width = (max(w[k].stop for w in windows) - low for k, low in ((0, top), (1, left)))
        canvas = np.zeros((height, width), dtype=bool)
        rows, columns = window(part)
        canvas[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left] = part.mask
        return canvas
