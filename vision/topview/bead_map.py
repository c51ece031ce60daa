"""The probability that each cell of the top view shows a bead, or another kind of thing: two networks.

No rule about colour or sharpness separates clear glass from felt, polished silver from grey or a nugget
from striped cloth. A network trained on thousands of drawn beads on as many surfaces does. It detects
beads and separates them; it measures nothing: sizes come from edges in the photo's own pixels. Another was
trained on whole tables in photographed light, and knows what else lies there. Both say what shows a bead and
how deep inside it lies, and err on different things: their log-odds are pooled (a logarithmic opinion pool,
Genest and Zidek 1986). The first counts the less, the more it takes shadows for parts of beads.
"""

import math
from dataclasses import dataclass
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, softmax

from vision.common.records import ImageArray, Mask
from vision.networks.inference import TILE, Map
from vision.networks.levels import Box, each_tile
from vision.topview.bed import BESIDE_MM, among_things, shows_anything
from vision.topview.kinds import Kind
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import PROBABLE
from vision.topview.shadows import one_sidedness

CELLS_PER_MM = 5.0
"""The network was trained at this scale, with beads at 0.6 to 1.7 times their size. At half a count of 46
is lost and half as many flags again are set; at double p95 is 0.01 mm better and it takes 4 times as
long."""
_BED = 2
"""Number of the first kind's map, that of bed: inside and depth come before."""
_MAPS = _BED + len(Kind)
_OF_KINDS = 0.8
"""Least weight of the second network's log-odds, where the first takes no shadows for parts of beads. Of 60
traced lots (1875 beads) 22 are counted exactly and half of the sizes lie within 0.085 mm; with 0.8 in any
light 20 and 0.088, with the second network alone 15 and 0.085, with 0.7 as the least 21 and 0.093."""
_NOTHING = 0.05
"""Where less than about this much is seen at all, nothing speaks against a bead."""
_MOST_CELLS = 2.5e6
"""A view that is wider than so many cells at the scale of training is taken coarser: inference on them takes
about a second. At half a count of 46 is lost; at double a single photo changes, by last digits."""
_MARGIN_MM = 20.0
"""Of surroundings that the networks get about it: as far as they look from a cell at their coarsest levels,
but for what hardly counts. At 6 mm the last bead of one rod of eight in photographed light is lost."""

