"""What lies among the beads of a lot besides: findings, coins, fingers."""

from collections.abc import Sequence

import cv2
import numpy as np

from vision.camera.scene import Scene
from vision.common.records import FloatArray, Other, OtherKind
from vision.networks.inference import Map
from vision.topview.bead_map import BeadMap
from vision.topview.kinds import Kind
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import (
    PROBABLE,
    SEVERAL,
    SMALLEST_MM,
    Fragment,
    cells_of,
    connected_regions,
    disc,
    mean_over,
)

_COVERS = 0.5
"""Probability that a large thing covers a bead where it lies among others (common practice, no source)."""
_THING = 0.3
"""What is left out and looks foreign in more than this share is a thing: on the same tables two in three of
32 findings, stoppers and tools look so, and one in 30 beads."""
_SORTS: dict[OtherKind, slice] = {
    "finding": slice(Kind.FINDING, Kind.STOPPER),
    "stopper": slice(Kind.STOPPER, Kind.STRING),
    "other": slice(Kind.STRING, len(Kind)),
}
"""Which of the kinds of a `BeadMap` are what."""


def other_things(maps: BeadMap, *, apart_from: Sequence[Fragment], per_mm: float) -> list[Fragment]:
    """Return what shows no strung part, apart from some pieces."""
    foreign = maps.kinds[Kind.FINDING :].sum(axis=0) > PROBABLE
    free = foreign & ~cells_of(apart_from, foreign.shape)
    return connected_regions(free, least=(SMALLEST_MM * per_mm) ** 2)


def inside_with(beads: Sequence[Fragment], maps: BeadMap) -> Map:
    """Return the probability of each cell that it shows a bead, where these are, some taken for things."""
    taken = [bead for bead in beads if mean_over(bead, maps.inside[None])[0] < PROBABLE]
    about = cv2.dilate(cells_of(taken, maps.inside.shape).astype(np.uint8), disc(2))  # outlines lie between
    return np.where(about, np.maximum(maps.inside, 1 - maps.kinds[Kind.BED]), maps.inside)


def covered_beads(things: Sequence[Fragment], beads: Sequence[Fragment]) -> FloatArray:
    """Return for each thing the probability that it covers a bead, shape (N,).

    What is as large as several beads, such as a coin or a finger, and lies among them, may lie on one: where
    it ends and a bead that looks out from under it begins is not seen.

    Examples
    --------
    >>> bead, coin = (Fragment(mask=np.ones((side, side), dtype=bool), corner=(0, 0)) for side in (20, 60))
    >>> covered_beads([bead, coin], [bead] * 9).tolist()
    [0.0, 0.5]
    """
    if not beads:
        return np.zeros(len(things))
    usual = np.median([bead.area for bead in beads])
    lot = cv2.convexHull(np.concatenate([bead.hull for bead in beads]).astype(np.float32))
    among = [
        any(cv2.pointPolygonTest(lot, (float(x), float(y)), measureDist=False) >= 0 for x, y in thing.hull)
        for thing in things
    ]
    large = np.array([thing.area for thing in things]) >= SEVERAL * usual
    return np.where(large & np.array(among, dtype=bool), _COVERS, 0.0)


def things_among(pieces: Sequence[Fragment], scene: Scene, top: Orthophoto, maps: BeadMap) -> list[Other]:
    """Return which of the pieces that are no beads look like other things, not like flecks of the bed."""
    found = []
    for piece in pieces:
        kinds = mean_over(piece, maps.kinds)
        thing = kinds[Kind.BEAD :].sum()
        if kinds[Kind.FINDING :].sum() > _THING * thing and kinds[Kind.BED] < thing:
            outline = scene.bed_to_px(top.to_mm(piece.hull))
            x, y = outline.mean(axis=0)
            found.append(
                Other(
                    centre_px=(float(x), float(y)),
                    kind=max(_SORTS, key=lambda sort: float(kinds[_SORTS[sort]].sum())),
                    outline_px=outline,
                    photo=scene.photo.name,
                )
            )
    return found
