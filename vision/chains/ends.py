"""What leaves a piece besides other pieces: bare string, a finding, a stopper, or the edge of the view."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.chains.pieces import Piece
from vision.chains.seen import CLASPS, SHOWN, Seen
from vision.common.numerics import unit
from vision.common.records import FloatArray, Mask
from vision.topview.kinds import Kind
from vision.topview.region import disc, owners, window

_ABOUT_MM = 1.5
"""How far from a piece its string is looked for: past the piece's soft outline, and no farther."""
_LEAST_MM2 = 0.2
"""What is seen of a thread of 0.25 mm over half of that distance."""
_SORTS = {Kind.STRING: (Kind.STRING,), Kind.FINDING: CLASPS, Kind.STOPPER: (Kind.STOPPER,)}


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """Where a string may leave a piece, other than to the next piece.

    Attributes
    ----------
    piece : int
        Index of the piece.
    kind : Kind
        `STRING`, `FINDING` or `STOPPER`; `BED` where the view ends and nothing is known.
    way : ndarray, shape (2,)
        Unit vector from the middle of the piece.
    """

    piece: int
    kind: Kind
    way: FloatArray


def ends_of(pieces: Sequence[Piece], seen: Seen) -> list[End]:
    """Return what leaves each piece, in the order of the pieces."""
    reach = round(_ABOUT_MM * seen.per_mm)
    layers = {kind: np.pad(seen.chance(*sort), reach) for kind, sort in _SORTS.items()}
    layers[Kind.BED] = np.pad(~seen.bed, reach, constant_values=True).astype(np.float32)
    free = np.pad(
        owners((piece.fragment for piece in pieces), seen.bed.shape) == 0, reach, constant_values=True
    )
    least = _LEAST_MM2 * seen.per_mm**2
    found = []
    for number, piece in enumerate(pieces):
        mask = np.pad(piece.fragment.mask, reach)
        rows, columns = window(piece.fragment)
        box = slice(rows.start, rows.stop + 2 * reach), slice(columns.start, columns.stop + 2 * reach)
        ring = (cv2.dilate(mask.astype(np.uint8), disc(reach)) > 0) & free[box]
        near = {kind: np.where(ring, layer[box], 0) for kind, layer in layers.items()}
        middle = np.argwhere(mask).mean(axis=0)
        for kind, cells in _regions(near, least):
            found.append(End(piece=number, kind=kind, way=unit((cells.mean(axis=0) - middle)[::-1])))
    return found


def _regions(near: dict[Kind, FloatArray], least: float) -> list[tuple[Kind, NDArray[np.intp]]]:
    """Return the connected regions, (row, column) of their cells, where any layer shows, and their kinds."""
    shown: Mask = np.sum(list(near.values()), axis=0) > SHOWN
    count, labels = cv2.connectedComponents(shown.astype(np.uint8))
    regions = [labels == k for k in range(1, count)]
    kinds = [max(near, key=lambda kind: float(near[kind][region].sum())) for region in regions]
    return [(kind, np.argwhere(r)) for kind, r in zip(kinds, regions, strict=True) if r.sum() > least]
