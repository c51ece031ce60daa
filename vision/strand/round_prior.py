"""Strands of rounds: a shape of known proportion helps where the sides are poorly seen.

A round is a sphere of diameter d with a hole of diameter h drilled through it; along the string it
measures sqrt(d^2 - h^2) (closed form: the hole's rims lie that far apart), as the hole takes its caps off.
Along the string the period of many beads gives their size well, even where coatings and polished metal hide
the sides. A strand whose proportion is a round's within its uncertainty is taken for one, both weighted by
their uncertainties; so one whose sides are clear is left as it is measured.
"""

from dataclasses import replace

import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.strand.width import Sizes

_HOLES = (0.125, 0.24)
"""Hole over diameter: 1 mm in 8 mm, and in 4 mm (common practice, no source)."""
_LEAST, _MOST = (float(1 / np.sqrt(1 - hole**2)) for hole in _HOLES)
"""Diameter over length."""
_REL_U = 0.013
"""Standard uncertainty of a round's proportion and of where its hole ends. Half or double: last digits."""
_WITHIN = 2.5
"""Standard uncertainties within which a proportion may be a round's: 99 in 100."""
_FACETED = 1.1
"""What is cut with facets is wider than a round by at least this; what is nearer to it than to a round is
none. At half of it the median error of sizes goes from 0.032 to 0.034 mm."""
_UNEVEN, _FEWEST = 0.04, 4
"""Where proportions scatter more, beads are no rounds; of fewer beads the scatter is unknown."""


def as_rounds(across: Sizes, along_mm: FloatArray) -> Sizes:
    """Return the sizes across of a strand, drawn towards the proportion of rounds if they may be rounds.

    Their uncertainty stays what the sides leave: the strand may be of no rounds after all.

    Parameters
    ----------
    across : Sizes
        As measured; their uncertainty leaves out that of the scale, which lengths owe just as much.
    along_mm : ndarray, shape (B,)

    Examples
    --------
    An 8 mm round with a hole of 1 mm measures sqrt(64 - 1) = 7.937 mm along. Measured 7.8 mm across, give or
    take 0.4, it is taken for a round:

    >>> seen = Sizes(mm=np.full(10, 7.8), u_mm=np.full(10, 0.2))
    >>> round(float(as_rounds(seen, np.full(10, 7.937)).mm[0]), 2)
    7.96
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
