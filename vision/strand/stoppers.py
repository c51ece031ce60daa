"""What at the ends of a strand is no bead: stoppers on a rod, scraps of wire.

A stopper is detected by being unlike every bead: in length, width, flatness of its sides, colour. Beads
of a mixed strand differ too, but each has a similar one somewhere in the strand.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.records import FloatArray, Mask
from vision.strand.axis import STEP_MM
from vision.strand.strip import Segment, Strip, middle_width

_LENGTH_SD, _WIDTH_SD, _FLATNESS_SD, _COLOUR_SD = 0.12, 0.06, 0.08, 9.0
"""Standard deviations of beads of one kind: of the logarithms of length and width, of mean over largest
width, of colour (CIE L*a*b*, L* counted half, as light differs along a strand). Halving or doubling one makes
no difference, doing without looks does."""
_INNER, _WIDE_PERCENTILE, _CORE = 0.12, 90, 0.35
"""A look leaves out this share of a piece at either end; its width is the percentile, and its colour that of
the middle, this share of the width to either side."""
_SHAPE, _SAME_SHAPE = 3, 0.5
"""The first three features are the shape; beads of one shape lie within half a standard deviation. A guard
for end beads of another colour."""
_UNLIKE, _UNLIKE_EACH_OTHER = 2.6, 1.3
"""Distance in standard deviations, and over that of most beads from their nearest; asked on a rod only, where
a stopper at each end is expected."""
_OUTERMOST, _OUTER_SHARE = 2, 0.2
"""So many segments at either end, or a share of all where that is more, may be no beads, and so do not say
what a bead looks like."""
_FEWEST = 3
"""Beads that remain in any case."""
_FAR_MM, _ALIKE = 10.0, 1.5
"""Behind so much free string an end piece is a knot, a tag's corner, a scrap, unless it is as long and as
wide as beads are, to within this factor: a guard, none of 52 photos needs it."""
_LIKELY_ROD, _LIKELY_WIRE = 0.7, 0.5
"""What is less likely to be a bead than this, at an end, is not one; a wire has no stoppers. At half of the
first one count of 28 is lost, at double of either 14."""
_LONE = 0.3
"""What lies alone beyond one end of a rod, whose other end has no stopper, may be a bead from so likely on:
stoppers come in pairs. Of 24 rods one ended so, in a bead of 0.45; stoppers in pairs reach 0.6."""
_SURELY = 0.8
"""What is likelier than this to be a bead is one behind another piece at the same end."""
_LEAST_SHARE = 0.01
"""No network is surer than this of a kind: of pieces that it was as sure of, as many were another."""
_STOPPERS_SD, _FREE = 8.0, 2
"""Standard deviation of the looks of stoppers in that of beads: they are of any size and colour. Of the six
features two vary freely, size and colour; the rest go with them."""
_ODD, _FAR_SD = 0.1, 100.0
"""Share of end beads that are unlike all others (common practice, no source); distances beyond are alike."""
_SAME_SIZE = 1.12
"""Within this factor a stopper is as long and as wide as a bead: two standard deviations of a width."""
_BARE, _THIN_MM, _BESIDE_MM = 0.36, 1.2, 0.8
"""A rod is thinner than the first share of the beads' width; nothing shorter than the second is a stopper,
nothing farther than the third from a bead lies beside it. Half or double of the first two: last digits."""
_SCRAP = 0.45
"""An end piece narrower than this share of the typical bead, or shorter than half of it, is no bead. At
double one count of 28 is lost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """The pieces of a strand in order, beads or not, and what they show.

    Attributes
    ----------
    segments : list of Segment
    strip : Strip
    width_mm : ndarray, shape (S,)
        How wide the strand is at each step.
    likely : ndarray, shape (S,)
        How likely each step shows a bead.
    strung : ndarray, shape (S,)
        How likely each step shows a strung part, if it shows anything but bed.
    rod : bool
        Whether they are on a rod, which has stoppers, or on a wire, which has none.
    """

    segments: list[Segment]
    strip: Strip
    width_mm: FloatArray
    likely: FloatArray
    strung: FloatArray
    rod: bool

    @property
    def bead_likelihoods(self) -> FloatArray:
        """How likely each piece is a bead, shape (P,)."""
        return np.array([bead_likelihood(self.likely, s) for s in self.segments])

    @property
    def strung_shares(self) -> FloatArray:
        """How likely each piece is a strung part rather than a stopper or another thing, shape (P,)."""
        return np.array([bead_likelihood(self.strung, s) for s in self.segments])

    @property
    def log_sizes(self) -> FloatArray:
        """Logarithms of the length and the width of each piece, shape (P, 2)."""
        widths = (middle_width(self.width_mm, s) for s in self.segments)
        sizes = zip(self.segments, widths, strict=True)
        return np.log([(s.length_mm + STEP_MM, width + STEP_MM) for s, width in sizes])

    @property
    def looks(self) -> FloatArray:
        """Log length, log width, flatness and CIE L*a*b* of each, in standard deviations, shape (P, 6)."""
        return np.array([self._look(s) for s in self.segments])

    def _look(self, segment: Segment) -> FloatArray:
        steps = segment.steps()
        trim = max(1, round(_INNER * (steps.stop - steps.start)))
        inner = slice(steps.start + trim, max(steps.start + trim + 1, steps.stop - trim))
        width = self.width_mm[inner]
        wide = float(np.percentile(width, _WIDE_PERCENTILE)) + 1e-6
        rows = np.abs(self.strip.aside_mm) < _CORE * wide
        patch = np.ascontiguousarray(self.strip.rgb[rows][:, inner])
        lab = cv2.cvtColor(patch, cv2.COLOR_RGB2LAB).reshape(-1, 3).astype(float)
        lightness, a, b = np.median(lab, axis=0) / _COLOUR_SD
        shape = [
            np.log(max(segment.length_mm, STEP_MM)) / _LENGTH_SD,
            np.log(wide) / _WIDTH_SD,
            float(np.mean(width)) / wide / _FLATNESS_SD,
        ]
        return np.array([*shape, 0.5 * lightness, a, b])


