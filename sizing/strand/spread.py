"""How uniform the beads of a strand are: mean, spread and range of their sizes."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sizing.lot.sizes import mean_u_mm
from vision.common.numerics import COVERAGE_FACTOR, without_scale
from vision.common.records import Strand


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """The sizes of one strand's beads in one direction; all NaN if none was measured.

    Attributes
    ----------
    count : int
        Beads measured.
    mean_mm, mean_u95_mm : float
        Their mean and its expanded uncertainty.
    sd_mm : float
        Standard deviation of the measured sizes (n - 1); 0 for a single bead.
    least_mm, most_mm : float
    """

    count: int
    mean_mm: float
    mean_u95_mm: float
    sd_mm: float
    least_mm: float
    most_mm: float


def spread_across(strand: Strand) -> Spread:
    """Return mean and spread of the beads' sizes across the string, spacers and covers left out.

    Examples
    --------
    >>> from tests.helpers.strands import make_strand
    >>> spread = spread_across(make_strand([5.9, 6.0, 6.1]))
    >>> round(spread.mean_mm, 2), round(spread.sd_mm, 2), spread.least_mm, spread.most_mm
    (6.0, 0.1, 5.9, 6.1)
    """
    return _spread(((bead.across_mm, bead.across_u95_mm) for bead in strand.of_kind("bead")), strand)


def spread_along(strand: Strand) -> Spread:
    """Return mean and spread of the beads' sizes along the string."""
    return _spread(((bead.along_mm, bead.along_u95_mm) for bead in strand.of_kind("bead")), strand)


def _spread(sizes: Iterable[tuple[float, float]], strand: Strand) -> Spread:
    """Describe sizes, each with its expanded uncertainty, in mm."""
    known = np.array([pair for pair in sizes if math.isfinite(pair[0])], dtype=float).reshape(-1, 2)
    if not len(known):
        nan = math.nan
        return Spread(count=0, mean_mm=nan, mean_u95_mm=nan, sd_mm=nan, least_mm=nan, most_mm=nan)
    mm, u95_mm = known.T
    mean_mm = float(mm.mean())
    scale_rel_u = strand.conditions.scale_rel_u
    own_u_mm = without_scale(u95_mm / COVERAGE_FACTOR, mm, scale_rel_u=scale_rel_u)
    return Spread(
        count=len(mm),
        mean_mm=mean_mm,
        mean_u95_mm=COVERAGE_FACTOR * mean_u_mm(own_u_mm, scale_u_mm=scale_rel_u * mean_mm),
        sd_mm=float(mm.std(ddof=1)) if len(mm) > 1 else 0.0,
        least_mm=float(mm.min()),
        most_mm=float(mm.max()),
    )
