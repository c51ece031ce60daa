"""The cells of the top view that show one bead."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray, Mask

SMALLEST_MM = 1.5
"""Nothing narrower is taken for a bead. No difference at half; at double a count of 46 is lost."""
PROBABLE = 0.5
"""What has a higher probability is rather so than not."""
SEVERAL = 4.0
"""In areas of usual beads, of what lies over some: a finger, 16 mm wide, covers more of beads below 8 mm; a
focal bead is rarely more than half as large again as the rest, 2.3 (common practice, no source)."""
SURE = 0.75
"""What has this probability surely is a bead. Of drawn beads one in a thousand lies below 0.66. At half 2 %
fewer flags are set."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fragment:
    """The cells of one bead.

    Attributes
    ----------
    mask : ndarray of bool, shape (h, w)
    corner : tuple of int
        (column, row) of the mask's first cell in the top view.
    probability : float
        That they are a bead's.
    one : float
        Probability that they are exactly one bead, by their looks alone.
    divided : bool
        Poorly separated from a neighbour.
    under, over : bool
        Another bead lies on it; it lies on another.
    """

    mask: Mask
    corner: tuple[int, int]
    probability: float = 1.0
    one: float = 1.0
    divided: bool = False
    under: bool = False
    over: bool = False

    @property
    def unsure(self) -> bool:
        """Whether it is poorly separated from a neighbour, or perhaps not a bead."""
        return self.divided or self.probability < SURE

    @property
    def hull(self) -> FloatArray:
        """Convex hull of the cells, shape (N, 2), (x, y) in cells of the top view."""
        hull: FloatArray = _hull(self.mask)[:, 0].astype(float) + np.array(self.corner)
        return hull

    @property
    def filled(self) -> Mask:
        """Which cells of its window lie within its convex hull, shape (h, w)."""
        cells = np.zeros(self.mask.shape, np.uint8)
        return cv2.fillConvexPoly(cells, _hull(self.mask), 1) > 0

    @property
    def area(self) -> int:
        """Number of cells."""
        return int(self.mask.sum())

    @property
    def diameter(self) -> float:
        """Diameter of the circle of its area, in cells."""
        return 2 * math.sqrt(self.area / math.pi)


def _hull(mask: Mask) -> NDArray[np.int32]:
    """Return the convex hull of a mask, shape (N, 1, 2)."""
    return np.asarray(cv2.convexHull(cv2.findNonZero(mask.astype(np.uint8))), dtype=np.int32)


def connected_regions(mask: Mask, *, least: float) -> list[Fragment]:
    """Return the connected regions of more than `least` cells."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    found = []
    for k in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[k])
        if area > least:
            found.append(Fragment(mask=labels[y : y + h, x : x + w] == k, corner=(x, y)))
    return found


def window(part: Fragment) -> tuple[slice, slice]:
    """Return the rows and columns of the top view that a fragment's mask covers.

    Examples
    --------
    >>> window(Fragment(mask=np.ones((2, 3), dtype=bool), corner=(10, 20)))
    (slice(20, 22, None), slice(10, 13, None))
    """
    (x, y), (h, w) = part.corner, part.mask.shape
    return slice(y, y + h), slice(x, x + w)


def mean_over(part: Fragment, layers: FloatArray) -> FloatArray:
    """Return the means of layers of a top view, (L, H, W), over the cells of a fragment, shape (L,)."""
    return np.asarray(layers[(slice(None), *window(part))][:, part.mask].mean(axis=1))


def owners(parts: Iterable[Fragment], shape: tuple[int, ...]) -> NDArray[np.uint16]:
    """Return the number, from 1, of the part that each cell of a view (H, W) shows; 0: of none."""
    owner = np.zeros(shape, np.uint16)
    for number, part in enumerate(parts, start=1):
        owner[window(part)][part.mask] = number
    return owner


def cells_of(parts: Iterable[Fragment], shape: tuple[int, ...]) -> Mask:
    """Return which cells of a view (H, W) show any of some parts."""
    return owners(parts, shape) > 0


def disc(radius: float) -> NDArray[np.uint8]:
    """Return a round structuring element whose radius is at least one cell.

    Examples
    --------
    >>> disc(1).tolist()
    [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    """
    reach = max(1, round(radius))
    y, x = np.ogrid[-reach : reach + 1, -reach : reach + 1]
    return (x * x + y * y <= reach * reach + 0.5).astype(np.uint8)
