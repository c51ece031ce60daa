"""Sizes along the string, gaps and lengths, from the places where beads end.

A place on the axis is a ray; it is put at the height of the string there, half way between the
heights of the two beads that meet. A bead's size along is the distance of its two ends in space, less what
it gapes by in a bend.
"""

from dataclasses import dataclass, replace

import numpy as np

from vision.common.records import FloatArray
from vision.strand.reconciled import DIFFERENT, FEWEST, Lengths, lengths_by_kind, mostly, without_ends
from vision.strand.strip import Segment, StringPlane

_SLIVER_MM = 0.05
"""A narrower gap is none: boundaries of touching beads are that uncertain."""
_GAPE, _GAPE_U = 0.5, 0.5
"""Share of the most that joints can gape by, and its standard uncertainty, before the lengths say more: half,
give or take half. Of 25 traced wires four in five have 0 to 1.3, drawn ones have 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadBodies:
    """How large the beads are across, and where the string runs through them; arrays have shape (B,).

    Attributes
    ----------
    width_mm : ndarray
        Size across.
    centre_mm : ndarray
        Height of the centre above the sheet.
    aside_mm : ndarray
        How far aside of the axis the middle lies: the axis is smooth and cuts corners.
    gape_mm : ndarray, shape (B - 1,)
        The most that a bead and the next can gape along the string where they touch.
    """

    width_mm: FloatArray
    centre_mm: FloatArray
    aside_mm: FloatArray
    gape_mm: FloatArray


def lengths_along(plane: StringPlane, segments: list[Segment], *, bodies: BeadBodies) -> Lengths:
    """Measure the beads along the string.

    Parameters
    ----------
    plane : StringPlane
    segments : list of Segment
        The beads, in order.
    bodies : BeadBodies
    """
    starts, ends, middles = np.array([(s.start_mm, s.end_mm, s.middle_mm) for s in segments]).T
    centre = bodies.centre_mm
    joint = (centre[:-1] + centre[1:]) / 2
    low, high = (
        plane.lifted(places, np.interp(places, middles, bodies.aside_mm), height_mm=height)
        for places, height in (
            (starts, np.concatenate([centre[:1], joint])),
            (ends, np.concatenate([joint, centre[-1:]])),
        )
    )
    raw = np.linalg.norm(high - low, axis=1)
    gaps = np.append(np.linalg.norm(low[1:] - high[:-1], axis=1), 0.0)
    gaps[gaps < _SLIVER_MM] = 0.0
    beads = np.array([s.kind == "bead" for s in segments])
    most = np.append(np.where(gaps[:-1] > 0, 0.0, bodies.gape_mm), 0.0)
    of_bead = (most + np.roll(most, 1)) / 2
    share, share_u = gape_share(raw, of_bead, width_mm=bodies.width_mm)
    lengths = lengths_by_kind(raw - share * of_bead, gaps, width=bodies.width_mm, beads=beads)
    return replace(
        lengths,
        along_u_mm=np.hypot(lengths.along_u_mm, share_u * of_bead),
        gapes_mm=share * most,
        gapes_u_mm=float(share_u * most.sum()),
    )


def gape_share(raw_mm: FloatArray, most_mm: FloatArray, *, width_mm: FloatArray) -> tuple[float, float]:
    """Return which share of the most that they can beads gape in bends, and its standard uncertainty.

    Beads of one length seem longer the more they gape: the slope of their lengths over that says it, by
    Theil and Sen (Sen, J. Am. Stat. Assoc. 63, 1968), together with what is known beforehand, each by the
    inverse of its variance. Larger beads are longer and have wider joints: those of several sizes are
    compared by both over their widths.

    Parameters
    ----------
    raw_mm, most_mm, width_mm : ndarray, shape (B,)
        Length as measured, how much of it may be gape at most, and size across.

    Examples
    --------
    >>> most, width = np.linspace(0.0, 0.5, 11), np.full(11, 8.0)
    >>> [round(x, 2) for x in gape_share(8.0 + 0.9 * most, most, width_mm=width)]
    [0.9, 0.0]
    >>> gape_share(width, np.zeros(11), width_mm=width)  # a straight strand does not say
    (0.5, 0.5)
    >>> graded, turns = np.linspace(4.0, 12.0, 11), np.linspace(0.1, 0.2, 11)
    >>> most = graded * turns / 2
    >>> [round(x, 2) for x in gape_share(1.2 * graded + 0.4 * most, most, width_mm=graded)]
    [0.4, 0.0]
    """
    if len(raw_mm) < FEWEST:
        return _GAPE, _GAPE_U
    inner = without_ends(len(raw_mm))
    one_size = mostly(np.abs(width_mm / np.median(width_mm) - 1) < DIFFERENT)
    unit = 1.0 if one_size else width_mm[inner]
    raw, most = raw_mm[inner] / unit, most_mm[inner] / unit
    if np.allclose(most, most[0]):
        return _GAPE, _GAPE_U
    slope, slope_u = _median_slope(raw, most)
    variance, before = slope_u**2, _GAPE_U**2
    share = (variance * _GAPE + before * slope) / (variance + before)
    return max(float(share), 0.0), float(np.sqrt(variance * before / (variance + before)))


def _median_slope(values: FloatArray, over: FloatArray) -> tuple[float, float]:
    """Return the median slope of values over others, both (N,), and its standard uncertainty.

    The rank of a slope scatters as Kendall's statistic does (Sen 1968, 2.6, without ties).
    `scipy.stats.theilslopes` does the same, but importing `scipy.stats` takes a third of a second.
    """
    first, second = np.triu_indices(len(over), 1)
    run = over[second] - over[first]
    slopes = np.sort((values[second] - values[first])[run != 0] / run[run != 0])
    count, pairs = len(over), len(slopes)
    rank_u = np.sqrt(count * (count - 1) * (2 * count + 5) / 18) / 2
    ends = np.rint(pairs / 2 + np.array([-1, 1]) * rank_u - [1, 0]).astype(int)
    low, high = slopes[np.clip(ends, 0, pairs - 1)]
    return float(np.median(slopes)), float(high - low) / 2


def with_unseen_gaps(lengths: Lengths, *, resolved_mm: float) -> Lengths:
    """Return lengths with the uncertainty of free string on a wire that is too short to be seen.

    No stopper pushes the beads together. A gap shorter than `resolved_mm` is not told from none, and adds to
    the lengths of the beads beside it: rectangular from nothing to there (JCGM 100:2008, 4.3.7), its root
    mean square about nothing.
    """
    unseen = np.where(lengths.gaps_mm > 0, 0.0, resolved_mm / np.sqrt(3))
    return replace(lengths, along_u_mm=np.hypot(lengths.along_u_mm, unseen))
