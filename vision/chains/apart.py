"""What lies on a bed besides its strands: stray beads, stoppers, findings, and whatever else."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from vision.chains.pieces import chances_of
from vision.chains.seen import CLASPS, Seen
from vision.common.records import FloatArray, Mask, OtherKind
from vision.topview.kinds import STRUNG, Kind
from vision.topview.region import (
    PROBABLE,
    SMALLEST_MM,
    Fragment,
    cells_of,
    connected_regions,
    mean_over,
    window,
)

_SORTS: dict[OtherKind, tuple[Kind, ...]] = {
    "stray": STRUNG,
    "stopper": (Kind.STOPPER,),
    "finding": CLASPS,
    "other": (Kind.OTHER,),
}

_WIDE_MM = 10.0
"""A finger, a tool or a coin is wider and may lie over several beads; wire, tape and most stoppers are not
(common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """A thing that belongs to no strand: what it is, and its outline in world (x, y), shape (N, 2)."""

    kind: OtherKind
    outline_mm: FloatArray


def things_apart(
    fragments: Sequence[Fragment], seen: Seen, *, taken: Mask, stoppers: Sequence[Mask]
) -> list[Apart]:
    """Return what lies on a bed and is no part of a strand, in no order.

    Parameters
    ----------
    fragments : sequence of Fragment
        What may be beads.
    seen : Seen
    taken : ndarray of bool, shape (H, W)
        Where strands lie, with their clasps and what hangs from them.
    stoppers : sequence of ndarray of bool, shape (H, W)
        Where each stopper lies that a strand was found to end at.
    """
    ends = [stopper for stopper in stoppers if stopper.any()]
    left = ~np.any([taken, *ends], axis=0) & seen.bed
    found = [_thing("stopper", stopper, seen) for stopper in ends]
    for fragment in fragments:
        left_here = left[window(fragment)]
        if np.mean(left_here[fragment.mask]) > PROBABLE > chances_of(fragment, seen)[Kind.BED]:
            kinds = mean_over(fragment, seen.kinds)
            kind = max(_SORTS, key=lambda sort: float(kinds[list(_SORTS[sort])].sum()))
            mask = cells_of([fragment], taken.shape)
            found.append(_thing(kind, mask, seen))
            ends += [mask] if kind == "stopper" else []
        left_here &= ~fragment.mask
    least = (SMALLEST_MM * seen.per_mm) ** 2
    for region in connected_regions((seen.chance(Kind.STOPPER) > PROBABLE) & left, least=least):
        mask = cells_of([region], taken.shape)
        beside = cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        if not any(beside[stopper].any() for stopper in ends):
            found.append(_thing("stopper", mask, seen))
    return found


def wide_things(seen: Seen) -> list[Apart]:
    """Return what lies on a bed, is nothing of a strand, and is wide enough to hide several beads."""
    other = ((seen.chance(Kind.OTHER) > PROBABLE) & seen.bed).astype(np.uint8)
    # an opening by a disc this large takes ten times as long as two maps of distances
    reach = round(_WIDE_MM / 2 * seen.per_mm)
    deep = cv2.distanceTransform(other, cv2.DIST_L2, cv2.DIST_MASK_PRECISE) > reach
    if not deep.any():
        return []
    wide = cv2.distanceTransform((~deep).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE) <= reach
    return [_thing("other", cells_of([r], wide.shape), seen) for r in connected_regions(wide, least=0)]


def _thing(kind: OtherKind, mask: Mask, seen: Seen) -> Apart:
    outlines, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return Apart(kind=kind, outline_mm=seen.to_mm(max(outlines, key=len)[:, 0].astype(float)))
