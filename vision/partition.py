"""Where one bead ends and the next begins.

Evidence at each step along the string: a valley in the width (two convex solids meet in a notch)
and a seam (the picture changes along the string over the whole width at once). The most plausible
division into segments is found by dynamic programming over all places and lengths; lengths are
compared with the segment's own width, since the beads of a strand are of one shape even where their
sizes are mixed, and, for the sake of cubes that lie turned by chance, with the typical width. The ratio
of length to width is not known beforehand: all are tried, and the one whose division explains most
evidence is kept. A uniform strand thus speaks with one voice, while a bead that really differs costs
only a bounded penalty.
"""

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.axis import STEP_MM
from vision.evidence import boundary_evidence, valleys
from vision.records import FloatArray
from vision.segment import Segment
from vision.strip import Strip

_SHORTEST, _LONGEST = 0.28, 3.4
"""Length over width: from a flat spacer to a long tube."""
_RATIOS = _SHORTEST * 1.05 ** np.arange(int(np.log(_LONGEST / _SHORTEST) / np.log(1.05)))
_EVEN, _EVEN_LENGTH_SD, _FEW = 0.06, 0.03, 5
_LENGTH_SD = 0.07
_INNER = 0.7
"""A segment is as wide as this inner share of it: at its ends a wider neighbour or a stopper may begin."""
_LENGTH_COST = 0.3
_EXPECTED = 0.42
"""Evidence a boundary must show to pay for itself, as a share of a clear one's."""
_BARE = 0.36
"""Share of the beads' width below which the string is bare."""
_BARE_RUN_MM = 0.4
_END_COST, _END_COST_PER_BEAD = 0.3, 0.4
"""A stopper may have any length, but swallowing beads is not for free."""
_STEP, _STEP_WITHIN_MM, _STEP_SPAN = 0.15, 0.6, 0.1
"""A change of width by the first share of it within so many mm, either side even over the second share."""
_STOPPER_MM = 2.5
"""No stopper is shorter (common practice, no source); a rounded end is."""
_SCALLOPED = 0.05
_THINNEST_MM = 1.0
"""What is nowhere wider is wire, or nothing."""
_SURFACE = 0.89
_CLEARER = 1.2
"""Cubes lie turned by chance, and their widths tell nothing: seams alone are followed where each explains
more than seams and notches together."""
_NOTCH, _ROUNDING = 0.16, 0.025
"""Between two touching rounds the width stays below `_BARE` over at most the first share of it; a
single end, with a usual drill hole, goes on for about the second beyond where it falls below `_BARE`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Partition:
    """The segments of a strand, in order.

    Attributes
    ----------
    segments : tuple of Segment
        Beads, and at the ends perhaps stoppers.
    ratio : float
        Length over width of the typical segment.
    margin : float
        How much better this ratio explains the evidence than the best clearly different one, per boundary.
    """

    segments: tuple[Segment, ...]
    ratio: float
    margin: float


def partition(strips: tuple[Strip, ...], sides_mm: FloatArray, *, free_ends: bool) -> Partition | None:
    """Divide a strand into segments; None where there is nothing as thick as a bead.

    Parameters
    ----------
    strips : tuple of Strip
        The strand pulled straight on its beads' upper surface and in the plane of its string: seams of
        opaque beads are seen on the one, of clear ones on the other, and which it is shows in
        how well they explain an even division.
    sides_mm : ndarray, shape (2, S)
        How far aside of the axis the left and the right side lie, both positive.
    free_ends : bool
        True on a rod: the first and the last segment may be stoppers of any length.
    """
    width = ndimage.median_filter(sides_mm.sum(axis=0), size=5)
    typical = float(np.percentile(width, 85))
    if typical < _THINNEST_MM:
        return None
    scalloped = float(np.percentile(valleys(width, typical), 80)) > _SCALLOPED
    notch, rounding = (_NOTCH * typical, _ROUNDING * typical) if scalloped else (0.0, 0.0)
    runs = _runs(width > _BARE * typical, shortest=round((_BARE_RUN_MM + notch) / STEP_MM))
    runs = [(a, b) for a, b in runs if (b - a) * STEP_MM > 0.25 * typical]
    if not runs:
        return None
    evidence, trusts = zip(*boundary_evidence(strips, sides_mm, width, typical), strict=True)
    grid = _Grid(
        runs=tuple(runs),
        stride=max(1, round(typical / 40 / STEP_MM)),
        typical=typical,
        free_ends=free_ends,
        any_evidence=np.max(evidence, axis=0),
        stepped=_stepped(width, typical) & (not scalloped),  # a side lost beside a notch is a step too
    )
    flat = np.full_like(width, typical)
    kinds = list(zip(evidence, trusts, strict=True))
    both, seam = kinds[0], kinds[len(strips)]
    fits = [(grid.solve(both[0], reference, _RATIOS), both[1]) for reference in (width, flat)]
    coarse = replace(grid, stride=2 * grid.stride)
    seams = [(coarse.solve(seam[0], reference, _RATIOS[::2]), seam[1]) for reference in (width, flat)]
    if _each(max(seams, key=_worth)) > _CLEARER * _each(max(fits, key=_worth)):
        fits += seams
    best, trust = max(fits, key=_worth)
    rival = max(fit.rival_of(best.ratio) * trust for fit, trust in fits)
    near = best.ratio * np.array([0.95, 1.0, 1.05])
    others = [(grid.solve(kind, best.reference, near), trust) for kind, trust in kinds]
    best, trust = max(others, key=_worth)
    best = _on_surface(best, [fit for fit, _ in others], strips=len(strips))
    margin = best.score * trust - rival
    best = _evened(grid, best, kinds, strips=len(strips))
    segments = _segments(best, rounding * best.ratio, limit_mm=(len(width) - 1) * STEP_MM)
    return Partition(segments=tuple(segments), ratio=best.ratio, margin=margin / max(len(segments), 1))


def _worth(fitted: tuple["_Fit", float]) -> float:
    fit, trust = fitted
    return fit.score * trust


def _evened(grid: "_Grid", best: "_Fit", kinds: list[tuple[FloatArray, float]], *, strips: int) -> "_Fit":
    """Return the best division of an even strand, looked for once more now that its length is known.

    Where sides are hardly seen their notches scatter, and seams may part the beads more evenly.
    """
    lengths = np.concatenate([np.diff(cuts) for cuts in best.cuts]) * STEP_MM
    typical = float(np.median(lengths))
    scatter = 1.4826 * float(np.median(np.abs(lengths / typical - 1)))
    if scatter >= _EVEN or len(lengths) <= _FEW:
        return best
    flat, ratio = np.full_like(best.reference, grid.typical), np.array([typical / grid.typical])
    by_notch = best.evidence is kinds[-1][0]
    fits = [
        (grid.solve(kind, flat, ratio, length_sd=_EVEN_LENGTH_SD), trust)
        for kind, trust in kinds
        if by_notch or kind is best.evidence
    ]
    evenest, _ = max(fits, key=_worth)
    return _on_surface(evenest, [fit for fit, _ in fits], strips=strips) if by_notch else evenest


def _on_surface(best: "_Fit", fits: list["_Fit"], *, strips: int) -> "_Fit":
    """Return the division by what is seen on the beads' surface where it is nearly as good.

    Seams of opaque beads lie on it; in the plane of the string only those of clear ones do, and there they
    show much better.
    """
    for first in (0, strips):
        inside = any(best.evidence is fit.evidence for fit in fits[first + 1 : first + strips])
        if inside and fits[first].score > _SURFACE * best.score:
            return fits[first]
    return best


def _each(fitted: tuple["_Fit", float]) -> float:
    """Return the evidence explained per segment: facets are more seams, but each is less clear."""
    return _worth(fitted) / sum(len(cuts) - 1 for cuts in fitted[0].cuts)


def _segments(fit: "_Fit", rounding_mm: float, *, limit_mm: float) -> list[Segment]:
    segments = []
    for cuts in fit.cuts:
        sharp = _sharpened(cuts, fit.evidence)
        edges = sharp.astype(float) * STEP_MM
        edges[[0, -1]] += np.array([-1, 1]) * rounding_mm  # a rounded end goes on below the threshold
        edges = np.clip(edges, 0.0, limit_mm)
        clear = fit.evidence[np.minimum(sharp, len(fit.evidence) - 1)].astype(float)
        clear[[0, -1]] = np.inf  # no neighbour there
        segments += [
            Segment(start_mm=float(i), end_mm=float(j), clarity=float(min(clear[k], clear[k + 1], 1.0)))
            for k, (i, j) in enumerate(itertools.pairwise(edges))
        ]
    return segments


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """The best division by one kind of evidence and reference width.

    Attributes
    ----------
    evidence, reference : ndarray, shape (S,)
    scores : ndarray, shape (R,)
        Of each ratio tried.
    ratios : ndarray, shape (R,)
    cuts : list of ndarray
        For each run the steps of its boundaries, at the best ratio.
    """

    evidence: FloatArray
    reference: FloatArray
    ratios: FloatArray
    scores: FloatArray
    cuts: list[NDArray[np.int_]]

    @property
    def score(self) -> float:
        return float(self.scores.max())

    @property
    def ratio(self) -> float:
        return float(self.ratios[int(np.argmax(self.scores))])

    def rival_of(self, ratio: float) -> float:
        """Return the best score of a clearly different ratio."""
        other = np.abs(np.log(self.ratios / ratio)) > 0.25
        return float(self.scores[other].max())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """The thick runs of a strand, and the stride, in steps, at which boundaries are first placed.

    `any_evidence` is the strongest of all kinds at each step: between a bead and a stopper any will do.
    `stepped` is where the width changes at once: a stopper much shorter than the beads ends in a step.
    """

    runs: tuple[tuple[int, int], ...]
    stride: int
    typical: float
    free_ends: bool
    any_evidence: FloatArray
    stepped: NDArray[np.bool_]

    def solve(
        self,
        evidence: FloatArray,
        reference: FloatArray,
        ratios: FloatArray,
        *,
        length_sd: float = _LENGTH_SD,
    ) -> _Fit:
        """Divide all runs by each ratio of length to reference width."""
        total, cuts = np.zeros(len(ratios)), []
        for k, (start, end) in enumerate(self.runs):
            free = (self.free_ends and k == 0, self.free_ends and k == len(self.runs) - 1)
            piece = slice(start, end, self.stride)
            step = self.stride * STEP_MM
            lengths, usual = _lengths_to_try(reference[piece], ratios, step, short_ends=any(free))
            cost = _length_costs(reference[piece], lengths, ratios, step, length_sd)
            cost[:, lengths < usual] = np.inf  # of ends alone
            alone = _END_COST + _END_COST_PER_BEAD * np.maximum(
                (lengths * step)[None] / (ratios[:, None] * self.typical) - 1, 0
            )
            bonus = np.maximum(self.any_evidence - evidence, 0)[piece]
            ends = _Ends(alone=alone, bonus=bonus, stepped=self.stepped[piece], usual=usual, free=free)
            score, places = _divide(evidence[piece], lengths, cost, ends)
            total += score
            cuts.append([np.minimum(start + self.stride * np.array(p), end) for p in places])
        best = int(np.argmax(total))
        return _Fit(
            evidence=evidence,
            reference=reference,
            ratios=ratios,
            scores=total,
            cuts=[places[best] for places in cuts],
        )


def _runs(thick: NDArray[np.bool_], *, shortest: int) -> list[tuple[int, int]]:
    """Return [start, end) of the thick runs; thinner places shorter than `shortest` are notches."""
    filled = ndimage.binary_closing(np.pad(thick, shortest), np.ones(shortest))[shortest:-shortest] | thick
    edges = np.flatnonzero(np.diff(np.concatenate([[0], filled.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _lengths_to_try(
    reference: FloatArray, ratios: FloatArray, step_mm: float, *, short_ends: bool
) -> tuple[NDArray[np.int_], int]:
    """Return the lengths of segments to try, in steps, and the shortest that may be a bead's."""
    width = np.percentile(reference, 30) / step_mm / 1.5
    usual = max(2, int(ratios[0] * width))
    shortest = min(usual, max(2, round(_STOPPER_MM / step_mm))) if short_ends else usual
    longest = min(len(reference), int(1.3 * ratios[-1] * reference.max() / step_mm) + 1)
    return np.arange(shortest, max(longest, usual + 1) + 1), usual


