"""The clasp of a loop and what hangs from it: a chain that lengthens the loop, and the bead at its end."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from skimage.graph import MCP_Geometric

from vision.chains.links import bridged_cells
from vision.chains.pieces import Piece
from vision.chains.seen import Seen
from vision.common.numerics import unit
from vision.common.records import FloatArray, Mask
from vision.topview.kinds import Kind
from vision.topview.region import cells_of, window

_STEP_MM = 3.0
"""Between places on a way whose distances are its length: from cell to cell it zigzags, up to 8 % longer. At
half 3 % are left; at double a chain in an arc loses 1 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hanging:
    """An end bead and what it hangs from.

    Attributes
    ----------
    piece : Piece
        The bead.
    way : ndarray, shape (2,)
        Unit vector in which its chain leaves it.
    chain_mm : float
        Length of the chain; without pin and clasp where these are told apart.
    """

    piece: Piece
    way: FloatArray
    chain_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Clasp:
    """A clasp.

    Attributes
    ----------
    cells : ndarray of bool, shape (H, W)
        Where it lies, with its loop and all that hangs together with it.
    hanging : Hanging or None
        The end bead; None where no bead hangs there.
    """

    cells: Mask
    hanging: Hanging | None


def clasp_between(
    ends_mm: FloatArray,
    parts: Sequence[Piece],
    seen: Seen,
    *,
    loop: Sequence[Piece],
    free: Sequence[Piece],
) -> Clasp:
    """Return the clasp between the ends of a loop.

    Parameters
    ----------
    ends_mm : ndarray, shape (2, 2)
        World (x, y) of both ends.
    parts : sequence of Piece
        Parts of the clasp, as far as they are pieces: rings.
    seen : Seen
    loop : sequence of Piece
        Those of the loop.
    free : sequence of Piece
        Those that are on no strand. The links of a chain may be among them.
    """
    middle = np.zeros(seen.bed.shape, np.uint8)
    cv2.polylines(middle, [seen.to_cells(ends_mm).astype(np.int32)], isClosed=False, color=1)
    shown = bridged_cells(seen) | _cells([*parts, *free], seen)
    way_on = (shown & ~_cells(loop[1:-1], seen)) | (middle > 0)  # the end parts may be rings of the clasp
    beside = seen.chance(Kind.BED)  # a way leads along the chain, not beside it
    routes = MCP_Geometric(np.where(way_on, 1.0 + beside, -1.0))
    away, _ = routes.find_costs(np.argwhere(middle).tolist())
    reached = [(float(away[window(p.fragment)][p.fragment.mask].min()), p) for p in free]
    held = [each for each in reached if np.isfinite(each[0])]
    hanging = None
    if held:
        _, bead = max(held, key=lambda each: each[0])
        route = _outside(bead, away, routes)
        way = unit(seen.to_mm(route[0, ::-1]) - bead.centre_mm)
        hanging = Hanging(piece=bead, way=way, chain_mm=_length_mm(route, seen))
    return Clasp(cells=np.isfinite(away) | _cells(loop, seen), hanging=hanging)


def _cells(pieces: Sequence[Piece], seen: Seen) -> Mask:
    """Return which cells show any of some pieces, shape (H, W)."""
    return cells_of((piece.fragment for piece in pieces), seen.bed.shape)


def _outside(bead: Piece, away: FloatArray, routes: MCP_Geometric) -> FloatArray:
    """Return the cells (row, column) of the way from the outline of a bead to the clasp, shape (N, 2)."""
    place = window(bead.fragment)
    near = np.where(bead.fragment.mask, away[place], np.inf)
    row, column = np.unravel_index(int(np.argmin(near)), near.shape)
    start = int(row) + place[0].start, int(column) + place[1].start
    return np.array(routes.traceback(start))[::-1].astype(float)


def _length_mm(route: FloatArray, seen: Seen) -> float:
    """Return the length of that part of a way which shows chain, rather than clasp or pin; else of all."""
    rows, columns = route.astype(int).T
    chain, clasp, pin = (seen.kinds[kind, rows, columns] for kind in (Kind.CHAIN, Kind.FINDING, Kind.STRING))
    shown = np.flatnonzero(chain > np.maximum(clasp, pin))
    part = route[shown[0] : shown[-1] + 1] if len(shown) else route
    corners = np.vstack([part[: -1 : round(_STEP_MM * seen.per_mm)], part[-1]])
    return float(np.hypot(*np.diff(corners, axis=0).T).sum()) / seen.per_mm
