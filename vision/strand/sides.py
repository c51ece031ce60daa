"""The two sides of a straightened strand: where, at each step along it, bead gives way to bed.

A side is the smooth line that best divides what looks like bead from what looks like bed (`evidence`) and
runs along sharp changes: the path of the greatest sum of evidence, found by dynamic programming (Viterbi
1967).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.records import FloatArray
from vision.image.gradient import Image
from vision.strand.axis import STEP_MM, Axis, smooth_axis
from vision.strand.evidence import Appearance
from vision.strand.strip import Segment, Strip

_SURE_BED, _SURE_BED_MM = 1.25, 1.0
"""Beyond so many half widths and a millimetre more there is bed only."""
_BEYOND_MM = 0.25
"""What lies beyond the widest side allowed loses one log likelihood each such distance."""
_CORE = 0.7
"""Share of the half width that surely shows bead, where there is one. At half and at double 3 to 5 more beads
are flagged of 89."""
_MARGIN_MM = 0.3
"""What bead and bed look like is learnt again so far inside the sides, and twice as far outside."""
_CELL_WEIGHT = 0.3
"""Neighbouring cells are not independent: each counts for this much of its likelihood ratio. At half 9 fewer
beads are flagged, at double a count and 15 more."""
_EDGE_WEIGHT, _MOST_EDGE = 2.5, 8.0
"""What an edge counts for, by the logarithm of its strength, up to the second. At half a count and 25 more
beads are flagged."""
_STEEPEST = 3
"""Cells that a side may move per step along: 72 degrees. At half a count and 4 more beads are flagged."""
_BEND_COST = 0.25
"""Price of each such cell. Half or double: last digits."""
_STEADY_COURSE_MM = 40.0
"""The string's course bends less than the sides of a few beads jump within this length."""
_LOPSIDED = 1.15
"""Sides farther from the middle than this many times the other one's distance are not a bead's. At half one
count is lost and 11 of 28 are flagged."""
_CREST_TRIM, _CREST_MM = 0.1, 0.15
"""The crest of a side is what lies no further inside than this, between tenths of the bead from either end.
At half 22 more beads are flagged."""
_STEADY_MM, _SMOOTH_MM = 0.5, 0.12
"""Window of the median and width of the Gaussian that smooth a side before its top is read."""
_WAVE_MM, _SAG, _ENDS_MM, _EVERY = 25.0, 0.3, 9.0, 3
"""How the middle between sides is smoothed: waves shorter than three beads are not the string's; half widths
by which a rod may seem to sag; straight continuation; steps between points."""
_BEAD, _WIDE_PERCENTILE, _PERCENTILE = 0.6, 90, 97
"""Beads, not string, are wider than this share of a percentile of widths; the widest are at the other."""
_GABLE, _RIDGE_STEPS = 0.6, 3.5
"""A gable must leave this share of an arch's misfit, its ridge fewer steps than this from the smooth top.
Half or double: last digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Sides of a strand, and what it looks like.

    Attributes
    ----------
    left_mm, right_mm : ndarray, shape (S,)
        Distance of either side from the string (left negative).
    appearance : Appearance
        Of each cell of the strip.
    moved_mm : ndarray, shape (S,)
        How far both sides were moved outwards where polished beads mirror the bed (see `outlines`).
    """

    left_mm: FloatArray
    right_mm: FloatArray
    appearance: Appearance
    moved_mm: FloatArray

    @property
    def width_mm(self) -> FloatArray:
        """Distance between the sides, shape (S,)."""
        return self.right_mm - self.left_mm

    @property
    def middle_mm(self) -> FloatArray:
        """Distance of the middle between the sides from the string, shape (S,)."""
        return (self.left_mm + self.right_mm) / 2

    @property
    def half_width_mm(self) -> FloatArray:
        """Half the width, shape (S,); a bulge on one side alone, of shadow or bed, counts little."""
        span = round(_STEADY_COURSE_MM / STEP_MM)
        middle = ndimage.median_filter(self.middle_mm, span, mode="nearest")
        narrower = np.minimum(middle - self.left_mm, self.right_mm - middle)
        return np.minimum(self.width_mm / 2, _LOPSIDED * narrower)

    def crests(self, segments: list[Segment]) -> tuple[list["Crest"], list["Crest"]]:
        """Return the crests of the left and of the right side of each segment."""
        left = [Crest.of(-self.left_mm, segment, sign=-1.0) for segment in segments]
        return left, [Crest.of(self.right_mm, segment, sign=1.0) for segment in segments]


