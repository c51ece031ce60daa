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

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.axis import STEP_MM
from vision.gradient import colour_gradient
from vision.records import FloatArray
from vision.strip import Strip

_SHORTEST, _LONGEST = 0.28, 3.4
"""Length over width: from a flat spacer to a long tube."""
_RATIO_STEP = 1.05
_SIGMA_MM = 0.1
_LENGTH_SD = 0.07
_LENGTH_COST = 0.3
_EXPECTED = 0.42
"""Evidence a boundary must show to pay for itself, as a share of a clear one's."""
_BARE = 0.36
"""Share of the beads' width below which the string is bare."""
_BARE_RUN_MM = 0.4
_END_COST, _END_COST_PER_BEAD = 0.3, 0.4
"""A stopper may have any length, but swallowing beads is not for free."""
_SCALLOPED = 0.05
_NOTCH, _ROUNDING = 0.16, 0.025
"""Between two touching rounds the width stays below `_BARE` over at most the first share of it; a
single end, with a usual drill hole, goes on for about the second beyond where it falls below `_BARE`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A piece of the strand between two boundaries, in mm along the axis from its first point."""

    start_mm: float
    end_mm: float

    @property
    def length_mm(self) -> float:
        """Length along the axis."""
        return self.end_mm - self.start_mm

    @property
    def middle_mm(self) -> float:
        """Middle along the axis."""
        return (self.start_mm + self.end_mm) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Partition:
    """The segments of a strand, in order.

    Attributes
    ----------
    segments : tuple of Segment
        Beads, and at the ends perhaps stoppers.
    ratio : float
        Length over width of the typical segment.
    clarity : ndarray, shape (len(segments) + 1,)
        Evidence of each boundary, about 1 where clear.
    margin : float
        How much better this ratio explains the evidence than the best clearly different one, per boundary.
    """

    segments: tuple[Segment, ...]
    ratio: float
    clarity: FloatArray
    margin: float


