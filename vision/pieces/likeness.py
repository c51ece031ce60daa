"""What the beads of one lot have in common besides their sizes: the bed they lie on.

What lies beside it, on the table, is rather a knot of its wood.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from vision.common.records import FloatArray, Mask
from vision.image.lab import to_lab
from vision.topview.bead_map import BeadMap
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import Fragment, window

_BED_SD = 8.0
"""Standard deviation of a bed's colour in CIE L*a*b*, L* counted half, as light differs along a bed. Numbers
here were tried on 27 traced tables and 23 drawn lots (1576 beads, 176 other pieces): 83 beads are missed and
35 other pieces counted, 89 and 37 without likeness. At half of this one 84 and 35, at double 87 and 36."""
_ABOUT_MM = 2.0
"""Standard deviation of the weights with which a piece's surroundings are averaged: more than the grain of a
cloth."""
_VIEW_POINTS = 3000
"""Places of the whole view, one in so many, that tell how much of it looks like a piece's surroundings."""
_ANYWHERE = 2.0
"""So many beads of each lot may lie anywhere, or look like none of the others."""
_LEAST = 1e-3
"""Least share of the view, or of surroundings that is free of pieces; nothing is divided by zero."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What pieces show besides their sizes.

    Attributes
    ----------
    beds : ndarray, shape (N, 3)
        Colour of the bed about each: CIE L*a*b*, L* halved.
    view : ndarray, shape (V, 3)
        The same at many places of the whole view.
    """

    beds: FloatArray
    view: FloatArray

    @classmethod
    def by(cls, pieces: Sequence[Fragment], top: Orthophoto, maps: BeadMap) -> "Shown":
        """Return what the pieces of a top view show."""
        beds, seen = _bed_colours(pieces, top, maps)
        view = beds[seen]
        scale = np.array(beds.shape[:2]) / maps.bed.shape
        middles = [np.argwhere(piece.mask).mean(axis=0) + piece.corner[::-1] for piece in pieces]
        cells = (np.array(middles).reshape(-1, 2) * scale).astype(int)
        return cls(beds=beds[tuple(cells.T)], view=view[:: max(1, len(view) // _VIEW_POINTS)])

    def on_their_bed(self, chances: FloatArray) -> FloatArray:
        """Return how many times likelier beads than flecks are to lie where each piece lies, shape (N,).

        Flecks lie anywhere in the view, beads where the others lie, which are beads with the given chances.
        """
        like_view = _alike(self.beds, self.view).mean(axis=1) + _LEAST
        others = (1 - np.eye(len(chances))) * chances
        among = (_alike(self.beds, self.beds) * others).sum(axis=1) + _ANYWHERE * like_view
        return np.asarray(among / ((others.sum(axis=1) + _ANYWHERE) * like_view))


def _bed_colours(pieces: Sequence[Fragment], top: Orthophoto, maps: BeadMap) -> tuple[FloatArray, Mask]:
    """Return the colour of the bed about every square of a millimetre, (h, w, 3), and where any is seen."""
    free = maps.bed & ~maps.beads
    for piece in pieces:
        free[window(piece)] &= ~piece.mask
    lab = to_lab(top.rgb * np.float32(1 / 255))
    height, width = (max(1, round(side / top.cells_per_mm)) for side in free.shape)
    colour, share, bed = (
        cv2.resize(layer.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA)
        for layer in (lab * free[:, :, None], free, maps.bed)
    )
    colour, share = (cv2.GaussianBlur(layer, (0, 0), _ABOUT_MM) for layer in (colour, share))
    mean = colour / np.maximum(share, 1e-6)[:, :, None] * (0.5, 1, 1)
    return mean, (bed > 0.5) & (share > _LEAST)


def _alike(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return how alike colours (N, 3) and (M, 3) are, from 0 to 1, shape (N, M)."""
    return np.asarray(np.exp(-0.5 * ((one[:, None] - other) ** 2).sum(axis=2) / _BED_SD**2))