def _stepped(width: FloatArray, typical: float) -> NDArray[np.bool_]:
    """Return where the width changes at once, as from a stopper to a tube, shape (S,)."""
    span = max(3, round(_STEP_SPAN * typical / STEP_MM))
    aside = span // 2 + round(_STEP_WITHIN_MM / 2 / STEP_MM)
    middle = np.pad(ndimage.median_filter(width, span, mode="nearest"), aside, mode="edge")
    before, behind = middle[: -2 * aside], middle[2 * aside :]
    return np.asarray(np.abs(behind - before) > _STEP * typical)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ends:
    """What the first and the last segment may do that others may not.

    Attributes
    ----------
    alone : ndarray, shape (R, L)
        Cost of each length where it need not be a bead's.
    bonus : ndarray, shape (S,)
        What other kinds of evidence than the one in use add to a boundary with a stopper.
    stepped : ndarray of bool, shape (S,)
        Where the width changes at once.
    usual : int
        What is shorter than this must end in such a step.
    free : tuple of bool
        Whether the first and the last may be stoppers.
    """

    alone: FloatArray
    bonus: FloatArray
    stepped: NDArray[np.bool_]
    usual: int
    free: tuple[bool, bool]

    def worth(self, lengths: NDArray[np.int_], places: NDArray[np.int_]) -> FloatArray:
        """Return what end pieces of these lengths with boundaries at these places gain, shape (R, L)."""
        places = np.minimum(places, len(self.bonus) - 1)
        possible = (lengths >= self.usual) | self.stepped[places]
        return np.where(possible, self.bonus[places], -np.inf) - self.alone[:, : len(lengths)]


