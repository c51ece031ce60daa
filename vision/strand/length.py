"""Sizes along the string, gaps and lengths, from the places where beads end.

A place on the axis is a ray; it is put at the height of the string there, half way between the
heights of the two beads that meet. A bead's size along is the distance of its two ends in space.
"""

from dataclasses import dataclass

import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.strand.axis import Axis
from vision.strand.segment import Segment

_UNIFORM_CV = 0.1
"""Robust coefficient of variation below which the beads of a strand are taken for one kind."""
_DIFFERENT, _MOSTLY = 0.12, 0.8
"""A bead whose length is off by this share is another kind; a strand is of one kind where most are alike."""
_SHAPE_CV = 0.06
"""The same of the ratio of length to width, of beads of one shape in several sizes: cubes that lie turned
show widths that scatter more, and tell nothing of their lengths."""
_FEWEST = 4
_ODD = 4.0
_OWN_LEAST, _OWN_MOST = 0.003, 0.015
"""Relative standard deviation of the lengths of beads of one kind (common practice, no source)."""
_AS_WELL, _LITTLE = 1.2, 0.02
_SHAPE_MOST = 0.03
"""The same of the ratio of length to width, each measured, of beads of one shape in several sizes."""
_BOUNDARY_PAIR_MM = 0.06
_END_SD = 0.04
"""Standard uncertainty of an outer end, as a share of the bead's width: no neighbour marks it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """Lengths along the string.

    Attributes
    ----------
    along_mm, along_u_mm : ndarray, shape (B,)
    gaps_mm : ndarray, shape (B,)
        Free string after each bead; 0 after the last.
    total_u_mm : float
        Standard uncertainty of the sum, without that of scale.
    uniform : bool
    odd : ndarray of bool, shape (B,)
        Beads that differ from the rest by more than chance.
    """

    along_mm: FloatArray
    along_u_mm: FloatArray
    gaps_mm: FloatArray
    total_u_mm: float
    uniform: bool
    odd: FloatArray


def lengths_along(
    axis: Axis,
    segments: list[Segment],
    *,
    centre_mm: FloatArray,
    width_mm: FloatArray,
    aside_mm: FloatArray,
    camera_mm: FloatArray,
    plane_mm: float,
) -> Lengths:
    """Measure the beads along the string.

    Parameters
    ----------
    axis : Axis
        In the plane `plane_mm` above the sheet.
    segments : list of Segment
        The beads, in order.
    centre_mm, width_mm : ndarray, shape (B,)
        Height of each bead's centre above the sheet, and its size across.
    aside_mm : ndarray, shape (B,)
        How far aside of the axis each bead's middle lies: the axis is smooth and cuts corners.
    camera_mm : ndarray, shape (3,)
        Projection centre.
    """
    starts = np.array([s.start_mm for s in segments])
    ends = np.array([s.end_mm for s in segments])
    joint = (centre_mm[:-1] + centre_mm[1:]) / 2
    middles = (starts + ends) / 2
    low, high = (
        _in_space(
            axis,
            places,
            np.interp(places, middles, aside_mm),
            height=height,
            camera=camera_mm,
            plane=plane_mm,
        )
        for places, height in (
            (starts, np.concatenate([centre_mm[:1], joint])),
            (ends, np.concatenate([joint, centre_mm[-1:]])),
        )
    )
    raw = np.linalg.norm(high - low, axis=1)
    gaps = np.append(np.linalg.norm(low[1:] - high[:-1], axis=1), 0.0)
    gaps[gaps < 0.05] = 0.0
    return _reconciled(raw, gaps, width_mm)


def _in_space(
    axis: Axis,
    along: FloatArray,
    aside: FloatArray,
    *,
    height: FloatArray,
    camera: FloatArray,
    plane: float,
) -> FloatArray:
    """Return world points (N, 3) at given heights on the rays through places near the axis."""
    ground = axis.at(along, aside)
    share = ((camera[2] - height) / (camera[2] - plane))[:, None]
    return np.column_stack([camera[:2] + (ground - camera[:2]) * share, height])


def _reconciled(raw: FloatArray, gaps: FloatArray, width: FloatArray) -> Lengths:
    """Separate what the beads differ by from what their boundaries are misplaced by.

    Beads of one kind are expected to be of the mean length, beads of one shape in several sizes to be as
    long as their width says. A boundary placed too far on lengthens one bead and shortens the next:
    the covariance of neighbours is minus the variance of a boundary. What then remains is the beads'
    own spread, and each length is drawn towards the expected one as far as its noise demands (the
    best linear estimate).
    """
    count = len(raw)
    edge = 2 if count >= 10 else 1 if count > _FEWEST else 0  # the outermost may be cut wrongly
    inner = slice(edge, count - edge)
    mean = np.full(count, float(np.median(raw[inner])))
    shaped = width * float(np.median(raw[inner] / width[inner]))
    # widths add nothing where lengths agree among themselves as well as with them
    uniform = count >= _FEWEST and _alike(raw[inner] / mean[inner])
    uniform &= _spread(raw[inner] / mean[inner]) <= _AS_WELL * _spread(raw[inner] / shaped[inner]) + _LITTLE
    of_one_shape = count >= _FEWEST and _alike(raw[inner] / shaped[inner])
    if not uniform and not (of_one_shape and _spread(raw[inner] / shaped[inner]) < _SHAPE_CV):
        return _unrelated(raw, gaps, width)
    expected = mean if uniform else shaped
    spread = _spread(raw[inner] / expected[inner])
    relative = raw[inner] / expected[inner] - 1
    kept = np.abs(relative) < max(_ODD * spread, 0.1)
    expected = expected * (1 + float(np.mean(relative[kept])))
    limit = 3 * spread * expected[inner] + 0.02
    deviation = np.clip(relative * expected[inner], -limit, limit)
    boundary2 = max(0.0, -float(np.mean(deviation[:-1] * deviation[1:]))) if len(deviation) > 3 else 0.0
    total2 = float(np.mean(deviation**2))
    typical = float(np.median(expected))
    most = _OWN_MOST if uniform else _SHAPE_MOST
    own2 = float(np.clip(total2 - 2 * boundary2, (_OWN_LEAST * typical) ** 2, (most * typical) ** 2))
    noise2 = max(total2 - own2, 0.01**2)
    along = expected + own2 / (own2 + noise2) * (raw - expected)
    odd = np.abs(raw - expected) > np.maximum(_ODD * np.sqrt(own2 + noise2), _DIFFERENT * expected)
    along_u = np.full(count, np.sqrt(own2 * noise2 / (own2 + noise2)))
    if not uniform:  # what the widths are off by is not seen in the lengths
        along_u = np.hypot(along_u, _SHAPE_MOST * expected)
    ends = np.zeros(count, dtype=bool)
    ends[[0, -1]] = True
    odd &= ~ends
    along[odd] = raw[odd]
    # no neighbour marks the outer ends: there the expected length says more than the place seen
    end2 = np.inf if uniform else noise2 + (_END_SD * width[ends]) ** 2
    along[ends] = expected[ends] + own2 / (own2 + end2) * (raw[ends] - expected[ends])
    along_u[ends] = np.hypot(along_u[ends], np.sqrt(own2 + noise2))
    total = float(np.hypot(np.sqrt(2 * (own2 + noise2)), np.sqrt(2 * max(boundary2, 0.02**2))))
    return Lengths(
        along_mm=along, along_u_mm=along_u, gaps_mm=gaps, total_u_mm=total, uniform=uniform, odd=odd
    )


def _spread(relative: FloatArray) -> float:
    """Return the robust standard deviation of lengths, relative to what is expected of them."""
    return robust_sd(relative, about=1.0)


def _alike(relative: FloatArray) -> bool:
    """Return whether lengths, relative to what is expected of them, are of one kind."""
    spread = _spread(relative)
    like = np.abs(relative - 1) < max(_DIFFERENT, _ODD / 2 * spread)
    return spread < _UNIFORM_CV and float(np.mean(like)) > _MOSTLY


def _unrelated(raw: FloatArray, gaps: FloatArray, width: FloatArray) -> Lengths:
    """Take the lengths of beads of several shapes as they were seen."""
    count = len(raw)
    end_u = _END_SD * width[[0, -1]]
    along_u = np.full(count, _BOUNDARY_PAIR_MM)
    along_u[[0, -1]] = np.hypot(_BOUNDARY_PAIR_MM, end_u)
    return Lengths(
        along_mm=raw,
        along_u_mm=along_u,
        gaps_mm=gaps,
        total_u_mm=float(np.hypot(*end_u)),
        uniform=False,
        odd=np.zeros(count, dtype=bool),
    )
