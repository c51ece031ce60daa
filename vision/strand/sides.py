"""The two sides of a straightened strand: where, at each step along it, bead gives way to bed.

They come from maps that say how likely each cell shows a bead. How far they reach at the widest place of a
bead, its crest, is read off them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.records import FloatArray
from vision.strand.axis import STEP_MM, WAVE, Axis, smooth_axis
from vision.strand.strip import Segment

_CREST_TRIM, _CREST_MM = 0.1, 0.15
"""The crest of a side is what lies no further inside than this, between tenths of the bead from either end.
At half 22 more beads are flagged."""
_SMOOTH_MM = 0.12
"""Width of the Gaussian that smooths a side before its top is read."""
_SAG, _ENDS_MM, _EVERY = 0.3, 9.0, 3
"""How the middle between sides is smoothed: half widths by which a rod may seem to sag; straight
continuation; steps between points."""
_BEAD, _WIDE_PERCENTILE, _PERCENTILE = 0.6, 90, 97
"""Beads, not string, are wider than this share of a percentile of widths; the widest are at the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """Sides of a strand.

    Attributes
    ----------
    left_mm, right_mm : ndarray, shape (S,)
        Distance of either side from the string (left negative).
    """

    left_mm: FloatArray
    right_mm: FloatArray

    @property
    def width_mm(self) -> FloatArray:
        """Distance between the sides, shape (S,)."""
        return self.right_mm - self.left_mm

    @property
    def middle_mm(self) -> FloatArray:
        """Distance of the middle between the sides from the string, shape (S,)."""
        return (self.left_mm + self.right_mm) / 2

    def crests(self, segments: list[Segment]) -> tuple[list["Crest"], list["Crest"]]:
        """Return the crests of the left and of the right side of each segment."""
        left = [Crest.of(-self.left_mm, segment, sign=-1.0) for segment in segments]
        return left, [Crest.of(self.right_mm, segment, sign=1.0) for segment in segments]


def sides_of(likely: FloatArray) -> Sides:
    """Return the sides of what shows from the middle of a strip outwards without a break.

    `likely`, shape (T, S), is how likely each cell shows it.
    """
    middle = len(likely) // 2
    halves = (np.minimum.accumulate(half, axis=0) for half in (likely[middle::-1], likely[middle:]))
    left, right = ((half.sum(axis=0) - half[0] / 2) * STEP_MM for half in halves)
    return Sides(left_mm=-left, right_mm=right)


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
        line = ndimage.gaussian_filter1d(outward_mm[columns], _SMOOTH_MM / STEP_MM, mode="nearest")
        top = int(np.argmax(line))
        stretches, _ = ndimage.label(line > line[top] - _CREST_MM)
        near = stretches == stretches[top]
        return cls(
            sign=sign,
            columns=columns[near],
            line_mm=line[near],
            top_mm=float(line[top]),
            at_mm=float(columns[near].mean() * STEP_MM),
        )


def profiles(picture: FloatArray, crests: list[Crest], offsets_mm: FloatArray) -> FloatArray:
    """Return the mean of a picture (T, S) along lines so far outside each crest, (K,) to (crests, K)."""
    # all crests at once: calls would be most of the time
    aside = np.hstack([crest.sign * (crest.line_mm + offsets_mm[:, None]) for crest in crests])
    columns = np.broadcast_to(np.hstack([crest.columns for crest in crests]), aside.shape)
    rows = len(picture) // 2 + aside / STEP_MM
    seen = ndimage.map_coordinates(picture, [rows, columns], order=1, mode="nearest")
    ends = np.cumsum([len(crest.columns) for crest in crests])
    return np.array([part.mean(axis=1) for part in np.split(seen, ends[:-1], axis=1)], dtype=float)


def recentred(axis: Axis, sides: Sides, *, held_mm: tuple[float, float]) -> tuple[Axis, float]:
    """Return the axis moved to the middle between the sides, and half the width of the widest beads.

    Between its ends `held_mm` beads lie for all that is known. What is narrow there beyond all wide beads, as
    the ends of a graduated strand are, shows where a wire runs on; that of a rod is known. Where no more than
    a point shows two sides the axis stays as it is, and the width is 0.
    """
    width, steps = sides.width_mm, np.arange(len(sides.width_mm))
    wide = width > _BEAD * np.percentile(width, _WIDE_PERCENTILE)
    if np.count_nonzero(wide) <= _EVERY:
        return axis, 0.0
    half = float(np.percentile(width[wide], _PERCENTILE) / 2)
    middle = axis.at(steps * STEP_MM, sides.middle_mm)
    moved = _through(middle[wide], half)
    first, last = np.flatnonzero(wide)[[0, -1]]
    held = (steps * STEP_MM >= held_mm[0]) & (steps * STEP_MM <= held_mm[1])
    beyond = held & ((steps < first) | (steps > last))
    if beyond.any() and not moved.straight:
        moved = _through(middle[wide | beyond], half)
    return moved, half


def _through(middle_mm: FloatArray, half_mm: float) -> Axis:
    """Return the axis through middles, shape (N, 2), of beads of half a width."""
    return smooth_axis(
        middle_mm[::_EVERY],
        wavelength_mm=WAVE * half_mm,
        straight_within_mm=_SAG * half_mm,
        extend_mm=_ENDS_MM,
    )