def _divide(
    evidence: FloatArray,
    lengths: NDArray[np.int_],
    cost: FloatArray,
    ends: _Ends,
) -> tuple[FloatArray, list[list[int]]]:
    """Return for each ratio the best score and the places of its cuts (both ends included).

    Parameters
    ----------
    evidence : ndarray, shape (S,)
    lengths : ndarray, shape (L,)
        In steps, ascending.
    cost : ndarray, shape (R, L, S)
        Of a segment of each length that ends behind each step.
    ends : _Ends
    """
    count, steps = len(cost), len(evidence)
    worth = evidence - _EXPECTED
    best = np.full((count, steps + 1), -np.inf)
    best[:, 0] = 0.0
    came = np.zeros((count, steps + 1), dtype=int)
    for end in range(int(lengths[0]), steps + 1):
        usable = lengths[: np.searchsorted(lengths, end, side="right")]
        before = best[:, end - usable]
        option = before - cost[:, : len(usable), end - 1]
        if ends.free[0] and usable[-1] == end:
            alone = ends.worth(usable, np.full(len(usable), end))[:, -1]
            option[:, -1] = np.maximum(option[:, -1], alone)
        if ends.free[1] and end == steps:
            option = np.maximum(option, before + ends.worth(usable, end - usable))
        choice = option.argmax(axis=1)
        gain = worth[end] if end < steps else 0.0
        best[:, end] = option[np.arange(count), choice] + gain
        came[:, end] = usable[choice]
    return best[:, steps], [_backtrack(came[k], steps) for k in range(count)]


