"""A piece of a strand between two boundaries, and its width."""

from dataclasses import dataclass

import numpy as np

from vision.common.records import FloatArray
from vision.strand.axis import STEP_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A piece of the strand between two boundaries, in mm along the axis from its first point.

    `clarity` is the evidence, about 1 where clear, of the weaker of its boundaries with neighbours.
    """

    start_mm: float
    end_mm: float
    clarity: float = 1.0

    @property
    def length_mm(self) -> float:
        """Length along the axis."""
        return self.end_mm - self.start_mm

    @property
    def middle_mm(self) -> float:
        """Middle along the axis."""
        return (self.start_mm + self.end_mm) / 2


def middle_width(width_mm: FloatArray, segment: Segment) -> float:
    """Return the median width, mm, of the middle half of a segment, of widths at each step, shape (S,)."""
    trim = 0.25 * segment.length_mm
    first, last = round((segment.start_mm + trim) / STEP_MM), round((segment.end_mm - trim) / STEP_MM)
    return float(np.median(width_mm[max(first, 0) : max(last, first + 1)]))
