"""What each cell of a top view shows."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray, Mask
from vision.topview.kinds import Kind
from vision.topview.region import SMALLEST_MM

BRIDGES = (Kind.STRING, Kind.FINDING, Kind.CHAIN)
"""What may lie between two parts of one strand."""
CLASPS = (Kind.FINDING, Kind.CHAIN)
"""What closes a loop."""
STEP_MM = SMALLEST_MM / 3
"""Between points of a way."""
SHOWN = 0.3
"""Where a string is more probable it is seen: a thread is as thin as a cell and shares it with the bed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What each cell of a top view shows.

    Attributes
    ----------
    kinds : ndarray, shape (9, H, W), float32
        Probability of each `Kind`; 1 in sum.
    bed : ndarray of bool, shape (H, W)
        Where parts may lie: the region of the bed that the photo shows.
    per_mm : float
        Cells a millimetre.
    origin_mm : tuple of float
        World (x, y) of the centre of cell (0, 0).
    """

    kinds: NDArray[np.float32]
    bed: Mask
    per_mm: float
    origin_mm: tuple[float, float]

    def chance(self, *kinds: Kind) -> NDArray[np.float32]:
        """Probability that a cell shows one of several kinds, shape (H, W)."""
        return np.asarray(sum(self.kinds[kind] for kind in kinds))

    def to_mm(self, cells: FloatArray) -> FloatArray:
        """Return world (x, y) of cell coordinates (x, y), shape (..., 2)."""
        return np.asarray(cells) / self.per_mm + np.array(self.origin_mm)

    def to_cells(self, points_mm: FloatArray) -> NDArray[np.intp]:
        """Return the nearest cells (x, y) of world (x, y), shape (..., 2), within the view."""
        cells = np.rint((np.asarray(points_mm) - np.array(self.origin_mm)) * self.per_mm).astype(np.intp)
        return np.clip(cells, 0, np.array(self.bed.shape[::-1]) - 1)
