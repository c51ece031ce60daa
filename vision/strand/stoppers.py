"""What at the ends of a strand is no bead: stoppers on a rod, scraps of wire.

A stopper is told by being unlike every bead: in length, width, flatness of its sides, colour. Beads
of a mixed strand differ too, but each has its like somewhere in the strand.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage

from vision.common.records import FloatArray, Mask
from vision.strand.axis import STEP_MM
from vision.strand.segment import Segment, middle_width
from vision.strand.strip import Strip

_LENGTH_SD, _WIDTH_SD, _FLATNESS_SD, _COLOUR_SD = 0.12, 0.06, 0.08, 9.0
_SHAPE, _SAME_SHAPE = 3, 0.5
"""The first features tell the shape; distance within which beads are of one."""
_UNLIKE_ROD, _UNLIKE_WIRE = 2.6, 3.5
"""Distance in standard deviations; on a rod a stopper at each end is expected, on a wire none."""
_OUTERMOST = 2
"""Segments at either end that may be no beads, and so do not say what a bead looks like."""
_OUTER_SHARE = 0.2
_FAR_MM = 10.0
"""Free string of this length before an end piece: it is a knot, a tag's corner, a scrap, unless it is as
long and as wide as beads are, to within a factor of `_LIKE`."""
_LIKE = 1.5
_SHORT = 0.8
_HARDLY_ROD, _HARDLY_WIRE = 0.7, 0.5
"""What the networks find less likely to be a bead than this, at an end, is none; a wire has no stoppers."""
_SURELY = 0.8
"""What is likelier than this to be a bead is one on a wire, however unlike the others it is; and on a rod
behind another piece at the same end."""
_SAME_SIZE = 1.12
"""Within this factor a stopper is as long and as wide as a bead."""
_BARE, _THIN_MM, _BESIDE_STEPS = 0.36, 1.2, 8
"""A rod is thinner than the first share of the beads' width; nothing shorter than the second is a stopper."""
_SCRAP = 0.45
"""An end piece this much smaller than the typical bead, both ways, is no bead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a segment looks like: log length, log width, flatness, CIE L*a*b*; shape (6,)."""

    features: FloatArray

    @classmethod
    def of(cls, strip: Strip, width_mm: FloatArray, segment: Segment) -> "Look":
        """Measure a segment's look on the straightened strand."""
        first, last = round(segment.start_mm / STEP_MM), max(1, round(segment.end_mm / STEP_MM))
        trim = max(1, round(0.12 * (last - first)))
        inner = slice(first + trim, max(first + trim + 1, last - trim))
        width = width_mm[inner]
        wide = float(np.percentile(width, 90)) + 1e-6
        rows = np.abs(strip.aside_mm) < 0.35 * wide
        patch = np.ascontiguousarray(strip.rgb[rows][:, inner])
        lab = cv2.cvtColor(patch, cv2.COLOR_RGB2LAB).reshape(-1, 3).astype(float)
        lightness, a, b = np.median(lab, axis=0)
        flat = float(np.mean(width)) / wide
        scaled = [
            np.log(max(segment.length_mm, STEP_MM)) / _LENGTH_SD,
            np.log(wide) / _WIDTH_SD,
            flat / _FLATNESS_SD,
            *(np.array([0.5 * lightness, a, b]) / _COLOUR_SD),
        ]
        return cls(features=np.array(scaled))


