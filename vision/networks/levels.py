"""Runs networks that map a picture level by level and tile by tile, so that little of them lies in memory.

Such a network (a U-net) computes on cells of two by two of the picture's, then on ever coarser ones, then on
the finer ones again, joined with what they showed before. Its finest levels take most of the time and, as
wholes, most of the memory; but from one to the next a cell sees no farther than two cells. So they are
computed tile by tile, each with two cells of its surroundings, which gives the same numbers, on all cores at
once, and on the way back only where anybody wants them. A network is stored in parts: `NAME-0.onnx` and on.
"""

from collections.abc import Callable
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.networks.inference import MID_GREY, TILE, Map, folded_all, network

if TYPE_CHECKING:
    from onnxruntime import InferenceSession

Box = tuple[slice, slice]
Cells = NDArray[Any]
"""Features of a level, shape (C, H, W), or a picture."""

FINE = 3
"""Levels that are computed tile by tile, the finest ones; the next has a 64th of the finest level's cells."""
_REACH = 216
"""Cells of the picture as far as a network looks: 184 by two convolutions on each of its levels, there and
back, and 32 that are one cell at the coarsest."""
_SIDE = 64
"""Of a tile, in cells of its level: at half it takes a fifth more time; at double 80 MB more."""
_SEEN = 2
"""Cells that a level sees to all sides: it is two convolutions of 3 x 3."""
_INTEGERS = "tensor(uint8)"
"""What ONNX Runtime calls cells whose features are integers of eight bits."""
LIGHT = (np.arange(256) / 255 - MID_GREY).astype(np.float32)
"""What a network gets for each value of a colour."""


def logit_maps(name: str, picture: Cells, *, maps: int) -> Map:
    """Return the first maps of logits, shape (maps, H, W), that a network makes of a picture (H, W, C)."""
    made = np.empty((maps, *picture.shape[:2]), np.float32)

    def take(at: Box, logits: Map) -> None:
        made[:, *at] = logits[:maps]

    each_tile(name, picture, take=take, wanted=np.ones(picture.shape[:2], dtype=bool))
    return made


def each_tile(
    name: str, picture: Cells, *, take: Callable[[Box, Map], None], wanted: NDArray[np.bool_]
) -> None:
    """Hand out the logits that a network makes of a picture, a tile at a time, several at once.

    Parameters
    ----------
    name : str
        The network's files in this folder, without number and suffix.
    picture : ndarray, shape (H, W, C)
        Colours as uint8; or float32, as the network was trained.
    take : callable
        Gets the rows and columns of a tile, and its logits, shape (M, h, w). It may be called by several
        threads at once. Tiles have no cell in common.
    wanted : ndarray of bool, shape (H, W)
        Where logits are wanted; tiles without such a cell are left out.
    """
    height, width = picture.shape[:2]
    parts = [f"{name}-{k}" for k in range(2 * FINE + 1)]
    ahead, middle, back = parts[:FINE], parts[FINE], parts[FINE + 1 :]
    for part in parts:
        _session(part)  # loaded here: of several threads each would load it
    with ThreadPoolExecutor(cv2.getNumThreads()) as pool:
        cells: Cells = folded(picture)
        asked = np.asarray(folded(np.pad(wanted, _beyond(wanted))[..., None]).any(axis=0))
        needed, kept = [_tiles(asked)], []
        within = cv2.dilate(asked.astype(np.uint8), np.ones((_REACH + 1, _REACH + 1), np.uint8)) > 0
        for part in ahead:
            fine, cells = _ahead(part, cells, tiles=_tiles(within), pool=pool)
            within = folded_all(within[None, ..., None])[0].any(axis=0)
            kept.append(fine)
            needed.append(_tiles(_under(needed[-1], cells.shape[1:])))
        (cells,) = _run(middle, cells)
        for part, tiles in zip(back[:-1], needed[-2:0:-1], strict=True):
            cells = _back(part, kept.pop(), coarse=cells, tiles=tiles, pool=pool)

        def one(tile: "_Tile") -> None:
            logits = _run(back[-1], kept[0][tile.sees], cells[tile.sees_coarse])[0][tile.inner]
            rows, columns = (slice(2 * side.start, 2 * side.stop) for side in tile.own)
            take((rows, columns), _unfolded(logits)[:, : height - rows.start, : width - columns.start])

        list(pool.map(one, needed[0]))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tile:
    """A part of a level: its rows and columns, and those that it sees."""

    own: Box
    seen: Box

    @property
    def sees(self) -> tuple[slice, slice, slice]:
        """All features of what it sees."""
        return slice(None), *self.seen

    @property
    def sees_coarse(self) -> tuple[slice, slice, slice]:
        """The same of the next coarser level."""
        rows, columns = self.seen
        return slice(None), _halved(rows), _halved(columns)

    @property
    def inner(self) -> tuple[slice, slice, slice]:
        """The tile within what it sees."""
        rows, columns = (
            slice(own.start - seen.start, own.stop - seen.start)
            for own, seen in zip(self.own, self.seen, strict=True)
        )
        return slice(None), rows, columns


