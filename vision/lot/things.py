"""What lies among the beads of a lot besides: findings, coins, fingers; and beads that are taken for such."""

import itertools
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from vision.camera.scene import Scene
from vision.common.pooling import ONE_KIND
from vision.common.records import FloatArray, Other, OtherKind
from vision.lot.likeness import foreign_share
from vision.lot.merge import form
from vision.networks.inference import Map
from vision.topview.bead_map import BeadMap
from vision.topview.instances import at_necks
from vision.topview.kinds import Kind
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import (
    PROBABLE,
    SEVERAL,
    SMALLEST_MM,
    SURE,
    Fragment,
    cells_of,
    connected_regions,
    disc,
    mean_over,
    window,
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


def beads_among(
    things: Sequence[Fragment], beads: Sequence[Fragment], *, maps: BeadMap
) -> tuple[list[Fragment], list[Fragment]]:
    """Return which things are beads after all, and the others with the probabilities that they are.

    Only what is as wide and as long as a bead of the lot may be one more. It is one if it surely is a thing,
    but neither a finding nor a stopper: coins, tools and scraps rarely have the form of the beads beside
    them, and a network that learnt from drawn beads takes gems and stamped discs for such. It stays in doubt.
    Else it is one as far as it looks like one at all.
    """
    if not (things and beads):
        return [], [replace(thing, probability=0.0) for thing in things]
    usual = np.array([form(bead)[1:] for bead in beads])
    found, left = [], []
    for thing in itertools.chain(*(_parted(thing, usual) for thing in things)):
        is_alike = _alike(thing, usual)
        if is_alike and mean_over(thing, maps.kinds[_SORTS["other"]]).sum() > SURE:
            found.append(replace(thing, probability=SURE))
        else:
            looks = float(mean_over(thing, maps.inside[None])[0])
            left.append(replace(thing, probability=looks * is_alike))
    return found, left


def _parted(thing: Fragment, usual: FloatArray) -> list[Fragment]:
    """Return the parts of a thing between its necks, if most of it has the form of beads, which touch.

    Beads are not hollow: where another piece lies within, it is part of one.
    """
    outer, _ = cv2.findContours(thing.mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    solid = cv2.drawContours(np.zeros(thing.mask.shape, np.uint8), outer, -1, 1, cv2.FILLED) > 0
    parts = at_necks(Fragment(mask=solid, corner=(0, 0)))
    if sum(part.area for part in parts if _alike(part, usual)) <= solid.sum() / 2:
        return [thing]
    x, y = thing.corner
    own = [replace(part, mask=part.mask & thing.mask[window(part)]) for part in parts]
    return [replace(part, corner=(x + part.corner[0], y + part.corner[1])) for part in own if part.area]


def _alike(thing: Fragment, usual: FloatArray) -> bool:
    """Return whether a thing is as wide and as long as any of the usual ones (N, 2), in logarithms."""
    return bool((np.abs(form(thing)[1:] - usual).max(axis=1) < ONE_KIND).any())


def inside_with(taken: Sequence[Fragment], maps: BeadMap) -> Map:
    """Return the probability of each cell that it shows a bead, where so many things are beads too."""
    if not taken:
        return maps.inside
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
        if foreign_share(kinds) > _THING and kinds[Kind.BED] < kinds[Kind.BEAD :].sum():
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