def beads_only(
    strip: Strip, width_mm: FloatArray, segments: Sequence[Segment], likely: FloatArray, *, rod: bool
) -> tuple[int, int]:
    """Return the half-open range [first, last) of the segments that are beads.

    `likely`, shape (S,), is how likely each step shows a bead.
    """
    first, last = _main_group(segments, width_mm)
    if last - first < 3:
        return first, last
    looks = np.array([Look.of(strip, width_mm, s).features for s in segments])
    first, last = _without_scraps(segments, looks, first, last)
    trim = max(1, min(_OUTERMOST, (last - first - 2) // 2), round(_OUTER_SHARE * (last - first)))
    usual = looks[first + trim : last - trim]
    if len(usual) < 2:
        return first, last
    limit = _UNLIKE_ROD if rod else _UNLIKE_WIRE
    limit = max(limit, 1.3 * float(np.percentile(_nearest_distances(usual), 90)))
    # whatever lies between beads is a bead, and may be the only like of one at the other end
    like = [k for k in range(first, last) if _to_nearest(looks[k], usual) <= limit]
    usual = looks[like[0] : like[-1] + 1]
    unlike = np.array([_to_nearest(look, usual) for look in looks]) > limit
    if rod:
        unlike &= ~_of_one_shape(looks, usual)
    seen = np.array([shown(likely, s) for s in segments])
    unlike = unlike | (seen < _HARDLY_ROD) if rod else (unlike & (seen < _SURELY)) | (seen < _HARDLY_WIRE)
    for _ in range(trim):
        if last - first > 3 and unlike[first]:
            first += 1
        if last - first > 3 and unlike[last - 1]:
            last -= 1
        # a stopper may have been cut in pieces, but what is surely a bead is none behind another
        unlike &= seen < _SURELY
    return first, last


def doubtful_stoppers(
    segments: Sequence[Segment], width_mm: FloatArray, kept: tuple[int, int], likely: FloatArray
) -> list[int]:
    """Return which pieces, left out of a rod right beside the beads `kept`, may be beads after all.

    They look like beads, and either are as long and as wide as one, or another piece lies beyond them, which
    may be the stopper, or nothing lies beyond the other end: where no second stopper holds the beads, the rod
    may be a straight wire.
    """
    first, last = kept
    lone = (first, len(segments) - last) in ((1, 0), (0, 1))
    inner = {first - 1} - {0} | {last} - {len(segments) - 1}
    sizes = np.log([(s.length_mm + STEP_MM, middle_width(width_mm, s) + STEP_MM) for s in segments])

    def may_be(k: int) -> bool:
        like = np.abs(sizes[first:last] - sizes[k]).max(axis=1) < np.log(_SAME_SIZE)
        return shown(likely, segments[k]) > _HARDLY_ROD and (lone or k in inner or bool(like.any()))

    return [k for k in (first - 1, last) if 0 <= k < len(segments) and may_be(k)]


def with_stoppers(beads: list[Segment], width_mm: FloatArray) -> list[Segment]:
    """Return beads with what is as thick as they are right beside them on their rod, of widths (S,)."""
    typical = float(np.median([middle_width(width_mm, s) for s in beads]))
    thick = ndimage.binary_opening(width_mm > _BARE * typical, np.ones(round(_THIN_MM / STEP_MM)))
    labels, _ = ndimage.label(thick)
    edges = round(beads[0].start_mm / STEP_MM), round(beads[-1].end_mm / STEP_MM)
    found = []
    for edge, beyond in ((edges[0], slice(None, edges[0])), (edges[1], slice(edges[1], None))):
        near = slice(max(edge - _BESIDE_STEPS, 0), edge + _BESIDE_STEPS)
        mine = (labels == labels[near].max()) & thick
        steps = np.arange(len(width_mm))[beyond][mine[beyond]]
        if len(steps) * STEP_MM > _THIN_MM:
            found.append(Segment(start_mm=steps[0] * STEP_MM, end_mm=steps[-1] * STEP_MM))
    before = [s for s in found if s.middle_mm < beads[0].start_mm]
    after = [s for s in found if s.middle_mm > beads[-1].end_mm]
    return [*before, *beads, *after]


def shown(likely: FloatArray, segment: Segment) -> float:
    """Return how likely a segment shows a bead, of the likelihood at each step, shape (S,)."""
    first = round(segment.start_mm / STEP_MM)
    return float(np.mean(likely[first : max(round(segment.end_mm / STEP_MM), first + 1)]))


def _main_group(segments: Sequence[Segment], width_mm: FloatArray) -> tuple[int, int]:
    """Leave out an odd piece or two that lie far from all the rest, and are not of their size."""
    first, last = 0, len(segments)
    sizes = np.log([(s.length_mm + STEP_MM, middle_width(width_mm, s) + STEP_MM) for s in segments])
    like = (np.abs(sizes - np.median(sizes, axis=0)) < np.log(_LIKE)).all(axis=1)
    far = [k for k in range(1, last) if segments[k].start_mm - segments[k - 1].end_mm > _FAR_MM]
    for k in far:
        if k - first <= _OUTERMOST and last - k > _OUTERMOST and not like[first:k].all():
            first = k
    for k in reversed(far):
        if last - k <= _OUTERMOST and k - first > _OUTERMOST and not like[k:last].all():
            last = k
    return first, last


def _without_scraps(segments: Sequence[Segment], looks: FloatArray, first: int, last: int) -> tuple[int, int]:
    length = float(np.median([s.length_mm for s in segments]))
    width = float(np.median(looks[:, 1])) * _WIDTH_SD

    def scrap(k: int) -> bool:
        narrow = looks[k, 1] * _WIDTH_SD < width + np.log(_SCRAP)
        return bool(narrow or segments[k].length_mm < _SCRAP / 2 * length)

    while last - first > 3 and scrap(first):
        first += 1
    while last - first > 3 and scrap(last - 1):
        last -= 1
    return first, last


def _of_one_shape(looks: FloatArray, usual: FloatArray) -> Mask:
    """Return which of the looks have the shape of the usual beads, where all these have one, shape (N,).

    No stopper is as long, wide and straight as the beads of an even strand, of whatever colour they are.
    """
    middle = np.median(usual, axis=0)
    uneven, off = (np.linalg.norm((of - middle)[:, :_SHAPE], axis=1) for of in (usual, looks))
    return np.asarray((off < _SAME_SHAPE) & bool(np.median(uneven) < _SAME_SHAPE))


def _nearest_distances(looks: FloatArray) -> FloatArray:
    apart = np.linalg.norm(looks[:, None] - looks[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    return apart.min(axis=1)


def _to_nearest(look: FloatArray, others: FloatArray) -> float:
    apart = others - look
    # the outer end of an end piece has no neighbour to mark it: somewhat short is no difference
    short = (apart[:, 0] > 0) & (apart[:, 0] < np.log(1 / _SHORT) / _LENGTH_SD)
    apart[short, 0] = 0.0
    return float(np.linalg.norm(apart, axis=1).min())
