"""What order a strand's colours have: a repeat, a mirror about the centre, or none.

Beads of one size may come in several colours, and a maker who takes one off the end of a repeat breaks it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import fcluster, linkage
from skimage.color import rgb2lab

from vision.common.records import StrandBead

_LIGHTNESS_SHARE = 0.5
"""Of a difference in lightness: light falls unevenly, and a bead's shaded side is no other colour."""
_APART = 12.0
"""CIELAB distance between two colours; among beads of one colour, next to next, it is less (common practice,
no source: a photo's colours are out by several units)."""
_FEWEST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourOrder:
    """The order of a strand's colours.

    Attributes
    ----------
    repeat : int
        Beads in the shortest repeat that is seen at least twice; 0 for none.
    symmetric : bool
        They read the same from both ends.
    """

    repeat: int
    symmetric: bool


def colour_order(beads: Sequence[StrandBead]) -> ColourOrder | None:
    """Find the order in the colours of a strand's beads; None where there is one colour, or no order."""
    if len(beads) < _FEWEST:
        return None
    kinds = _kinds(beads)
    n = len(kinds)
    if len(set(kinds)) == 1:
        return None
    repeat = next((p for p in range(2, n // 2 + 1) if (kinds[p:] == kinds[:-p]).all()), 0)
    symmetric = bool((kinds == kinds[::-1]).all())
    return ColourOrder(repeat=repeat, symmetric=symmetric) if repeat or symmetric else None


def _kinds(beads: Sequence[StrandBead]) -> NDArray[np.int_]:
    """Return a number for the colour of each bead, shape (N,): groups that lie apart (single linkage)."""
    lab = rgb2lab(np.array([bead.colour_rgb for bead in beads], dtype=float) / 255)
    lab[:, 0] *= _LIGHTNESS_SHARE
    groups: NDArray[np.int_] = fcluster(linkage(lab, "single"), _APART, criterion="distance")
    return groups
