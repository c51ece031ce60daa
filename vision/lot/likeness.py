"""What the beads of one lot have in common besides their sizes: the bed they lie on, and how they look.

Beads are laid on one bed: what lies beside it, on the table, is rather a knot of its wood. Where no bead of a
lot looks like a finding to the network of kinds, a few things of another size that do are findings. Where all
look a little like one, as small metal beads and clear ones do, it says nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from vision.common.records import FloatArray, Mask
from vision.image.lab import to_lab
from vision.topview.bead_map import BeadMap
from vision.topview.kinds import Kind
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import Fragment, mean_over, window

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
_FOREIGN_SD = 0.1
"""Standard deviation of the shares in which beads of one lot look foreign. At half 85 beads are missed and 29
others counted, at double 83 and 36; of the numbers below none changes either by more than three."""
_NEW_FOREIGN, _NEW_LOOK = 0.05, 0.2
"""Share of makes of beads that look as foreign as findings do, and the least share of a lot that is of a make
like no other."""
_FINDINGS, _FEW = 0.15, 0.75
"""Makes of findings to be expected for each make of beads. Findings lie about by a few: each one more of a
size makes findings less probable by the second factor (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What pieces show besides their sizes.

    Attributes
    ----------
    foreign : ndarray, shape (N,)
        Of what they show of a thing at all, the share that is no strung part.
    beds : ndarray, shape (N, 3)
        Colour of the bed about each: CIE L*a*b*, L* halved.
    view : ndarray, shape (V, 3)
        The same at many places of the whole view.
    """

    foreign: FloatArray
    beds: FloatArray
    view: FloatArray

    @classmethod
    def by(cls, pieces: Sequence[Fragment], top: Orthophoto, maps: BeadMap) -> "Shown":
        """Return what the pieces of a top view show."""
        beds, seen = _bed_colours(pieces, top, maps)
        view = beds[seen]
        cells = [_middle(piece, beds.shape, maps.bed.shape) for piece in pieces]
        return cls(
            foreign=np.array([foreign_share(mean_over(piece, maps.kinds)) for piece in pieces]),
            beds=np.array([beds[cell] for cell in cells]).reshape(-1, 3),
            view=view[:: max(1, len(view) // _VIEW_POINTS)],
        )

    def on_their_bed(self, chances: FloatArray) -> FloatArray:
        """Return how many times likelier beads than flecks are to lie where each piece lies, shape (N,).

        Flecks lie anywhere in the view, beads where the others lie, which are beads with the given chances.
        """
        like_view = _alike(self.beds, self.view).mean(axis=1) + _LEAST
        others = (1 - np.eye(len(chances))) * chances
        among = (_alike(self.beds, self.beds) * others).sum(axis=1) + _ANYWHERE * like_view
        return np.asarray(among / ((others.sum(axis=1) + _ANYWHERE) * like_view))

    def are_beads(self, chances: FloatArray, solid: FloatArray, *, near: FloatArray) -> FloatArray:
        """Return the probability of each piece that it is a bead, not a finding or a tool, shape (N,).

        What is of one size is one or the other together, and is compared with the beads of other sizes.

        Parameters
        ----------
        chances : ndarray, shape (N,)
            Probabilities of beads.
        solid : ndarray, shape (N,)
            Probabilities that pieces are beads or other things, but no flecks.
        near : ndarray, shape (N, N)
            How much two pieces are of one size, 0 to 1.
        """
        foreign = near @ self.foreign / near.sum(axis=1)
        others = chances * (1 - near)
        look = _looks(foreign[:, None], self.foreign)
        new = (1 - _NEW_FOREIGN) * _looks(foreign, np.zeros(1)) + _NEW_FOREIGN
        known = ((look * others).sum(axis=1) + _ANYWHERE * new) / (others.sum(axis=1) + _ANYWHERE)
        bead = (1 - _NEW_LOOK) * known + _NEW_LOOK * new
        no_other = np.prod(1 - others, axis=1)
        finding = _FINDINGS * 2 * foreign * _FEW ** (near @ solid) * (1 - no_other)
        return np.asarray(bead / (bead + finding))


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


def _middle(piece: Fragment, coarse: tuple[int, ...], fine: tuple[int, ...]) -> tuple[int, int]:
    """Return the square that holds the middle of a piece."""
    cell = np.argwhere(piece.mask).mean(axis=0) + piece.corner[::-1]
    row, column = (cell * coarse[:2] / fine).astype(int)
    return int(row), int(column)


def foreign_share(kinds: FloatArray) -> float:
    """Return the share of no strung part in what a piece of these kinds shows of a thing."""
    return float(kinds[Kind.FINDING :].sum() / max(kinds[Kind.BEAD :].sum(), _LEAST))


def _alike(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return how alike colours (N, 3) and (M, 3) are, from 0 to 1, shape (N, M)."""
    return np.asarray(np.exp(-0.5 * ((one[:, None] - other) ** 2).sum(axis=2) / _BED_SD**2))


def _looks(foreign: FloatArray, usual: FloatArray) -> FloatArray:
    """Return the density of shares about usual ones, none of which is negative."""
    apart = [(foreign - sign * usual) / _FOREIGN_SD for sign in (1, -1)]
    return np.asarray(sum(np.exp(-0.5 * each**2) for each in apart) / (_FOREIGN_SD * np.sqrt(2 * np.pi)))
