"""The size of each bead, its uncertainty divided into the bead's own part and the part common to all.

The size of a bead is its width, the smallest caliper size: it decides which sieve a bead passes, and it is
the diameter of a round, the face of a cube, the smaller number of an oval. The length is the largest
caliper size.

An error of scale changes all beads on a photo by the same factor, and photos on the same printed sheet
share its check length. Averaging over beads does not reduce this part of the uncertainty.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from vision.common.numerics import COVERAGE_FACTOR, without_scale
from vision.common.records import FloatArray, LooseBead, Lot

Dimension = Literal["width", "length"]

COMMON_EDGE_SHARE = 0.5
"""Part of the variance of edge positions that all beads of a lot share because they look alike. Assumed, no
source: one photo cannot show it. At half or double, the uncertainty of a mean changes by a factor of 1.4."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """The measured beads of a lot with one size each.

    Attributes
    ----------
    beads : tuple of LooseBead, length N
    mm : ndarray, shape (N,)
        The size.
    u_mm : ndarray, shape (N,)
        Standard uncertainty that decisions allow for: the scale included, and the doubt about it where it is
        questioned.
    own_u_mm : ndarray, shape (N,)
        Standard uncertainty without the scale: the one that matters for differences between beads.
    scale_rel_u : float
        Relative standard uncertainty of scale; of several photos the largest.
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
        The mean of these beads and its expanded uncertainty; NaN if there are none.
    sd_mm : float
        Standard deviation of the measured sizes (n - 1); 0 for a single bead, NaN if there are none.
    """

    mm: float
    u95_mm: float
    sd_mm: float


def mean_u_mm(own_u_mm: FloatArray, *, scale_u_mm: float) -> float:
    """Return the standard uncertainty of the mean of beads.

    Of the variance of each bead's own part, `COMMON_EDGE_SHARE` is that of an error which all share: its
    standard uncertainties average, as those of the scale do (JCGM 100:2008, 5.2.2: correlated input
    quantities). The rest is independent.

    Parameters
    ----------
    own_u_mm : ndarray, shape (N,)
        Standard uncertainty of each bead without the scale.
    scale_u_mm : float, keyword-only
        That of the mean by the scale alone.
    """
    common = COMMON_EDGE_SHARE * float(np.mean(own_u_mm)) ** 2
    apart = (1 - COMMON_EDGE_SHARE) * float(np.sum(own_u_mm**2)) / len(own_u_mm) ** 2
    return math.sqrt(common + apart + scale_u_mm**2)


def is_measured(bead: LooseBead) -> bool:
    """Return whether a bead has both its sizes."""
    return math.isfinite(bead.min_feret_mm) and math.isfinite(bead.max_feret_mm)


def unmeasured(lot: Lot) -> tuple[LooseBead, ...]:
    """Return the beads without a size."""
    return tuple(bead for bead in lot.beads if not is_measured(bead))


def sizes_of(lot: Lot, dimension: Dimension = "width") -> Sizes:
    """Return the sizes of a lot's measured beads, their uncertainty divided into own and common part."""
    beads = tuple(bead for bead in lot.beads if is_measured(bead))
    if dimension == "width":
        pairs = [(bead.min_feret_mm, bead.min_feret_u95_mm) for bead in beads]
    else:
        pairs = [(bead.max_feret_mm, bead.max_feret_u95_mm) for bead in beads]
    mm, u95_mm = np.array(pairs, dtype=float).reshape(-1, 2).T
    scale_of = {conditions.photo: conditions.scale_rel_u for conditions in lot.conditions}
    doubt_of = {conditions.photo: conditions.doubt_rel_u for conditions in lot.conditions}
    doubt_u_mm = mm * np.array([doubt_of.get(bead.photo, 0.0) for bead in beads], dtype=float)
    scale_rel_u = np.array([scale_of.get(bead.photo, 0.0) for bead in beads], dtype=float)
    u_mm = u95_mm / COVERAGE_FACTOR
    return Sizes(
        beads=beads,
        mm=mm,
        u_mm=np.hypot(u_mm, doubt_u_mm),
        own_u_mm=without_scale(u_mm, mm, scale_rel_u=scale_rel_u),
        scale_rel_u=max(scale_of.values(), default=0.0),
    )


def mean_of(sizes: Sizes) -> Mean:
    """Return the mean of some beads with its uncertainty, and their standard deviation."""
    n = len(sizes)
    if n == 0:
        return Mean(mm=math.nan, u95_mm=math.nan, sd_mm=math.nan)
    mm = float(np.mean(sizes.mm))
    u_mm = mean_u_mm(sizes.own_u_mm, scale_u_mm=mm * sizes.scale_rel_u)
    sd_mm = float(np.std(sizes.mm, ddof=1)) if n > 1 else 0.0
    return Mean(mm=mm, u95_mm=COVERAGE_FACTOR * u_mm, sd_mm=sd_mm)
