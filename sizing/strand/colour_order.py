"""Order of the colours on a strand: a repeat, symmetric about the centre, or none.

Beads of one size may have several colours, and removing one bead from the end would break their order.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common.records import StrandBead

_LIGHTNESS_SHARE = 0.5
"""Differences in lightness count half: light falls unevenly, and a shaded bead has no other colour."""
_APART = 12.0
"""CIELAB distance at which two colours are different; from one bead to the most similar of its colour it is
less (common practice, no source: the colours of a photo are wrong by several units)."""
_FEWEST = 4  # the shortest order there is: two repeats of two beads


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourOrder:
    """The order of the colours on a strand.

    Attributes
    ----------
    repeat : int
        Beads in the shortest repeat, found at least twice; 0 if there is none.
    symmetric : bool
        Whether they read the same from both ends.
    """

    repeat: int
    symmetric: bool


def colour_order(beads: Sequence[StrandBead]) -> ColourOrder | None:
    """Find the order in the colours of a strand's beads; None if there is one colour or no order.

    Examples
    --------
    >>> from tests.helpers.strands import make_strand
    >>> blue, white = (40, 60, 140), (225, 220, 210)
    >>> colour_order(make_strand([6.0] * 12, colours=[blue, blue, white]).beads)
    ColourOrder(repeat=3, symmetric=False)
    """
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
    """Return a number for the colour of each bead, shape (N,): what small steps in CIELAB link is one."""
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415 - takes its time to import
    from skimage.color import rgb2lab  # noqa: PLC0415

    lab = rgb2lab(np.array([bead.colour_rgb for bead in beads], dtype=float) / 255)
    lab[:, 0] *= _LIGHTNESS_SHARE
    alike = np.linalg.norm(lab[:, None] - lab, axis=2) <= _APART
    groups: NDArray[np.int_] = connected_components(alike)[1]
    return groups
