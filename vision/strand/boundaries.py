"""Where one bead ends and the next begins, read off the map that the network drew of a strand.

Every place that may be a bead's end is a candidate; each stretch between two of them is one bead, or free
string. The likeliest division of all is found by dynamic programming. Where the beads found are of about one
length, it is found again: fainter candidates then count, and a bead of another length has its price. How sure
each bead is follows from all divisions together.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common.numerics import peaks, robust_sd
from vision.common.records import FloatArray
from vision.networks.inference import Map
from vision.strand.strand_map import CELLS_ACROSS, StrandMap
from vision.strand.strip import Segment
from vision.topview.region import SMALLEST_MM

_HINT = 0.06
"""An end less likely than this is none. Half or double: no difference."""
_LEAST = 0.0005
"""A network trained on 3500 beads is never surer than one in 2000. Half or double: no difference."""
_CELL_WEIGHT = 1 / 6
"""Neighbouring cells are not independent: each counts for this much. At double one more count is flagged."""
_MOST_CANDIDATES, _STEPS_A_BEAD = 24, 8
"""Candidates that a bead may hold, a limit on time, and that are laid along one where peaks are missing."""
_PEAK = 0.075
"""Reach of a peak to either side, over the width of the widest beads: at half one more count is flagged."""
_SHORTEST = 0.075
"""No bead is shorter than this share of the widest beads' width: a joint marked twice is no bead."""
_EVEN, _EVEN_LEAST, _FEWEST = 0.10, 0.03, 5
"""So many beads whose lengths scatter, relative, less than the first are of one kind, and none scatters less
than the second. Half or double: no difference; without a second division closed loops lose beads."""
_SAME = 0.25
"""Divisions have the same bead where either end lies within this share of its length. At half one more count
of 230 is flagged, at double one that is wrong is not."""
_PRICE = 0.5
"""Half a log likelihood, as of Student's t: a bead that really differs stays, as its ends outweigh that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Length:
    """What the beads of an even strand measure along it, in cells, and how much that scatters, relative."""

    cells: float
    scatter: float

    def price(self, cells: FloatArray) -> FloatArray:
        """Return by how much beads of other lengths are the less likely, as log likelihoods."""
        length = cells / self.cells
        return np.maximum(1.0, length) * _PRICE * np.log1p(((length - 1) / self.scatter) ** 2 / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Divisions:
    """All divisions of a strand: sequences of stretches, each of free string or one bead.

    Attributes
    ----------
    at : ndarray, shape (K,)
        Cells of the candidates along the strand.
    ends : ndarray, shape (K,)
        Log likelihoods that they are ends.
    free, bead : ndarray, shape (K, J)
        Log likelihoods of the stretches that end at a candidate and began 1, 2 ... J candidates before it, if
        they are free string, and if they are one bead.
    """

    at: FloatArray
    ends: FloatArray
    free: FloatArray
    bead: FloatArray

    @classmethod
    def of(cls, network: StrandMap, even: _Length | None) -> "_Divisions":
        """Weigh every stretch between two places that may be ends."""
        at, height = _candidates(network.ends, even)
        ends, passed = np.log(height), np.concatenate([[0.0], np.cumsum(np.log(1 - height))])
        shown, bare = (_up_to(at, likely) for likely in (network.between, 1 - network.between))
        stop = np.arange(len(at))[:, None]
        start = stop - np.arange(1, _MOST_CANDIDATES + 1)
        known, start = start >= 0, np.maximum(start, 0)
        cells = at[stop] - at[start]
        either = np.where(known, passed[stop] - passed[start + 1] + ends[stop], -np.inf)
        bead = either + shown[stop] - shown[start] - (even.price(cells) if even else 0.0)
        return cls(
            at=at,
            ends=ends,
            free=either + bare[stop] - bare[start],
            bead=np.where(cells < _SHORTEST * CELLS_ACROSS, -np.inf, bead),
        )

    def likeliest(self) -> list[tuple[int, int]]:
        """Return the beads of the likeliest division, as pairs of candidates (Viterbi 1967)."""
        count, most = self.bead.shape
        either = np.maximum(self.free, self.bead)
        score, back = np.full(most + count, -np.inf), np.zeros(count, dtype=int)
        score[most] = 0.0  # before the first candidate there is nothing
        for k in range(1, count):
            totals = score[k : k + most][::-1] + either[k]
            back[k] = np.argmax(totals)
            score[most + k] = totals[back[k]]
        spans, k = [], count - 1
        while k > 0:
            start = k - 1 - int(back[k])
            if self.bead[k, back[k]] > self.free[k, back[k]]:
                spans.append((start, k))
            k = start
        return spans[::-1]

    def chances(self) -> FloatArray:
        """Return the posterior probability of each stretch that it is one bead, shape (K, J).

        By sums over all divisions, forwards and backwards (Rabiner 1989).
        """
        count, most = self.bead.shape
        either = np.logaddexp(self.free, self.bead)
        before, behind = np.full((2, most + count), -np.inf)
        before[most] = behind[-1] = 0.0
        for k in range(1, count):
            before[most + k] = np.logaddexp.reduce(before[k : k + most][::-1] + either[k])
        for k in range(count - 1, 0, -1):
            starts = behind[k : k + most]
            np.logaddexp(starts, either[k, ::-1] + behind[most + k], out=starts)
        start = most + np.arange(count)[:, None] - np.arange(1, most + 1)
        return np.asarray(np.exp(before[start] + self.bead + behind[most:, None] - before[-1]))

    def clarity(self, spans: Sequence[tuple[int, int]]) -> list[float]:
        """Return how sure it is that there is one bead between two candidates, from 0 to 1.

        That is the probability of all divisions that have a bead there, with about the same ends. Beyond the
        outermost ends nothing competes: these are no surer than they look.
        """
        chances, count, most = self.chances(), *self.bead.shape
        began = self.at[np.maximum(np.arange(count)[:, None] - np.arange(1, most + 1), 0)]
        found = []
        for start, stop in spans:
            near = _SAME * (self.at[stop] - self.at[start])
            rows = slice(*np.searchsorted(self.at, [self.at[stop] - near, self.at[stop] + near]))
            found.append(float(chances[rows][np.abs(began[rows] - self.at[start]) < near].sum()))
        for bead, end in ((0, 0), (-1, 1)) if spans else ():
            found[bead] = min(found[bead], float(np.exp(self.ends[spans[bead][end]])))
        return found


def beads_on(network: StrandMap) -> list[Segment]:
    """Return the beads of a strand, in order: those of the likeliest division.

    What nowhere shows half as wide as the smallest bead is bare string.
    """
    divisions = _Divisions.of(network, None)
    spans = divisions.likeliest()
    if (even := _common_length(divisions.at, spans)) is not None:
        divisions = _Divisions.of(network, even)
        spans = divisions.likeliest()
    ends_mm = [divisions.at[list(span)] * network.cell_mm for span in spans]
    divided = [
        Segment(start_mm=float(start), end_mm=float(end), clarity=clarity)
        for (start, end), clarity in zip(ends_mm, divisions.clarity(spans), strict=True)
    ]
    wide = network.inside.sum(axis=0) * network.cell_mm > SMALLEST_MM / 2
    return [bead for bead in divided if wide[bead.steps(step_mm=network.cell_mm)].any()]


def _common_length(at: FloatArray, spans: list[tuple[int, int]]) -> _Length | None:
    """Return the length that beads between pairs of candidates have in common, or None."""
    if len(spans) < _FEWEST:
        return None
    lengths = np.array([at[j] - at[i] for i, j in spans])
    typical = float(np.median(lengths))
    scatter = robust_sd(lengths / typical, about=1.0)
    return _Length(cells=typical, scatter=max(scatter, _EVEN_LEAST)) if scatter < _EVEN else None


def _candidates(ends: Map, even: _Length | None) -> tuple[FloatArray, FloatArray]:
    """Return the cells (K,) that may be ends, and how likely each is one: all peaks.

    Where beads are even, these are places between too.
    """
    tops = peaks(np.pad(ends, 1))[1:-1]
    found = np.flatnonzero(tops & (ends > _HINT))
    at = np.concatenate([[0.0], _centroids(ends, found), [len(ends) - 1.0]])
    height = np.concatenate([[0.5], ends[found], [0.5]])
    if even:
        apart = even.cells / _STEPS_A_BEAD
        more = [np.arange(a + 3 * apart, b - 2 * apart, apart) for a, b in itertools.pairwise(at)]
        between = np.concatenate(more)
        heights = np.interp(between, np.arange(len(ends)), ends)
        order = np.argsort(np.concatenate([at, between]))
        at, height = (np.concatenate(v)[order] for v in ((at, between), (height, heights)))
    return at, np.clip(height, _LEAST, 1 - _LEAST)


def _up_to(at: FloatArray, likely: Map) -> FloatArray:
    """Return the log likelihood of all cells (C,) before each place, shape (K,)."""
    total = np.cumsum(np.log(np.clip(likely.astype(float), _LEAST, 1 - _LEAST)))
    return np.interp(at, np.arange(len(likely) + 1) - 0.5, [0.0, *(_CELL_WEIGHT * total)])


def _centroids(ends: Map, at: NDArray[np.intp]) -> FloatArray:
    """Return the centroids of the peaks at some cells, in cells."""
    reach = round(_PEAK * CELLS_ACROSS)
    steps = np.arange(-reach, reach + 1)
    index = np.clip(at[:, None] + steps, 0, len(ends) - 1)
    weight = ends[index] + 1e-9
    # what belongs to the next peak rises again
    for side in (slice(reach, None), slice(reach, None, -1)):
        weight[:, side] = np.minimum.accumulate(weight[:, side], axis=1)
    return np.asarray(at + (weight * steps).sum(axis=1) / weight.sum(axis=1))
