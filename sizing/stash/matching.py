"""What matches some beads: entries of the same size and colour, and how certain that is."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist

from sizing.stash.colours import DIFFERENT, colour_difference
from sizing.stash.entries import Entry, Size
from vision.common.numerics import COVERAGE_FACTOR

SAME_SIZE_SHARE = 0.06
"""Means that differ by no more are one size: a strand sold as 8 mm spans 7.5 to 8.4 mm, 6 % to either side of
its middle (common practice, no source)."""
_LEAST_LIKELY = 0.05  # what is less likely is no match: the usual 5 % of a test


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """Beads of an entry that match others.

    Attributes
    ----------
    of_size : Size
        The beads that something is to match.
    entry : Entry
    size : Size
    same_size : float
        Probability that they are of one size, 0 to 1.
    colour_difference : float
        CIEDE2000; about 1 is just noticeable.
    """

    of_size: Size
    entry: Entry
    size: Size
    same_size: float
    colour_difference: float


def matches(stash: Iterable[Entry], entry: Entry, size: Size) -> list[Match]:
    """Return what matches the beads of one size of an entry, in other entries and in its own.

    Sizes match where the probability that they are one size, along the string and across it, is at least
    5 %; see `same_size`. Colours match where they differ by less than `DIFFERENT`: the light of two photos
    differs, so that is no probability, and nearer colours stand first among sizes of like probability (in
    tenths). Where no bead is left nothing matches.
    """
    found = [
        Match(
            of_size=size,
            entry=other,
            size=each,
            same_size=same_size(size, each),
            colour_difference=colour_difference(size.colour_rgb, each.colour_rgb),
        )
        for other in stash
        for each in other.sizes
        if each.count and each.kind == size.kind and (other.number, each.place) != (entry.number, size.place)
    ]
    alike = [
        match for match in found if match.same_size >= _LEAST_LIKELY and match.colour_difference < DIFFERENT
    ]
    return sorted(alike, key=lambda match: (-round(match.same_size, 1), match.colour_difference))


def same_size(one: Size, other: Size) -> float:
    """Return the probability that the beads of two sizes are of one size.

    The difference of two means is normal with the root of their squared standard uncertainties (JCGM
    100:2008, 5.1.2; the two were measured apart). They are one size where the true difference is at most
    `SAME_SIZE_SHARE` of the larger mean. Along the string and across it are multiplied: both errors of a
    photo go the same way, so the probability is that or more.

    Examples
    --------
    Means that differ by just the limit, known to a hundredth, are of one size or not with equal chances:

    >>> sizes = [
    ...     Size(place=1, along_mm=mm, across_mm=8, rel_u95=0.01, measured=9, colour_rgb=(9, 9, 9), count=9)
    ...     for mm in (8.0, 8.0 * (1 - SAME_SIZE_SHARE))
    ... ]
    >>> round(same_size(*sizes), 3)
    0.5
    """
    rel_u95 = one.rel_u95, other.rel_u95
    along = _chance(one.along_mm, other.along_mm, rel_u95=rel_u95)
    return along * _chance(one.across_mm, other.across_mm, rel_u95=rel_u95)


def _chance(mm: float, other_mm: float, *, rel_u95: tuple[float, float]) -> float:
    limit_mm = SAME_SIZE_SHARE * max(mm, other_mm)
    u_mm = math.hypot(mm * rel_u95[0], other_mm * rel_u95[1]) / COVERAGE_FACTOR
    if u_mm == 0:
        return float(abs(mm - other_mm) <= limit_mm)
    difference = NormalDist(mm - other_mm, u_mm)
    return difference.cdf(limit_mm) - difference.cdf(-limit_mm)
