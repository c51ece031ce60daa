"""A second look at each piece of a lot: whether it is one bead, a part of one, several, or none.

The map of beads says of each cell what it shows. Whether cells that hang together are one bead shows only in
the piece as a whole and in what lies about it: the shadow that ends at a bead, the half of a capsule that has
another half, the loop of a wire. A network gets the picture of each piece with its surroundings.
"""

from collections.abc import Sequence
from enum import IntEnum
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

from vision.common.records import FloatArray, Mask
from vision.networks.inference import MID_GREY, estimates
from vision.topview.bead_map import BeadMap
from vision.topview.kinds import Kind
from vision.topview.reading import Reading
from vision.topview.region import Fragment, owners, window

CELLS, _WINDOW = 48, 3.2
"""Cells along a side of the window, and its width over the diameter of the circle of the piece's area. The
network was trained with these."""
_SORTS = (Kind.BEAD, Kind.SPACER, Kind.FINDING, Kind.STOPPER, Kind.STRING, Kind.OTHER)
"""Each with those up to the next is shown as one layer."""
MAP = 5
"""Number of a picture's first layer that the map gives: inside, depth, sorts of kinds. Colours, the piece and
other pieces come before."""
_LAYERS = MAP + 2 + len(_SORTS)
_SURENESS = 0.7
"""Share of the logarithms of the network's odds that counts: it is too sure of what it was not taught by. At
0.5 and at 1 one or two of 38 lots more are counted wrongly."""
TYPICAL_CELLS = 30.0
"""Diameter of which the network is told nothing; of others it gets half of the logarithm over this."""


class Whole(IntEnum):
    """What a piece may be; the numbers are the order of the network's estimates."""

    NONE = 0
    ONE = 1
    PART = 2
    SEVERAL = 3


def second_look(
    pieces: Sequence[Fragment], seen: Reading, *, among: Sequence[Fragment], map_shown: bool = True
) -> FloatArray:
    """Return the probabilities of pieces that lie among others to be each `Whole`, shape (N, 4).

    Without the map the network judges by the photo alone, as it did with a tenth of what it was taught by. Of
    what the photo's edge cuts off it saw nothing: there the map counts.
    """
    if not pieces:
        return np.zeros((0, len(Whole)))
    shown = pictures(pieces, seen.top.rgb, seen.maps, among=among)
    shown[..., MAP:] *= map_shown
    cells = network_input(shown, np.array([piece.diameter for piece in pieces]))
    looks = softmax(_SURENESS * estimates("pieces", cells).astype(float), axis=1)
    # the bed ends a cell before the photo does
    within = cv2.erode(seen.top.seen.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0)
    for look, piece in zip(looks, pieces, strict=True):
        if not within[window(piece)][piece.mask].all():
            bead = piece.probability * map_shown
            look[:] = 1 - bead, bead, 0, 0
    return np.asarray(looks)


def pictures(
    pieces: Sequence[Fragment], rgb: NDArray[np.uint8], maps: BeadMap, *, among: Sequence[Fragment]
) -> NDArray[np.uint8]:
    """Return what the network is shown of pieces that lie among others, shape (N, CELLS, CELLS, _LAYERS)."""
    owner, mine, made = owners(among, rgb.shape[:2]), np.zeros(rgb.shape[:2], dtype=bool), []
    for piece in pieces:
        mine[window(piece)] = piece.mask
        made.append(_picture(piece, rgb, maps, owner, mine=mine))
        mine[window(piece)] = False
    return np.array(made, np.uint8)


def _picture(
    piece: Fragment, rgb: NDArray[np.uint8], maps: BeadMap, owner: NDArray[np.uint16], *, mine: Mask
) -> NDArray[np.uint8]:
    """Return what the network is shown of a piece; beyond the view its outermost cells are repeated."""
    half = max(_WINDOW * piece.diameter / 2, 2.0)
    middle = np.argwhere(piece.mask).mean(axis=0) + piece.corner[::-1]
    first, side = np.rint(middle - half).astype(int), round(2 * half)
    rows, columns = (
        np.clip(np.arange(start, start + side), 0, end - 1)
        for start, end in zip(first, owner.shape, strict=True)
    )
    box = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    sorts = [maps.kinds[(slice(*ends), *box)].sum(axis=0) for ends in pairwise((*_SORTS, len(Kind)))]
    shares = [mine[box], (owner[box] > 0) & ~mine[box], maps.inside[box], maps.depth[box], *sorts]
    codes = [np.rint(share * np.float32(255)).astype(np.uint8) for share in shares]
    layers = np.dstack([rgb[box], *codes])[rows - rows[0]][:, columns - columns[0]]
    how = cv2.INTER_AREA if side > CELLS else cv2.INTER_LINEAR
    parts = np.array_split(layers, range(4, _LAYERS, 4), axis=2)  # more than four channels it cannot resize
    return np.dstack([cv2.resize(part, (CELLS, CELLS), interpolation=how) for part in parts])


def network_input(seen: NDArray[np.uint8], cells: FloatArray) -> NDArray[np.float32]:
    """Return the network's input: pictures, about -0.5 to 0.5, and the size of each, the same all over."""
    facts = 0.5 * np.log(np.asarray(cells) / TYPICAL_CELLS)
    everywhere = np.broadcast_to(facts[:, None, None, None], (*seen.shape[:3], 1))
    return np.concatenate([seen / np.float32(255) - MID_GREY, everywhere], axis=3).astype(np.float32)