def _tiles(asked: NDArray[np.bool_]) -> list[_Tile]:
    """Return the tiles of a level that hold anything asked for, shape (H, W), and no more than that."""
    height, width = asked.shape
    boxes = (
        (slice(top, top + _SIDE), slice(left, left + _SIDE))
        for top in range(0, height, _SIDE)
        for left in range(0, width, _SIDE)
    )
    own = [_held(asked[box], box) for box in boxes if asked[box].any()]
    return [_Tile(own=box, seen=(_wider(box[0], height), _wider(box[1], width))) for box in own]


def _held(asked: NDArray[np.bool_], box: Box) -> Box:
    """Return the part of a tile that holds all that is asked for in it, in squares of two by two cells."""
    rows, columns = (np.flatnonzero(asked.any(axis=axis)) // 2 * 2 for axis in (1, 0))
    down, right = box[0].start, box[1].start
    return slice(down + rows[0], down + rows[-1] + 2), slice(right + columns[0], right + columns[-1] + 2)


def _wider(side: slice, most: int) -> slice:
    """Return a side of a tile with what it sees beyond; where the picture ends there is nothing to see."""
    return slice(max(side.start - _SEEN, 0), min(side.stop + _SEEN, most))


def _halved(side: slice) -> slice:
    return slice(side.start // 2, side.stop // 2)


def _under(tiles: list[_Tile], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return which cells of the next coarser level some tiles see."""
    seen = np.zeros(shape, dtype=bool)
    for tile in tiles:
        seen[tile.sees_coarse[1:]] = True
    return seen


def _beyond(picture: Cells) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return by how many rows and columns a picture is widened, below and to the right."""
    return (0, -picture.shape[0] % TILE), (0, -picture.shape[1] % TILE)


def folded(picture: Cells) -> Cells:
    """Return a picture (H, W, C), widened, with its squares of two by two cells as channels, (4 C, ...)."""
    return folded_all(np.pad(picture, (*_beyond(picture), (0, 0)), mode="reflect")[None])[0]


def _unfolded(cells: Map) -> Map:
    """Return maps whose squares of two by two cells are channels, (4 M, H, W), as (M, 2 H, 2 W)."""
    count, rows, columns = cells.shape
    maps = cells.reshape(count // 4, 2, 2, rows, columns).transpose(0, 3, 1, 4, 2)
    return maps.reshape(count // 4, 2 * rows, 2 * columns)


def _ahead(part: str, cells: Cells, *, tiles: list[_Tile], pool: Executor) -> tuple[Cells, Cells]:
    """Return a level's features in some of its tiles, and the cells of the next coarser level."""
    shape = cells.shape[1:]
    fine, coarse = _room(part, shape), _room(part, (shape[0] // 2, shape[1] // 2), number=1)

    def one(tile: _Tile) -> None:
        own, pooled = _run(part, cells[tile.sees])
        fine[:, *tile.own] = own[tile.inner]
        _, *inner = tile.inner
        coarse[:, *map(_halved, tile.own)] = pooled[:, *map(_halved, inner)]

    list(pool.map(one, tiles))
    return fine, coarse


def _back(part: str, fine: Cells, *, coarse: Cells, tiles: list[_Tile], pool: Executor) -> Cells:
    """Return a level's features joined with those of the coarser level, in some of its tiles."""
    joined = _room(part, fine.shape[1:])

    def one(tile: _Tile) -> None:
        joined[:, *tile.own] = _run(part, fine[tile.sees], coarse[tile.sees_coarse])[0][tile.inner]

    list(pool.map(one, tiles))
    return joined


def _room(part: str, shape: tuple[int, ...], *, number: int = 0) -> Cells:
    """Return room for an output of a part on a level of a shape (H, W)."""
    made = _session(part).get_outputs()[number]
    return np.zeros((made.shape[1], *shape), np.uint8 if made.type == _INTEGERS else np.float32)


def _run(part: str, *cells: Cells) -> list[Cells]:
    """Return what a part of a network, named as its file, makes of its inputs, a picture among them."""
    session = _session(part)
    inputs = {
        given.name: LIGHT[one][None] if one.dtype == np.uint8 and given.type != _INTEGERS else one[None]
        for given, one in zip(session.get_inputs(), cells, strict=True)
    }
    return [np.asarray(made)[0] for made in session.run(None, inputs)]


def _session(part: str) -> "InferenceSession":
    """Return a part of a network. Only that of the coarse levels runs alone, so it uses all cores itself."""
    return network(part, threads=cv2.getNumThreads() if part.endswith(f"-{FINE}") else 1)