def find_sides(strip: Strip, inside: Image, *, half_mm: float, widest: float) -> Sides:
    """Find both sides of a strand of about `half_mm` half width; none lies beyond `widest` times that.

    `inside`, shape (T, S), is how likely each cell of the strip shows a bead.
    """
    away = np.abs(strip.aside_mm)
    outside = away > _SURE_BED * half_mm + _SURE_BED_MM
    appearance = Appearance.of(strip, inside, outside=outside)
    too_far = np.maximum(away - widest * half_mm, 0.0)[:, None] / _BEYOND_MM
    core = np.broadcast_to((away < _CORE * half_mm)[:, None], inside.shape)
    odds = appearance.odds(core, np.broadcast_to(outside[:, None], inside.shape)) - too_far
    left, right = _side_rows(odds, appearance.gradient)
    rows, margin = np.arange(len(away))[:, None], round(_MARGIN_MM / STEP_MM)
    bead = core & (rows > left + margin) & (rows < right - margin)
    bed = (rows < left - 2 * margin) | (rows > right + 2 * margin)
    odds = appearance.odds(bead, bed) - too_far
    left_mm, right_mm = ((side - len(odds) // 2) * STEP_MM for side in _side_rows(odds, appearance.gradient))
    nowhere = np.zeros(len(left_mm))
    return Sides(left_mm=left_mm, right_mm=right_mm, appearance=appearance, moved_mm=nowhere)


def _side_rows(odds: Image, gradient: Image) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the rows of the left (upper) and the right (lower) side at each step, two (S,) arrays.

    `odds` and `gradient`, shape (T, S): log likelihood ratio of bead against bed, and how sharply the picture
    changes.
    """
    middle = len(odds) // 2
    edge = _EDGE_WEIGHT * np.log1p(np.minimum(gradient, _MOST_EDGE))
    halves, edges = (np.stack([cells[middle::-1], cells[middle:]]) for cells in (odds, edge))
    paths = _best_paths(_CELL_WEIGHT * (np.cumsum(halves, axis=1) - halves / 2) + edges)
    return middle - paths[0], middle + paths[1]


def _best_paths(score: Image) -> NDArray[np.intp]:
    """Return for each (T, S) score the row path of the greatest sum, steps limited, shape (K, S)."""
    count, rows, steps = score.shape
    cost = (_BEND_COST * np.abs(np.arange(-_STEEPEST, _STEEPEST + 1))).astype(np.float32)[:, None]
    by_step, inner = score.transpose(2, 0, 1).astype(np.float32), slice(_STEEPEST, -_STEEPEST)
    beside = (0, 0), (0, 0), (_STEEPEST, _STEEPEST)
    added = np.pad(by_step, beside, constant_values=-np.inf).reshape(steps, -1)[:, inner]
    # all sides lie in one row: this loop is most of the work, and calls are most of its time
    best = np.full((steps, count * (rows + 2 * _STEEPEST)), -np.inf, dtype=np.float32)
    sums = best[:, inner]
    reached = np.lib.stride_tricks.sliding_window_view(best, sums.shape[1], axis=1)
    sums[0] = added[0]
    options = np.empty(reached.shape[1:], dtype=np.float32)
    for before, more, here in zip(reached[:-1], added[1:], sums[1:], strict=True):
        np.subtract(before, cost, out=options)
        np.maximum.reduce(options, axis=0, out=here)
        np.add(here, more, out=here)
    starts = np.arange(count) * (rows + 2 * _STEEPEST)
    paths = [starts + [sums[-1, at : at + rows].argmax() for at in starts]]
    for before in reached[-2::-1]:
        paths.append(paths[-1] + (before[:, paths[-1]] - cost).argmax(axis=0) - _STEEPEST)
    return np.stack(paths[::-1], axis=1) - starts[:, None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crest:
    """The stretch of a side about its outermost place.

    Attributes
    ----------
    sign : float
        -1 on the left side, 1 on the right.
    columns : ndarray of int, shape (C,)
        Steps along the string.
    line_mm : ndarray, shape (C,)
        The side, smoothed, outwards positive.
    top_mm, at_mm : float
        How far out it reaches, and where along the string.
    """

    sign: float
    columns: NDArray[np.intp]
    line_mm: FloatArray
    top_mm: float
    at_mm: float

    @classmethod
    def of(cls, outward_mm: FloatArray, segment: Segment, *, sign: float) -> "Crest":
        """Find the crest of a side, outwards positive, of shape (S,), within a segment."""
        inner = segment.steps(trim=_CREST_TRIM)
        columns = np.arange(inner.start, min(max(inner.stop + 1, inner.start + 3), len(outward_mm)))
        outward = outward_mm[columns]
        steady = ndimage.median_filter(outward, round(_STEADY_MM / STEP_MM), mode="nearest")
        line = ndimage.gaussian_filter1d(steady, _SMOOTH_MM / STEP_MM, mode="nearest")
        top = int(np.argmax(line))
        stretches, _ = ndimage.label(line > line[top] - _CREST_MM)
        near = stretches == stretches[top]
        # a straight side between two steps of the strip flickers between them, and its top is no top
        flat = np.ptp(line[near]) <= STEP_MM
        return cls(
            sign=sign,
            columns=columns[near],
            line_mm=line[near],
            top_mm=float(line[near].mean()) if flat else _apex(outward, line, top),
            at_mm=float(columns[near].mean() * STEP_MM),
        )


def profiles(picture: Image, crests: list[Crest], offsets_mm: list[FloatArray]) -> list[FloatArray]:
    """Return the mean of a picture (T, S) along lines so far outside each crest, (K,) for each."""
    rows = [
        len(picture) // 2 + crest.sign * (crest.line_mm + offsets[:, None]) / STEP_MM
        for crest, offsets in zip(crests, offsets_mm, strict=True)
    ]
    columns = [np.broadcast_to(crest.columns, at.shape) for crest, at in zip(crests, rows, strict=True)]
    # all crests at once: calls would be most of the time
    places = [np.concatenate([at.ravel() for at in each]) for each in (rows, columns)]
    seen = ndimage.map_coordinates(picture, places, order=1, mode="nearest")
    ends = np.cumsum([at.size for at in rows])
    parts = zip(np.split(seen, ends[:-1]), rows, strict=True)
    return [part.reshape(at.shape).mean(axis=1) for part, at in parts]


def _apex(outward: FloatArray, line: FloatArray, top: int) -> float:
    """Return the height of a side's top: that of the smooth line, or where two straight flanks meet.

    Smoothing takes the tip off a bicone; where a gable fits clearly better than an arch, the gable's
    ridge is the top.
    """
    reach = max(3, len(outward) // 4)
    near = np.arange(max(0, top - reach), min(len(outward), top + reach + 1))
    y = outward[near]
    arch_misfit = float(np.linalg.lstsq(np.vander(near - top, 3).astype(float), y, rcond=None)[1].sum())
    peaks = top + np.arange(0.5 - _RIDGE_STEPS, _RIDGE_STEPS, 0.5)
    away = np.abs(near - peaks[:, None])
    off = away - away.mean(axis=1, keepdims=True)
    slopes = -(off @ (y - y.mean())) / (off**2).sum(axis=1)
    heights = y.mean() + slopes * away.mean(axis=1)
    misfits = ((y - heights[:, None] + slopes[:, None] * away) ** 2).sum(axis=1)
    misfits[slopes * reach <= 2 * _CREST_MM] = np.inf
    best = int(np.argmin(misfits))
    return float(heights[best] if misfits[best] < _GABLE * arch_misfit else line[top])


def recentred(axis: Axis, sides: Sides) -> tuple[Axis, float]:
    """Return the axis moved to the middle between the sides, and half the width of the widest beads."""
    width = sides.width_mm
    thick = width > _BEAD * np.percentile(width, _WIDE_PERCENTILE)
    half = float(np.percentile(sides.half_width_mm[thick], _PERCENTILE))
    middle = axis.at(np.arange(len(width)) * STEP_MM, sides.middle_mm)[thick]
    moved = smooth_axis(
        middle[::_EVERY],
        wavelength_mm=_WAVE_MM,
        straight_within_mm=_SAG * half,
        extend_mm=_ENDS_MM,
    )
    return moved, half
