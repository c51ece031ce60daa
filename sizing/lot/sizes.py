"""One size a bead, with the part of its doubt that is its own and the part that all beads share.

A bead's size is its width, the smallest caliper size: what passes a sieve, the diameter of a round,
the face of a cube, the smaller number of an oval. Its length is the largest caliper size.

The scale of a photo is wrong by the same factor for every bead on it, and handfuls photographed on
one printed sheet share that sheet's check length: averaging over beads does not shrink this part.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from vision.common.records import FloatArray, LooseBead, Lot

Dimension = Literal["width", "length"]

# Beads of one lot look alike, so part of what misplaces their edges is common to them too. Half of
# the variance is assumed: no photo tells the share.
COMMON_EDGE_SHARE = 0.5
COVERAGE = 2.0  # JCGM 100:2008, 6.3.3: about 95 %


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """The measured beads of a lot, one size each.

    Attributes
    ----------
    beads : tuple of LooseBead, length N
    mm : ndarray, shape (N,)
        The size.
    u_mm : ndarray, shape (N,)
        Standard uncertainty, scale included.
    own_u_mm : ndarray, shape (N,)
        Standard uncertainty without the scale: what differences between beads are subject to.
    scale_rel_u : float
        Relative standard uncertainty of scale; the largest of the photos' where they differ.
    """

    beads: tuple[LooseBead, ...]
    mm: FloatArray
    u_mm: FloatArray
    own_u_mm: FloatArray
    scale_rel_u: float

    def __len__(self) -> int:
        """Return the number of beads."""
        return len(self.beads)

    def at(self, index: Sequence[int]) -> "Sizes":
        """Return the beads at these positions, in this order."""
        chosen = np.asarray(index, dtype=np.intp)
        return Sizes(
            beads=tuple(self.beads[i] for i in chosen),
            mm=self.mm[chosen],
            u_mm=self.u_mm[chosen],
            own_u_mm=self.own_u_mm[chosen],
            scale_rel_u=self.scale_rel_u,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mean:
    """The mean of some beads' sizes.

    Attributes
    ----------
    mm, u95_mm : float
        The mean of these very beads and its expanded uncertainty; NaN where there are none.
    sd_mm : float
        Standard deviation of the measured sizes (n - 1); 0 for a single bead, NaN for none.
    """

    mm: float
    u95_mm: float
    sd_mm: float


def is_measured(bead: LooseBead) -> bool:
    """Tell whether a bead has both its sizes."""
    return math.isfinite(bead.min_feret_mm) and math.isfinite(bead.max_feret_mm)


def unmeasured(lot: Lot) -> tuple[LooseBead, ...]:
    """Return the beads without a size."""
    return tuple(bead for bead in lot.beads if not is_measured(bead))


def sizes_of(lot: Lot, dimension: Dimension = "width") -> Sizes:
    """Return the sizes of a lot's measured beads, with their doubt split into own and shared."""
    beads = tuple(bead for bead in lot.beads if is_measured(bead))
    if dimension == "width":
        pairs = [(bead.min_feret_mm, bead.min_feret_u95_mm) for bead in beads]
    else:
        pairs = [(bead.max_feret_mm, bead.max_feret_u95_mm) for bead in beads]
    mm, u95_mm = np.array(pairs, dtype=float).reshape(-1, 2).T
    scale_of = {conditions.photo: conditions.scale_rel_u for conditions in lot.conditions}
    shared_u_mm = mm * np.array([scale_of.get(bead.photo, 0.0) for bead in beads], dtype=float)
    u_mm = u95_mm / COVERAGE
    return Sizes(
        beads=beads,
        mm=mm,
        u_mm=u_mm,
        own_u_mm=np.sqrt(np.maximum(u_mm**2 - shared_u_mm**2, 0.0)),
        scale_rel_u=max(scale_of.values(), default=0.0),
    )


def mean_of(sizes: Sizes) -> Mean:
    """Return the mean of some beads, its doubt with the parts they share, and their spread.

    The own parts average out as 1 / N but for `COMMON_EDGE_SHARE` of their variance; the scale does
    not average out at all (JCGM 100:2008, 5.2.2: correlated input quantities).
    """
    n = len(sizes)
    if n == 0:
        return Mean(mm=math.nan, u95_mm=math.nan, sd_mm=math.nan)
    mm = float(np.mean(sizes.mm))
    common = COMMON_EDGE_SHARE * float(np.mean(sizes.own_u_mm)) ** 2
    apart = (1 - COMMON_EDGE_SHARE) * float(np.sum(sizes.own_u_mm**2)) / n**2
    u_mm = math.sqrt(common + apart + (mm * sizes.scale_rel_u) ** 2)
    sd_mm = float(np.std(sizes.mm, ddof=1)) if n > 1 else 0.0
    return Mean(mm=mm, u95_mm=COVERAGE * u_mm, sd_mm=sd_mm)