def bead_likelihood(likely: FloatArray, segment: Segment) -> float:
    """Return how likely a segment is a bead, of the likelihood at each step, shape (S,)."""
    return float(np.mean(likely[segment.steps()]))


def bead_range(pieces: Pieces) -> slice:
    """Return which of the pieces are beads: those from one to another."""
    first, last = _main_group(pieces)
    if last - first < _FEWEST:
        return slice(first, last)
    looks = pieces.looks
    first, last = _without_scraps(pieces, looks, first=first, last=last)
    ends = max(1, min(_OUTERMOST, (last - first - 2) // 2), round(_OUTER_SHARE * (last - first)))
    if last - first - 2 * ends < 2:
        return slice(first, last)
    likely = pieces.bead_likelihoods
    likely = likely * _strung_chances(pieces, slice(first + ends, last - ends))
    other = likely < (_LIKELY_ROD if pieces.rod else _LIKELY_WIRE)
    if pieces.rod:
        other |= _unlike_beads(looks, slice(first, last), ends=ends)
    for _ in range(ends):
        if last - first > _FEWEST and other[first]:
            first += 1
        if last - first > _FEWEST and other[last - 1]:
            last -= 1
        # a stopper may have been cut in pieces, but behind another piece what surely is a bead stays
        other &= likely < _SURELY
    return slice(first, last)


def _strung_chances(pieces: Pieces, usual: slice) -> FloatArray:
    """Return how likely each piece is a strung part, (P,), by its kind and its likeness to the usual ones.

    A tube of rubber and a bead of that form are one kind to see, so the two findings are joined by Bayes'
    rule: looks of beads scatter about each other's, but for an odd one; those of stoppers much more widely.
    """
    looks = pieces.looks
    apart = np.linalg.norm(looks[:, None] - looks[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    nearest = apart[:, usual].min(axis=1)
    scatter = max(1.0, float(np.median(nearest[usual])))
    drop = np.minimum(nearest, _FAR_SD) ** 2 / 2 * (1 / scatter**2 - 1 / _STOPPERS_SD**2)
    likeness = (1 - _ODD) * (_STOPPERS_SD / scatter) ** _FREE * np.exp(-drop) + _ODD
    seen = np.clip(pieces.strung_shares, _LEAST_SHARE, 1 - _LEAST_SHARE)
    odds = seen / (1 - seen) * likeness
    return np.asarray(odds / (1 + odds))


def _unlike_beads(looks: FloatArray, among: slice, *, ends: int) -> Mask:
    """Return which looks (P, 6) are unlike every bead's, shape (P,).

    Beads are found `among` these, and what lies farther in than `ends` pieces surely is a bead.
    """
    usual = looks[among.start + ends : among.stop - ends]
    limit = max(_UNLIKE, _UNLIKE_EACH_OTHER * float(np.percentile(_nearest_distances(usual), 90)))
    # whatever lies between beads is a bead, and may be the only one similar to one at the other end
    alike = [k for k in range(among.start, among.stop) if _to_nearest(looks[k], usual) <= limit]
    usual = looks[alike[0] : alike[-1] + 1]
    unlike = np.array([_to_nearest(look, usual) for look in looks]) > limit
    return unlike & ~_of_one_shape(looks, usual)


def uncertain_stoppers(pieces: Pieces, beads: slice) -> list[int]:
    """Return which pieces, left out of a rod right beside the beads, may be beads after all.

    They look like beads, and either are as long and as wide as one, or another piece lies beyond them, which
    may be the stopper. Where nothing lies beyond the other end, no second stopper holds the beads: the rod
    may be a straight wire, and less likeness is enough.
    """
    count = len(pieces.segments)
    lone = (beads.start, count - beads.stop) in ((1, 0), (0, 1))
    inner = {beads.start - 1} - {0} | {beads.stop} - {count - 1}
    sizes = pieces.log_sizes
    likely = pieces.bead_likelihoods * _strung_chances(pieces, beads)

    def may_be(k: int) -> bool:
        same_size = np.abs(sizes[beads] - sizes[k]).max(axis=1) < np.log(_SAME_SIZE)
        return bool(likely[k] > (_LONE if lone else _LIKELY_ROD) and (lone or k in inner or same_size.any()))

    return [k for k in (beads.start - 1, beads.stop) if 0 <= k < count and may_be(k)]


def beads_and_stoppers(beads: list[Segment], width_mm: FloatArray) -> list[Segment]:
    """Return beads and what is as thick as they are right beside them on their rod, of widths (S,)."""
    typical = float(np.median([middle_width(width_mm, s) for s in beads]))
    thick = ndimage.binary_opening(width_mm > _BARE * typical, np.ones(round(_THIN_MM / STEP_MM)))
    labels, _ = ndimage.label(thick)
    first, last = beads[0].steps().start, beads[-1].steps().stop
    before, after = _beside(labels, first), _beside(labels, last)
    return [*_long_enough(before[before < first]), *beads, *_long_enough(after[after >= last])]


def _beside(labels: NDArray[np.integer[Any]], edge: int) -> NDArray[np.intp]:
    """Return the steps of the thick piece, of labelled ones (S,), that reaches up to a step."""
    reach = round(_BESIDE_MM / STEP_MM)
    label = labels[max(edge - reach, 0) : edge + reach].max()
    return np.flatnonzero((labels == label) & (label > 0))


def _long_enough(steps: NDArray[np.intp]) -> list[Segment]:
    """Return the piece of consecutive steps, unless it is too short for a stopper."""
    if len(steps) * STEP_MM <= _THIN_MM:
        return []
    return [Segment(start_mm=float(steps[0] * STEP_MM), end_mm=float(steps[-1] * STEP_MM))]


def _main_group(pieces: Pieces) -> tuple[int, int]:
    """Leave out an odd piece or two that lie far from all the rest, and are not of their size."""
    segments, sizes = pieces.segments, pieces.log_sizes
    first, last = 0, len(segments)
    similar = (np.abs(sizes - np.median(sizes, axis=0)) < np.log(_ALIKE)).all(axis=1)
    far = [k for k in range(1, last) if segments[k].start_mm - segments[k - 1].end_mm > _FAR_MM]
    for k in far:
        if k - first <= _OUTERMOST and last - k > _OUTERMOST and not similar[first:k].all():
            first = k
    for k in reversed(far):
        if last - k <= _OUTERMOST and k - first > _OUTERMOST and not similar[k:last].all():
            last = k
    return first, last


def _without_scraps(pieces: Pieces, looks: FloatArray, *, first: int, last: int) -> tuple[int, int]:
    """Leave out end pieces that are much narrower or shorter than beads are."""
    lengths = np.array([s.length_mm for s in pieces.segments])
    narrow = looks[:, 1] * _WIDTH_SD < float(np.median(looks[:, 1])) * _WIDTH_SD + np.log(_SCRAP)
    scrap = narrow | (lengths < _SCRAP / 2 * np.median(lengths))
    while last - first > _FEWEST and scrap[first]:
        first += 1
    while last - first > _FEWEST and scrap[last - 1]:
        last -= 1
    return first, last


def _of_one_shape(looks: FloatArray, usual: FloatArray) -> Mask:
    """Return which of the looks have the shape of the usual beads, where all these have one, shape (P,).

    No stopper is as long, wide and straight as the beads of an even strand, of whatever colour they are.
    """
    middle = np.median(usual, axis=0)
    uneven, off = (np.linalg.norm((of - middle)[:, :_SHAPE], axis=1) for of in (usual, looks))
    return np.asarray((off < _SAME_SHAPE) & bool(np.median(uneven) < _SAME_SHAPE))


def _nearest_distances(looks: FloatArray) -> FloatArray:
    """Return how far each look is from the one nearest to it, shape (P,)."""
    apart = np.linalg.norm(looks[:, None] - looks[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    return apart.min(axis=1)


def _to_nearest(look: FloatArray, others: FloatArray) -> float:
    """Return how far a look is from the nearest of others."""
    return float(np.linalg.norm(others - look, axis=1).min())
