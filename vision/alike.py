"""The beads of a lot are mostly of one shape, and the ones seen well tell it of those seen in part.

Where a stretch of the outline is not seen, an edge inside it (a reflection, a band of colour) may be
taken for it: the bead then looks narrower than it is, one way. The ratio of smallest to largest size is
therefore drawn towards that of the well-seen beads, as far as its own doubt demands (the posterior
mean of a normal prior and one normal observation).
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vision.records import FloatArray, LooseBead
from vision.uncertainty import COVERAGE_FACTOR

_FEWEST = 8
_WELL_SEEN = 0.8
"""Share of the rim relied on from which a bead speaks for itself."""
_OWN, _UNLIKE = 0.01, 0.06
"""No lot is more even than the first standard deviation of the ratio; beyond the second its beads differ."""
_LOW = 2.0
"""Standard deviations below the lot's ratio from which a bead looks dented."""


def evened_out(beads: Sequence[LooseBead], relied: FloatArray) -> list[LooseBead]:
    """Return the beads with the smallest size of those seen in part set right by the lot's own shape.

    Parameters
    ----------
    beads : sequence of LooseBead
        Whose outlines are ellipses.
    relied : ndarray, shape (B,)
        Share of each outline's rim that was seen well.
    """
    ratio = np.array([b.min_feret_mm / b.max_feret_mm for b in beads])
    known = np.isfinite(ratio)
    if known.sum() < _FEWEST:
        return list(beads)
    better = ratio[known & (relied >= np.median(relied[known]))]
    usual = float(np.median(better))
    own = 1.4826 * float(np.median(np.abs(better - usual))) + _OWN
    dented = known & (relied < _WELL_SEEN) & (ratio < usual - _LOW * own)
    if own > _UNLIKE:
        return list(beads)
    return [_evened(b, usual, own) if dent else b for b, dent in zip(beads, dented, strict=True)]


def _evened(bead: LooseBead, usual: float, own: float) -> LooseBead:
    ratio = bead.min_feret_mm / bead.max_feret_mm
    # how far it is off its fellows is itself a measure of what its outline may be wrong by
    u_seen = float(np.hypot(bead.min_feret_u95_mm / COVERAGE_FACTOR / bead.max_feret_mm, (usual - ratio) / 2))
    weight = own**2 / (own**2 + u_seen**2)
    return replace(
        bead,
        min_feret_mm=bead.max_feret_mm * (usual + weight * (ratio - usual)),
        min_feret_u95_mm=float(
            np.hypot(bead.max_feret_u95_mm, COVERAGE_FACTOR * bead.max_feret_mm * np.sqrt(weight) * u_seen)
        ),
    )
