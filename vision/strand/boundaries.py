"""Where one bead ends and the next begins, read off the map that the network drew of a strand.

Every place that may be a bead's end is a candidate; each stretch between two of them is one bead, or none.
The likeliest division of all is found by dynamic programming. The beads of an even strand speak with one
voice: once their length is known, it is looked for again, and a bead of another length has its price.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.networks.inference import Map
from vision.strand.segment import Segment
from vision.strand.strand_map import StrandMap

_HINT, _FAINTEST, _LEAST = 0.06, 0.002, 0.0005
"""An end less likely than the first is none, on an even strand than the second; nothing is likelier or less
likely than the third allows."""
_CELL_WEIGHT = 1 / 6
"""Neighbouring cells tell the same: each counts for this much."""
_SPAN, _STEPS_A_BEAD = 24, 8
"""A bead holds at most so many candidates."""
_REACH_CELLS = 3
_SHORTEST_CELLS = 3
"""No bead is shorter than this share of the widest beads' width, which is 40 cells: its ends would be one."""
_EVEN, _EVEN_LEAST, _PRICE, _FEWEST = 0.10, 0.03, 0.5, 5
"""Where lengths scatter less than the first they are of one kind; none scatters less than the second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidates:
    """Places that may be ends, and what speaks for and against each.

    Attributes
    ----------
    at : ndarray, shape (K,)
        Cells along the strand.
    for_it, against : ndarray, shape (K,)
        Log likelihoods that it is an end, and that it is none.
    bead, free : ndarray, shape (K - 1,)
        Log likelihoods that the stretch to the next one shows a bead, and that it does not.
    """

    at: FloatArray
    for_it: FloatArray
    against: FloatArray
    bead: FloatArray
    free: FloatArray


def beads_on(seen: StrandMap) -> list[Segment]:
    """Return the beads of a strand, in order."""
    found = _candidates(seen, _HINT)
    spans = _best(found, None)
    lengths = np.array([found.at[j] - found.at[i] for i, j in spans])
    if len(lengths) >= _FEWEST:
        typical = float(np.median(lengths))
        scatter = robust_sd(lengths / typical, about=1.0)
        if scatter < _EVEN:
            found = _candidates(seen, _FAINTEST, apart=typical / _STEPS_A_BEAD)
            spans = _best(found, (typical, max(scatter, _EVEN_LEAST)))
    return [
        Segment(
            start_mm=float(found.at[i] * seen.cell_mm),
            end_mm=float(found.at[j] * seen.cell_mm),
            clarity=_clarity(found, i, j),
        )
        for i, j in spans
    ]


def _clarity(found: _Candidates, first: int, last: int) -> float:
    """Return how sure it is that there is one bead between two candidates, from 0 to 1."""
    ends = np.exp(found.for_it[[first, last]]).min()
    whole = np.exp(found.against[first + 1 : last]).min() if last > first + 1 else 1.0
    shown = np.exp(found.bead[first:last].sum() / max((found.at[last] - found.at[first]) * _CELL_WEIGHT, 1.0))
    return float(min(ends, whole, shown))


def _candidates(seen: StrandMap, hint: float, *, apart: float = np.inf) -> _Candidates:
    """Return the peaks of the ends' likelihood, and where these are farther `apart`, places between them."""
    ends = np.pad(seen.ends.astype(float), 1)
    peaks = np.flatnonzero((ends[1:-1] >= ends[:-2]) & (ends[1:-1] > ends[2:]) & (ends[1:-1] > hint))
    at = np.concatenate([[0.0], _exact(seen.ends, peaks), [len(seen.ends) - 1.0]])
    height = np.concatenate([[0.5], seen.ends[peaks], [0.5]])
    if np.isfinite(apart):
        more = [np.arange(a + 3 * apart, b - 2 * apart, apart) for a, b in itertools.pairwise(at)]
        between = np.concatenate(more)
        heights = np.interp(between, np.arange(len(seen.ends)), seen.ends)
        order = np.argsort(np.concatenate([at, between]))
        at, height = (np.concatenate(v)[order] for v in ((at, between), (height, heights)))
    height = np.clip(height, _LEAST, 1 - _LEAST)
    between = np.clip(seen.between.astype(float), _LEAST, 1 - _LEAST)
    sums = [np.concatenate([[0.0], np.cumsum(np.log(v))]) for v in (between, 1 - between)]
    cells = np.arange(len(between) + 1) - 0.5
    bead, free = (_CELL_WEIGHT * np.diff(np.interp(at, cells, total)) for total in sums)
    return _Candidates(at=at, for_it=np.log(height), against=np.log(1 - height), bead=bead, free=free)


def _exact(ends: Map, peaks: NDArray[np.intp]) -> FloatArray:
    """Return the centroids of peaks, in cells."""
    steps = np.arange(-_REACH_CELLS, _REACH_CELLS + 1)
    index = np.clip(peaks[:, None] + steps, 0, len(ends) - 1)
    weight = ends[index] + 1e-9
    # what belongs to the next peak rises again
    for side in (slice(_REACH_CELLS, None), slice(_REACH_CELLS, None, -1)):
        weight[:, side] = np.minimum.accumulate(weight[:, side], axis=1)
    return np.asarray(peaks + (weight * steps).sum(axis=1) / weight.sum(axis=1))


def _price(length: float, spread: float) -> float:
    """Return what a bead of such a length, over the typical one, costs on an even strand."""
    return max(1.0, length) * _PRICE * float(np.log1p(((length - 1) / spread) ** 2 / 2))


def _best(found: _Candidates, even: tuple[float, float] | None) -> list[tuple[int, int]]:
    """Return the beads of the likeliest division, as pairs of candidates."""
    count = len(found.at)
    skipped = np.concatenate([[0.0], np.cumsum(found.against)])
    shown, bare = (np.concatenate([[0.0], np.cumsum(v)]) for v in (found.bead, found.free))
    score, came = np.full((count, 2), -np.inf), np.zeros((count, 2, 2), dtype=int)
    score[0, 0] = 0.0  # 0: what lies before is no bead
    for k in range(1, count):
        for j in range(max(k - _SPAN, 0), k):
            passed = skipped[k] - skipped[j + 1]
            length = found.at[k] - found.at[j]
            price = 0.0 if even is None else _price(length / even[0], even[1])
            worths = (bare[k] - bare[j], shown[k] - shown[j] - price)
            for kind, worth in enumerate(worths[: 2 if length >= _SHORTEST_CELLS else 1]):
                before = int(np.argmax(score[j]))
                total = score[j, before] + worth + passed + found.for_it[k]
                if total > score[k, kind]:
                    score[k, kind], came[k, kind] = total, (j, before)
    spans, k, kind = [], count - 1, int(np.argmax(score[-1]))
    while k > 0:
        j, before = came[k, kind]
        if kind == 1:
            spans.append((int(j), k))
        k, kind = int(j), int(before)
    return spans[::-1]
