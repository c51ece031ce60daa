"""Whether beads lie as on a string, or loose.

Most strung beads touch the next. Loose ones lie anywhere: a course through some leaves most beside it.
"""

import numpy as np

from vision.common.errors import LooseBeadsError
from vision.common.numerics import unit
from vision.common.records import FloatArray

_SHARPEST_DEG, _SHARP = 45.0, 0.1
"""A ring of eight beads turns so far at each. Beads of which more than this share turn farther, or lie beside
the row, follow no string."""
_TOUCHING = 0.25
"""A gap less than this share of a bead is none."""
FEWEST = 4
"""Fewer beads are no lot."""
_ROW = 6
"""So few loose beads may lie in a row by chance."""


def looks_loose(along_mm: FloatArray, gaps_mm: FloatArray, *, seen_beside: int) -> bool:
    """Return whether beads that were taken for a strand lie loose.

    Parameters
    ----------
    along_mm : ndarray, shape (B,)
        Length of each bead.
    gaps_mm : ndarray, shape (B - 1,)
        Free space from each to the next.
    seen_beside : int
        Beads that surely lie off the course.
    """
    touching = np.mean(gaps_mm < _TOUCHING * np.median(along_mm)) if len(gaps_mm) else 0.0
    return seen_beside > len(along_mm) and bool(touching < 1 / 2)


def loose_beads(count: int) -> LooseBeadsError:
    """Return what to say where so many beads are seen, and no strand."""
    return LooseBeadsError(
        f"{count} beads lie here, but not one after the other as on a string: measure loose beads with "
        "`strandgauge lot`, or lay the strand alone and in a smooth curve"
    )


def looks_strung(middles_mm: FloatArray, lengths_mm: FloatArray) -> bool:
    """Return whether loose beads lie as on a string: nearly all in one row, each touching the next.

    Parameters
    ----------
    middles_mm : ndarray, shape (B, 2)
        World (x, y) of the beads.
    lengths_mm : ndarray, shape (B,)
        Largest size of each.
    """
    if len(middles_mm) < _ROW:
        return False
    apart = np.linalg.norm(middles_mm[:, None] - middles_mm[None], axis=2)
    touch = apart < (1 + _TOUCHING) * (lengths_mm[:, None] + lengths_mm[None]) / 2
    np.fill_diagonal(touch, False)  # noqa: FBT003 - numpy's own
    return _one_row(middles_mm, touch)


def _one_row(middles_mm: FloatArray, touch: FloatArray) -> bool:
    """Return whether nearly all beads have two neighbours, one on either side of them, but for two ends."""
    inner, opposite = 0, -np.cos(np.radians(_SHARPEST_DEG))
    for bead, beside in enumerate(touch):
        ways = unit(middles_mm[beside] - middles_mm[bead])
        inner += len(ways) == 2 and float(ways[0] @ ways[1]) < opposite
    return inner >= (1 - _SHARP) * len(touch) - 2