def _length_costs(
    width: FloatArray, lengths: NDArray[np.int_], ratios: FloatArray, step_mm: float, length_sd: float
) -> FloatArray:
    """Return the cost of a segment of each length ending at each step, shape (R, L, S), float32."""
    widest = np.empty((len(lengths), len(width)), dtype=np.float32)
    for k, length in enumerate(lengths):
        inner = ndimage.maximum_filter1d(width, max(1, round(_INNER * int(length))), mode="nearest")
        back = min((int(length) - 1) // 2, len(width) - 1)
        widest[k, back:] = inner[: len(inner) - back]
        widest[k, :back] = inner[0]
    log_shape = np.log((lengths * step_mm)[:, None] / np.maximum(widest, STEP_MM)).astype(np.float32)
    deviation = (log_shape[None] - np.log(ratios)[:, None, None].astype(np.float32)) / np.float32(length_sd)
    return np.asarray(np.float32(_LENGTH_COST) * np.log1p(deviation * deviation))


def _backtrack(came: FloatArray, steps: int) -> list[int]:
    cuts = [steps]
    while cuts[-1] > 0 and came[cuts[-1]] > 0:
        cuts.append(cuts[-1] - int(came[cuts[-1]]))
    return cuts[::-1]


def _sharpened(places: NDArray[np.int_], evidence: FloatArray) -> NDArray[np.int_]:
    """Move each inner cut to the middle of the evidence round it."""
    reach = 3
    moved = places.copy()
    for k, at in enumerate(places[1:-1], start=1):
        near = np.arange(max(at - reach, 0), min(at + reach + 1, len(evidence)))
        weight = np.maximum(evidence[near] - 0.8 * evidence[near].max(), 0) + 1e-9
        moved[k] = round(float(np.average(near, weights=weight)))
    return moved
