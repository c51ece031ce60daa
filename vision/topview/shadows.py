"""How much one of two readings of a photo takes shadows, or the pattern of a cloth, for parts of beads.

What the sun casts lies to one side of all beads alike. So where one reading goes beyond the other all to one
side it is misled; where it does so to all sides it merely draws its outlines wider.
"""

import cv2
import numpy as np

from vision.common.records import Mask


def one_sidedness(wider: Mask, narrower: Mask) -> float:
    """Return how much what a reading has beyond another lies to one side, 0 to 1.

    This is the mean resultant length (Mardia and Jupp 2000) of the ways to these cells from the nearest one
    of the other reading, each weighted by its length. What touches no piece of the other does not count.

    Parameters
    ----------
    wider, narrower : ndarray of bool, shape (H, W)
        Cells of beads by either reading.

    Examples
    --------
    >>> bead, shadow = np.zeros((2, 20, 20), dtype=bool)
    >>> bead[5:10, 5:10] = shadow[5:10, 10:14] = True
    >>> round(one_sidedness(bead | shadow, bead), 2), round(one_sidedness(bead | shadow | shadow.T, bead), 2)
    (1.0, 0.71)
    """
    beyond = np.nonzero(wider & ~narrower & _joined(wider | narrower, to=narrower))
    if not len(beyond[0]):
        return 0.0
    nearest = cv2.distanceTransformWithLabels(
        (~narrower).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )[1]
    places = np.zeros((nearest.max() + 1, 2), np.float32)
    places[nearest[narrower]] = np.argwhere(narrower)
    ways = np.column_stack(beyond) - places[nearest[beyond]]
    return float(np.linalg.norm(ways.sum(axis=0)) / np.linalg.norm(ways, axis=1).sum())


def _joined(cells: Mask, *, to: Mask) -> Mask:
    """Return the connected regions of cells that hold any of others."""
    _, region = cv2.connectedComponents(cells.astype(np.uint8))
    holds = np.zeros(region.max() + 1, dtype=bool)
    holds[region[to]] = True
    return np.asarray(holds[region])