def partition(strip: Strip, width_mm: FloatArray, *, free_ends: bool) -> Partition | None:
    """Divide a strand into segments; None where there is nothing as thick as a bead.

    Parameters
    ----------
    strip : Strip
        On the beads' upper surface.
    width_mm : ndarray, shape (S,)
        Distance between the strand's sides.
    free_ends : bool
        True on a rod: the first and the last segment may be stoppers of any length.
    """
    width = ndimage.median_filter(width_mm, size=5)
    typical = float(np.percentile(width, 85))
    scalloped = float(np.percentile(_notches(width, typical), 80)) > _SCALLOPED
    notch = _NOTCH * typical if scalloped else 0.0
    rounding = _ROUNDING * typical if scalloped else 0.0
    runs = _runs(width > _BARE * typical, shortest=round((_BARE_RUN_MM + notch) / STEP_MM))
    runs = [(a, b) for a, b in runs if (b - a) * STEP_MM > 0.25 * typical]
    if not runs:
        return None
    evidence = _evidence(strip, width, typical)
    ratios = _SHORTEST * _RATIO_STEP ** np.arange(int(np.log(_LONGEST / _SHORTEST) / np.log(_RATIO_STEP)))
    grid = _Grid(ratios=ratios, stride=max(1, round(typical / 40 / STEP_MM)), typical=typical)
    fits = [
        grid.solve(evidence, reference, runs, free_ends=free_ends)
        for reference in (width, np.full_like(width, typical))
    ]
    total, cuts = max(fits, key=lambda fit: fit[0].max())
    best = int(np.argmax(total))
    segments, clarity = [], []
    for places in cuts:
        sharp = _sharpened(places[best], evidence)
        edges = sharp.astype(float) * STEP_MM
        edges[[0, -1]] += np.array([-1, 1]) * rounding * ratios[best]  # a rounded end goes on below the threshold
        edges = np.clip(edges, 0.0, (len(width) - 1) * STEP_MM)
        segments += [
            Segment(start_mm=float(i), end_mm=float(j)) for i, j in zip(edges[:-1], edges[1:], strict=True)
        ]
        clarity += [float(evidence[min(i, len(evidence) - 1)]) for i in sharp]
    other = np.abs(np.log(ratios / ratios[best])) > 0.25
    rival = max(float(fit[0][other].max()) for fit in fits)
    return Partition(
        segments=tuple(segments),
        ratio=float(ratios[best]),
        clarity=np.array(clarity),
        margin=(float(total[best]) - rival) / max(len(segments), 1),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """The ratios to try and the stride, in steps, at which boundaries are first placed."""

    ratios: FloatArray
    stride: int
    typical: float

    def solve(
        self, evidence: FloatArray, reference: FloatArray, runs: list[tuple[int, int]], *, free_ends: bool
    ) -> tuple[FloatArray, list[list[NDArray[np.int_]]]]:
        """Return for each ratio the score over all runs, and for each run and ratio its cuts."""
        total, cuts = np.zeros(len(self.ratios)), []
        for k, (start, end) in enumerate(runs):
            free = (free_ends and k == 0, free_ends and k == len(runs) - 1)
            piece = slice(start, end, self.stride)
            step = self.stride * STEP_MM
            score, places = _divide(
                evidence[piece], reference[piece], self.ratios, step_mm=step, typical=self.typical, free=free
            )
            total += score
            cuts.append([np.minimum(start + self.stride * np.array(p), end) for p in places])
        return total, cuts


def _runs(thick: NDArray[np.bool_], *, shortest: int) -> list[tuple[int, int]]:
    """Return [start, end) of the thick runs; thinner places shorter than `shortest` are notches."""
    filled = ndimage.binary_closing(np.pad(thick, shortest), np.ones(shortest))[shortest:-shortest] | thick
    edges = np.flatnonzero(np.diff(np.concatenate([[0], filled.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _evidence(strip: Strip, width: FloatArray, typical: float) -> FloatArray:
    """Return the evidence of a boundary at each step, shape (S,); about 1 where clear."""
    notch = _notches(width, typical)
    seam = _seams(strip, width, typical)
    depth = float(np.percentile(notch, 92))
    strength = float(np.percentile(seam, 95))
    trust = np.clip((depth - 0.04) / 0.12, 0.0, 1.0)  # notches of under 4 % of the width are noise
    notch_part = np.clip(notch / max(depth, 0.08), 0, 1.3)
    seam_part = np.clip(seam / max(strength, np.log(2.0)), 0, 1.3)
    weight = 0.15 + 0.65 * trust
    evidence: FloatArray = weight * notch_part + (1 - weight) * seam_part
    return evidence


def _notches(width: FloatArray, typical: float) -> FloatArray:
    """Return how far the width lies below the crests on both sides, as a share of the typical width."""
    reach = max(2, round(0.6 * typical / STEP_MM))
    left = ndimage.maximum_filter1d(width, reach, origin=(reach - 1) // 2, mode="nearest")
    right = ndimage.maximum_filter1d(width, reach, origin=-(reach // 2), mode="nearest")
    notch: FloatArray = (np.minimum(left, right) - width) / typical
    return notch


def _seams(strip: Strip, width: FloatArray, typical: float) -> FloatArray:
    """Return the log of the change along the string over that of its surroundings."""
    _, along, _ = colour_gradient(strip.rgb, sigma_cells=_SIGMA_MM / STEP_MM)
    inner = np.abs(strip.aside_mm)[:, None] < np.maximum(0.35 * width, 0.2 * typical)
    change = np.log1p(along)
    mean = (change * inner).sum(axis=0) / inner.sum(axis=0)
    mean = ndimage.gaussian_filter1d(mean, 1.0)
    level = ndimage.percentile_filter(mean, 40, size=2 * round(2.5 * typical / STEP_MM) + 1)
    seam: FloatArray = np.maximum(mean - level, 0)
    # two edges of one groove are one seam
    return ndimage.maximum_filter1d(seam, round(max(0.3, 0.05 * typical) / STEP_MM))


def _divide(
    evidence: FloatArray,
    width: FloatArray,
    ratios: FloatArray,
    *,
    step_mm: float,
    typical: float,
    free: tuple[bool, bool],
) -> tuple[FloatArray, list[list[int]]]:
    """Return for each ratio the best score and the places of its cuts (both ends included)."""
    steps = len(evidence)
    shortest = max(2, int(_SHORTEST * np.percentile(width, 30) / step_mm / 1.5))
    longest = min(steps, int(1.3 * ratios[-1] * width.max() / step_mm) + 1)
    lengths = np.arange(shortest, max(longest, shortest + 1) + 1)
    cost = _length_costs(width, lengths, ratios, step_mm)
    worth = evidence - _EXPECTED
    in_beads = (lengths * step_mm)[None] / (ratios[:, None] * typical)
    end_cost = _END_COST + _END_COST_PER_BEAD * np.maximum(in_beads - 1, 0)
    best = np.full((len(ratios), steps + 1), -np.inf)
    best[:, 0] = 0.0
    came = np.zeros((len(ratios), steps + 1), dtype=int)
    for end in range(shortest, steps + 1):
        usable = lengths[lengths <= end]
        before = best[:, end - usable]
        option = before - cost[:, : len(usable), end - 1]
        if free[0]:  # the piece from the very start may be a stopper
            whole = np.flatnonzero(usable == end)
            option[:, whole] = np.maximum(option[:, whole], -end_cost[:, whole])
        if free[1] and end == steps:
            option = np.maximum(option, before - end_cost[:, : len(usable)])
        choice = option.argmax(axis=1)
        gain = worth[end] if end < steps else 0.0
        best[:, end] = option[np.arange(len(ratios)), choice] + gain
        came[:, end] = usable[choice]
    return best[:, steps], [_backtrack(came[k], steps) for k in range(len(ratios))]


def _length_costs(width: FloatArray, lengths: FloatArray, ratios: FloatArray, step_mm: float) -> FloatArray:
    """Return the cost of a segment of each length ending at each step, shape (R, L, S), float32."""
    widest = np.empty((len(lengths), len(width)), dtype=np.float32)
    for k, length in enumerate(lengths):
        widest[k] = ndimage.maximum_filter1d(width, int(length), origin=(int(length) - 1) // 2, mode="nearest")
    log_shape = np.log((lengths * step_mm)[:, None] / widest).astype(np.float32)
    deviation = (log_shape[None] - np.log(ratios)[:, None, None].astype(np.float32)) / _LENGTH_SD
    cost: FloatArray = _LENGTH_COST * np.log1p(deviation * deviation)
    return cost


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
