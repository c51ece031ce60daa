"""What at the ends of a strand is no bead: stoppers on a rod, scraps of wire, parts of a clasp.

A stopper is detected by its kind, as a network sees it, and by being unlike every bead: in length, width,
flatness of its sides, colour. Beads of a mixed strand differ too, but each has a similar one somewhere in the
strand; the ends of a graduated one have none, but go on as it went.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.records import FloatArray
from vision.image.lab import to_lab
from vision.strand.axis import STEP_MM
from vision.strand.strip import Segment, Strip, middle_width

_LENGTH_SD, _WIDTH_SD, _FLATNESS_SD, _COLOUR_SD = 0.12, 0.06, 0.08, 9.0
"""Standard deviations of beads of one kind: of the logarithms of length and width, of mean over largest
width, of colour (CIE L*a*b*, L* counted half, as light differs along a strand). Halving or doubling one makes
no difference, doing without looks does."""
_INNER, _WIDE_PERCENTILE, _CORE = 0.12, 90, 0.35
"""A look leaves out this share of a piece at either end; its width is the percentile, and its colour that of
the middle, this share of the width to either side."""
_OUTERMOST, _OUTER_SHARE = 2, 0.2
"""So many segments at either end, or a share of all where that is more, may be no beads, and so do not say
what a bead looks like."""
_LIKELY = 0.7
"""What is less likely to be a bead than this, at an end, is not one. Of 101 rods and wires, drawn and traced,
17 end wrongly by it; at 0.6 20, at 0.5 21."""
_IN_PAIRS = 4.0
"""Stoppers come in pairs, one at either end of a rod, beyond all beads (common practice, no source). So what
lies within another piece is a bead so much the sooner, and the last piece of one end a stopper if the other
end has one. Of 66 rods, traced and drawn, two more are counted rightly and none wrongly; at 3 one more."""
_LEAST_SHARE = 0.01
"""No network is surer than this of a kind: of pieces that it was as sure of, as many were another."""
_STOPPERS_SD, _FREE = 8.0, 2
"""Standard deviation of the looks of stoppers in that of beads: they are of any size and colour. Where beads
differ as much, looks say nothing. Of the six features two vary freely, size and colour; the others go along.
"""
_JOINED = 0.1
"""Share of joints that are not seen: what is twice as long as beads, and like them else, may be two."""
_STEEPER = 2.0
"""A graduated strand grows or shrinks by up to so many times its last step once more. Of 126 strands, drawn
and traced, 26 ends are wrong by it and 29 without; at half 28, at double 25."""
_SIZES = 2
"""The first so many features of a look are sizes."""
_ODD, _FAR_SD = 0.1, 100.0
"""Share of end beads that are unlike all others (common practice, no source); distances beyond are alike."""
_BARE, _THIN_MM, _BESIDE_MM = 0.36, 1.2, 0.8
"""A rod is thinner than the first share of the beads' width; nothing shorter than the second is a stopper,
nothing farther than the third from a bead lies beside it. Half or double of the first two: last digits."""


@dataclass(frozen=True, kw_only=True)
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
        Whether stoppers are expected.
    """

    segments: list[Segment]
    strip: Strip
    width_mm: FloatArray
    likely: FloatArray
    strung: FloatArray
    rod: bool = False

    @cached_property
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
        lab = to_lab(patch).reshape(-1, 3).astype(float)
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
    """Return which of the pieces are beads: those from one to another.

    Each end that was found tells what beads look like, too.
    """
    count = len(pieces.segments)
    inner = _inner(count)
    if inner.stop - inner.start < 2:
        return slice(0, count)
    first, last = inner.start, inner.stop - 1
    for _ in range(inner.start):
        chances = bead_chances(pieces, slice(first, last + 1))
        beads = np.flatnonzero(chances >= _LIKELY)
        first, last = int(min([first, *beads])), int(max([last, *beads]))
    return _paired(pieces, slice(first, last + 1))


def strung_range(pieces: Pieces) -> tuple[slice, FloatArray]:
    """Return which pieces of a loop lie between the parts of its clasp, and how likely each is strung, (P,).

    Rings of a clasp come in pairs, so all pieces are compared with those far from both ends. Those that
    together are likelier no strung parts are left out at either end.
    """
    inner = _inner(len(pieces.segments))
    if inner.stop - inner.start < 2:
        return slice(0, len(pieces.segments)), np.ones(len(pieces.segments))
    chances = np.clip(bead_chances(pieces, inner), _LEAST_SHARE, 1 - _LEAST_SHARE)
    against = np.log((1 - chances) / chances)
    runs = against[: inner.start], against[: inner.stop - 1 : -1]
    before, after = (int(np.argmax(np.cumsum([0.0, *run]))) for run in runs)
    return slice(before, len(chances) - after), chances


