"""The kinds of beads on a mixed strand, formed from their sizes along the string and across it."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sizing.lot.classes import USUAL_ROUNDS_MM
from sizing.lot.groups import natural_limits
from vision.common.numerics import COVERAGE_FACTOR, without_scale
from vision.common.records import FloatArray

# Strands sold as 8 mm span 7.5 to 8.4 mm (common practice, no source); wider groups are several kinds.
_ONE_KIND_SHARE = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Sizes of beads in order along the string.

    Attributes
    ----------
    along_mm, across_mm : ndarray, shape (N,)
    along_u95_mm, across_u95_mm : ndarray, shape (N,)
        Expanded uncertainties (k = 2), scale included.
    scale_rel_u : float
        Relative standard uncertainty of the scale, which all of them share.
    """

    along_mm: FloatArray
    across_mm: FloatArray
    along_u95_mm: FloatArray
    across_u95_mm: FloatArray
    scale_rel_u: float


def kinds_of(sizes: Measured) -> NDArray[np.intp]:
    """Return the kind of each bead as two numbers, shape (N, 2): its group along the string and across it.

    Groups are the natural ones. Sizes that run on without a gap, as on a graduated strand, are divided
    midway between the usual sizes.

    Examples
    --------
    Spacers 2 mm long are as thick as the rounds of 6 mm beside them:

    >>> along, u95 = np.array([6.0, 2.0, 6.1, 2.1, 6.0, 2.0]), np.full(6, 0.1)
    >>> across = np.full(6, 6.0)
    >>> kinds_of(
    ...     Measured(along_mm=along, across_mm=across, along_u95_mm=u95, across_u95_mm=u95, scale_rel_u=0.0)
    ... ).tolist()
    [[1, 0], [0, 0], [1, 0], [0, 0], [1, 0], [0, 0]]
    """
    return np.stack(
        [
            _groups(size_mm, u95_mm, scale_rel_u=sizes.scale_rel_u)
            for size_mm, u95_mm in (
                (sizes.along_mm, sizes.along_u95_mm),
                (sizes.across_mm, sizes.across_u95_mm),
            )
        ],
        axis=1,
    )


def _groups(size_mm: FloatArray, u95_mm: FloatArray, *, scale_rel_u: float) -> NDArray[np.intp]:
    own_u_mm = without_scale(u95_mm / COVERAGE_FACTOR, size_mm, scale_rel_u=scale_rel_u)
    groups = np.digitize(size_mm, natural_limits(size_mm, own_u_mm))
    runs_on = any(_spread(size_mm[groups == group]) > _ONE_KIND_SHARE for group in np.unique(groups))
    return np.digitize(size_mm, [(a + b) / 2 for a, b in pairwise(USUAL_ROUNDS_MM)]) if runs_on else groups


def _spread(size_mm: FloatArray) -> float:
    """Return the range of some sizes as a share of their median."""
    return float(np.ptp(size_mm) / np.median(size_mm))