_BESIDE = np.ones((3, 3), np.uint8)
"""A cell and its eight neighbours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadMap:
    """What each cell of a top view shows.

    Attributes
    ----------
    inside : ndarray, shape (H, W)
        Probability that it shows a bead, by both networks; one half on the outline.
    depth : ndarray, shape (H, W)
        How far inside its bead it lies, from 0 on the outline to 1 where farthest from it.
    kinds : ndarray, shape (9, H, W)
        Probability of each `Kind`; 1 in sum, and bed where no bead may lie or nothing shows.
    bed : ndarray of bool, shape (H, W)
        Where beads may lie.
    """

    inside: Map
    depth: Map
    kinds: Map
    bed: Mask

    @property
    def beads(self) -> Mask:
        """Which cells show a bead rather than not, bool, shape (H, W)."""
        return self.inside > PROBABLE

    @property
    def strung(self) -> Map:
        """How likely each cell shows a strung part where it shows anything but bed, shape (H, W)."""
        shown, strung = self.kinds[Kind.BEAD :].sum(axis=0), self.kinds[Kind.BEAD : Kind.FINDING].sum(axis=0)
        return np.asarray((strung + _NOTHING) / (shown + _NOTHING), np.float32)

    def shown_on(self, shape: tuple[int, ...]) -> Mask:
        """Return which cells of a view of the same bed, (H, W), show anything but bed, however faint."""
        shown = (self.kinds[Kind.BED] < 1 - _NOTHING).astype(np.uint8)
        return np.asarray(cv2.resize(shown, shape[::-1], interpolation=cv2.INTER_NEAREST) > 0)


def bead_map(top: Orthophoto, where: Mask, *, before: BeadMap | None = None) -> BeadMap:
    """Map the beads of a top view where beads may lie, shape (H, W); elsewhere, all is bed.

    The networks get the box that holds whatever the picture shows on the bed, or what a coarser map of it,
    made `before`, shows. What lies apart from it is bed.
    """
    per_mm = top.cells_per_mm
    things = shows_anything(top, where) if before is None else where & before.shown_on(where.shape)
    among = among_things(things, empty_mm=BESIDE_MM if before else _MARGIN_MM, cells_per_mm=per_mm)
    rows, columns = _looked_at(where, things, margin=round(_MARGIN_MM * per_mm))
    shown, bed = top.rgb[rows, columns], (where & among)[rows, columns]
    size = _network_size(bed.shape[::-1], top.cells_per_mm)
    maps = np.zeros((_MAPS, *where.shape), np.float32)
    maps[_BED] = 1
    if size == bed.shape[::-1]:
        _see(shown, bed=bed, maps=maps[:, rows, columns])
    else:
        small = np.asarray(cv2.resize(shown, size, interpolation=cv2.INTER_AREA), np.uint8)
        near = cv2.dilate(cv2.resize(bed.astype(np.float32), size, interpolation=cv2.INTER_AREA), _BESIDE)
        coarse = np.zeros((_MAPS, *size[::-1]), np.float32)
        coarse[_BED] = 1
        _see(small, bed=near > 0, maps=coarse)
        for layer, seen in zip(maps[:, rows, columns], coarse, strict=True):
            layer[bed] = cv2.resize(seen, bed.shape[::-1], interpolation=cv2.INTER_LINEAR)[bed]
    return BeadMap(inside=maps[0], depth=maps[1], kinds=maps[_BED:], bed=where)


def _see(picture: ImageArray, *, bed: Mask, maps: NDArray[np.float32]) -> None:
    """Write what both networks see on the bed of a picture into maps: inside, depth and kinds.

    Most of what lies off the bed is left as it is, so that it takes no memory.
    """
    maps[_BED][bed] = 0
    first = np.zeros((_BED, *bed.shape), np.float16)  # which counts little
    for name, layers in (("beads", first), ("kinds", maps)):
        each_tile(name, picture, take=partial(_put, layers=layers, on=bed), wanted=bed)
    weight = _OF_KINDS + (1 - _OF_KINDS) * one_sidedness(first[0] > 0, maps[0] > 0)
    for number, other in enumerate(first):
        maps[number] += (1 - weight) * (other - maps[number])
        maps[number][bed] = expit(maps[number][bed])


def _put(at: Box, logits: Map, *, layers: NDArray[np.floating], on: Mask) -> None:
    """Put a reading's logits, and the probabilities of kinds, where the bed is."""
    layers[:_BED, *at] = logits[:_BED] * on[at]
    if len(layers) > _BED:
        kinds = softmax(logits[_BED:_MAPS], axis=0)
        layers[_BED + 1 :, *at] = kinds[1:] * on[at]
        layers[_BED, *at] = np.maximum(1 - layers[_BED + 1 :, *at].sum(axis=0), 0)


def _network_size(size: tuple[int, ...], cells_per_mm: float) -> tuple[int, int]:
    """Return the (width, height) at which the network gets a picture of `size` cells."""
    area_mm2 = size[0] * size[1] / cells_per_mm**2
    shrink = min(1.0, math.sqrt(_MOST_CELLS / area_mm2) / min(cells_per_mm, CELLS_PER_MM))
    width, height = (max(2, round(side * shrink)) for side in size)
    return width, height


def _looked_at(where: Mask, things: Mask, *, margin: int) -> tuple[slice, slice]:
    """Return the rows and columns that the networks get.

    They begin whole tiles from those of the bed: which cells a network joins to coarser ones does not depend
    on what lies outermost.
    """
    boxes = _box(where, margin), _box(things, margin)
    rows, columns = (
        slice(bed.start + max(shown.start - bed.start, 0) // TILE * TILE, shown.stop)
        for bed, shown in zip(*boxes, strict=True)
    )
    return rows, columns


def _box(where: Mask, margin: int) -> tuple[slice, slice]:
    """Return the rows and columns that hold all of a mask, and a margin; all of them if it is empty."""
    rows, columns = (np.flatnonzero(where.any(axis=axis)) for axis in (1, 0))
    if not len(rows):
        return slice(0, len(where)), slice(0, where.shape[1])
    top, left = (max(int(at[0]) - margin, 0) for at in (rows, columns))
    return slice(top, int(rows[-1]) + 1 + margin), slice(left, int(columns[-1]) + 1 + margin)