def _inner(count: int) -> slice:
    """Return which of so many pieces are far enough from the ends to say what a bead looks like."""
    ends = max(1, min(_OUTERMOST, (count - 2) // 2), round(_OUTER_SHARE * count))
    return slice(ends, count - ends)


def _paired(pieces: Pieces, beads: slice) -> slice:
    """Return which pieces are beads, without the second stopper of a rod, if it was taken for one."""
    end = _unpaired(pieces, beads)
    if end is None or bead_chances(pieces, beads)[end] >= _LIKELY:
        return beads
    return slice(beads.start + (end == beads.start), beads.stop - (end == beads.stop - 1))


def _unpaired(pieces: Pieces, beads: slice) -> int | None:
    """Return the outermost bead of a rod at the end where no stopper is seen, if one is at the other."""
    before, behind = beads.start > 0, beads.stop < len(pieces.segments)
    if not pieces.rod or before == behind:
        return None
    return beads.stop - 1 if before else beads.start


def bead_chances(pieces: Pieces, usual: slice) -> FloatArray:
    """Return how likely each piece is a bead, (P,): that one is seen, times that what is seen is strung.

    The second follows from its kind and from its likeness to the usual pieces. A tube of rubber and a bead of
    that form are one kind to see, so the two findings are joined by Bayes' rule: looks of beads scatter about
    each other's, but for an odd one; those of stoppers much more widely.
    """
    looks = pieces.looks
    halves = looks - np.log(2) / _LENGTH_SD * (np.arange(looks.shape[1]) == 0)
    nearest, nearest_halves = (_to_nearest(one, looks, usual) for one in (looks, halves))
    scatter = float(np.clip(np.median(nearest[usual]), 1.0, _STOPPERS_SD))
    nearest = np.minimum(nearest, _to_graduated(looks, usual))
    single, double = (
        np.exp(-(np.minimum(off, _FAR_SD) ** 2) / 2 * (1 / scatter**2 - 1 / _STOPPERS_SD**2))
        for off in (nearest, nearest_halves)
    )
    alike = (1 - _JOINED) * single + _JOINED * double
    likeness = (1 - _ODD) * (_STOPPERS_SD / scatter) ** _FREE * alike + _ODD
    covers = np.array([s.kind == "cover" for s in pieces.segments])  # which are like no bead
    likeness = np.where(covers, np.maximum(likeness, 1.0), likeness)
    likely, strung = (
        np.array([bead_likelihood(shown, s) for s in pieces.segments])
        for shown in (pieces.likely, pieces.strung)
    )
    seen = np.clip(strung, _LEAST_SHARE, 1 - _LEAST_SHARE)
    odds = seen / (1 - seen) * likeness * _by_place(pieces, usual)
    return np.asarray(likely * odds / (1 + odds))


def _by_place(pieces: Pieces, beads: slice) -> FloatArray:
    """Return how much its place on a rod speaks for each piece to be a bead, as odds, shape (P,)."""
    odds = np.ones(len(pieces.segments))
    if pieces.rod:
        odds[1 : beads.start] = odds[beads.stop : -1] = _IN_PAIRS
    if (end := _unpaired(pieces, beads)) is not None:
        odds[end] = 1 / _IN_PAIRS
    return odds


def _to_nearest(looks: FloatArray, others: FloatArray, usual: slice) -> FloatArray:
    """Return how far each look, shape (P, 6), is from the nearest of the usual others, (P, 6), not itself."""
    apart = np.linalg.norm(looks[:, None] - others[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    return np.asarray(apart[:, usual].min(axis=1))


def _to_graduated(looks: FloatArray, usual: slice) -> FloatArray:
    """Return how far each look is from where the sizes of its neighbours go on to, (P, 6) to (P,).

    That is anywhere from the size of the neighbour towards the middle of the usual ones to `_STEEPER` of its
    own steps further. Infinite where that neighbour and the next are not both usual ones.
    """
    count = len(looks)
    inwards = np.where(2 * np.arange(count) < usual.start + usual.stop - 1, 1, -1)
    last, before = (np.arange(count) + many * inwards for many in (1, 2))
    known = np.all([(k >= usual.start) & (k < usual.stop) for k in (last, before)], axis=0)
    last, before = looks[last % count], looks[before % count]
    step = np.where(np.arange(looks.shape[1]) < _SIZES, last - before, 0.0)
    off = looks - last
    share = (off * step).sum(axis=1) / np.maximum((step**2).sum(axis=1), np.finfo(float).tiny)
    left = off - np.clip(share, 0, _STEEPER)[:, None] * step
    return np.asarray(np.where(known, np.linalg.norm(left, axis=1), np.inf))


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
