"""Strands of rounds: a shape of known proportion helps where the sides are hardly seen.

A round is a sphere of diameter d with a hole of diameter h drilled through it; along the string it
measures sqrt(d^2 - h^2) (closed form: the hole's rim lies that far apart), as the hole takes its caps off.
Along the string the period of many beads tells sizes well even where coatings and polished metal hide the
sides. A strand whose proportion comes out within its doubt of a round's is taken for one, the doubt of
either weighed against the other; one whose sides are clear is thus left as it is measured.
"""

from dataclasses import replace

import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.strand.width import Sizes

_HOLES = (0.125, 0.24)
"""Hole over diameter: 1 mm in 8 mm, and in 4 mm (common practice, no source)."""
_LEAST, _MOST = (float(1 / np.sqrt(1 - hole**2)) for hole in _HOLES)
_REL_U = 0.013
"""Standard uncertainty of a round's proportion, and of what both ends of its hole are seen at."""
_WITHIN = 2.5
_FACETED = 1.1
"""What is cut with facets is wider than a round by at least this; nearer to it than to a round is none."""
_UNEVEN = 0.04
"""Where proportions scatter more than this, beads are no rounds."""
_FEWEST = 4


def settle_rounds(across: Sizes, along_mm: FloatArray) -> Sizes:
    """Return the sizes across of a strand that may be of rounds.

    Their uncertainty stays what the sides leave: the strand may be of no rounds after all.

    Parameters
    ----------
    across : Sizes
        As measured; their uncertainty leaves out that of the scale, which lengths owe just as much.
    along_mm : ndarray, shape (B,)
    """
    proportions = across.mm / along_mm
    middle = float(np.median(proportions))
    off = np.log(middle / np.clip(middle, _LEAST, _MOST))
    u = float(np.median(across.u_mm / across.mm))
    uneven = robust_sd(proportions / middle, about=1.0) > _UNEVEN
    unlike = abs(off) > _WITHIN * np.hypot(u, _REL_U) or middle > np.sqrt(_FACETED * _MOST)
    if len(along_mm) < _FEWEST or uneven or unlike:
        return across
    trust = u**2 / (u**2 + _REL_U**2)
    return replace(across, mm=across.mm * np.exp(-trust * off))
