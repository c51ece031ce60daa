"""What the beads of a strand differ by in length, separated from what their boundaries are misplaced by.

Those of one kind are drawn towards the length that they have in common, those of one shape towards the length
that their widths predict; all others stay as they were measured.
"""

from dataclasses import dataclass, replace

import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray, Mask

FEWEST, _MANY = 4, 10
"""Of fewer beads nothing usual can be read; of many two at either end do not count, else one."""
_UNIFORM_CV = 0.1
"""Robust coefficient of variation below which beads are of one kind: a repeat of two sizes looks like
misplaced boundaries. Half or double: no difference."""
DIFFERENT, _MOSTLY = 0.12, 0.8
"""A bead whose length is off by this share is another kind; a strand is of one kind where more than the
second share are alike. Without the second a closed loop is measured otherwise."""
_AS_WELL, _LITTLE = 1.2, 0.02
"""Widths predict lengths better than their mean where lengths scatter about it this much more than about
them: by measuring alone the two differ by as much."""
_SHAPE_CV = 0.06
"""Robust coefficient of variation of length over width below which beads are of one shape: cubes that lie
turned scatter more and predict no lengths. At double p95 of sizes goes from 0.27 to 0.30 mm."""
_ODD, _LEAST_ODD = 4.0, 0.1
"""Standard deviations (one normal value in 16000) and share beyond which a bead does not belong to the
rest."""
_CLIPPED, _CLIPPED_MM = 3.0, 0.02
"""Standard deviations, and mm more, at which deviations are cut off before squares are taken."""
_OWN_LEAST, _OWN_MOST = 0.003, 0.015
"""Relative standard deviation of the lengths of beads of one kind (common practice, no source)."""
_ONE_KIND = 3.0
"""Of the second, lengths of one kind scatter less than so many, but for what boundaries explain: on 44
strands of one kind 0.026 at most, on two of nuggets and baroques 0.07 and 0.10."""
_SHAPE_MOST = 0.03
"""The most of the ratio of length to width, each measured, of beads of one shape in several sizes; and what
lengths of beads of no shape in common are off by."""
_LEAST_NOISE_MM, _LEAST_BOUNDARY_MM = 0.01, 0.02
"""No length is measured better than this and no outer boundary placed better: a quarter of a pixel."""
_BOUNDARY_PAIR_MM, _END_SD = 0.06, 0.04
"""Standard uncertainty of a length by its two boundaries, where other beads do not help, and of an outer end,
which no neighbour marks, as a share of the bead's width. Half or double: last digits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """Lengths along the string.

    Attributes
    ----------
    along_mm, along_u_mm : ndarray, shape (B,)
    gaps_mm : ndarray, shape (B,)
        Free string that is seen after each bead; 0 after the last.
    gapes_mm : ndarray, shape (B,)
        How far each bead and the next, which touch at the inner side of a bend, are apart along the string.
    gapes_u_mm : float
        Standard uncertainty of their sum.
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
    odd: Mask
    gapes_mm: FloatArray | float = 0.0
    gapes_u_mm: float = 0.0

    @property
    def apart_mm(self) -> FloatArray:
        """How far each bead and the next are apart along the string, shape (B,)."""
        return self.gaps_mm + self.gapes_mm


def lengths_by_kind(raw: FloatArray, gaps: FloatArray, *, width: FloatArray, beads: Mask) -> Lengths:
    """Reconcile the lengths of the beads; spacers and covers are not as long as they are."""
    if beads.all() or np.count_nonzero(beads) < FEWEST:
        return reconciled(raw, gaps, width_mm=width)
    out, among = _unrelated(raw, gaps, width), reconciled(raw[beads], gaps[beads], width_mm=width[beads])
    out.along_mm[beads], out.along_u_mm[beads], out.odd[beads] = among.along_mm, among.along_u_mm, among.odd
    return replace(out, total_u_mm=float(np.hypot(out.total_u_mm, among.total_u_mm)))


def reconciled(raw_mm: FloatArray, gaps_mm: FloatArray, *, width_mm: FloatArray) -> Lengths:
    """Separate what the beads differ by from what their boundaries are misplaced by.

    Beads of one kind are expected to be of the mean length, beads of one shape in several sizes to be as
    long as their widths predict; the lengths of others are taken as they were measured.

    Parameters
    ----------
    raw_mm, gaps_mm, width_mm : ndarray, shape (B,)
        Length as measured, free string after each bead, size across.

    Examples
    --------
    Where one bead reads long and the next as short, boundaries are misplaced and not the beads' lengths:

    >>> raw = np.array([8.0, 8.06, 7.94, 8.05, 7.95, 8.03, 7.97, 8.0])
    >>> reconciled(raw, np.zeros(8), width_mm=np.full(8, 8.0)).along_mm.round(2).tolist()
    [8.0, 8.01, 7.99, 8.01, 7.99, 8.01, 7.99, 8.0]
    """
    inner = without_ends(len(raw_mm))
    if len(raw_mm) < FEWEST:
        return _unrelated(raw_mm, gaps_mm, width_mm)
    same = np.full(len(raw_mm), np.median(raw_mm[inner]))
    shaped = width_mm * float(np.median(raw_mm[inner] / width_mm[inner]))
    to_same, to_shaped = (raw_mm[inner] / expected[inner] for expected in (same, shaped))
    uniform = _of_one_length(to_same, to_shaped)
    of_one_shape = mostly(_alike(to_shaped)) and robust_sd(to_shaped, about=1.0) < _SHAPE_CV
    if not (uniform or of_one_shape):
        return _unrelated(raw_mm, gaps_mm, width_mm)
    spread = _Spread.of(raw_mm, same if uniform else shaped, uniform=uniform)
    lengths = _drawn_to_expected(spread, raw_mm, gaps_mm)
    return _with_ends(lengths, spread, raw=raw_mm, width=width_mm)


def without_ends(count: int) -> slice:
    """Return the beads that show what is usual: the outermost may be cut wrongly."""
    edge = 2 if count >= _MANY else 1 if count > FEWEST else 0
    return slice(edge, count - edge)


def _of_one_length(to_same: FloatArray, to_shaped: FloatArray) -> bool:
    """Return whether beads are of one length, of lengths over the median one and over what widths predict."""
    # widths add nothing where lengths agree among themselves as well as with them
    spread, alike = robust_sd(to_same, about=1.0), _alike(to_same)
    agree = spread < _UNIFORM_CV and spread <= _AS_WELL * robust_sd(to_shaped, about=1.0) + _LITTLE
    total, boundary = _variances(np.where(alike, to_same - float(np.mean(to_same[alike])), 0.0))
    return agree and mostly(alike) and total - 2 * boundary < (_ONE_KIND * _OWN_MOST) ** 2


def _alike(relative: FloatArray) -> Mask:
    """Return which lengths, relative to what is expected of them, may be of one kind, shape (B,)."""
    return np.asarray(np.abs(relative - 1) < max(DIFFERENT, _ODD / 2 * robust_sd(relative, about=1.0)))


def mostly(alike: Mask) -> bool:
    """Return whether enough beads, shape (B,), are alike for all to be of one kind."""
    return float(np.mean(alike)) > _MOSTLY


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spread:
    """What beads are expected to be long, and why they are not found so; variances in mm2.

    Attributes
    ----------
    expected_mm : ndarray, shape (B,)
    uniform : bool
        All are expected to be of one length; else as long as their widths predict.
    own, noise, boundary : float
        Variance of the beads' own lengths, of what else the lengths are off by, and of a boundary.
    """

    expected_mm: FloatArray
    uniform: bool
    own: float
    noise: float
    boundary: float

    @classmethod
    def of(cls, raw: FloatArray, expected: FloatArray, *, uniform: bool) -> "_Spread":
        """Estimate the variances from the lengths as measured."""
        inner = without_ends(len(raw))
        spread = robust_sd(raw[inner] / expected[inner], about=1.0)
        relative = raw[inner] / expected[inner] - 1
        kept = np.abs(relative) < max(_ODD * spread, _LEAST_ODD)
        expected = expected * (1 + float(np.mean(relative[kept])))
        limit = _CLIPPED * spread * expected[inner] + _CLIPPED_MM
        total, boundary = _variances(np.clip(relative * expected[inner], -limit, limit))
        typical = float(np.median(expected))
        most = _OWN_MOST if uniform else _SHAPE_MOST
        own = float(np.clip(total - 2 * boundary, (_OWN_LEAST * typical) ** 2, (most * typical) ** 2))
        noise = max(total - own, _LEAST_NOISE_MM**2)
        return cls(expected_mm=expected, uniform=uniform, own=own, noise=noise, boundary=boundary)


def _variances(off: FloatArray) -> tuple[float, float]:
    """Return the variance of deviations of lengths, in order, shape (B,), and that of a boundary.

    A boundary placed too far on lengthens one bead and shortens the next: the covariance of neighbours is
    minus the variance of a boundary. What then remains of the lengths' is the beads' own.
    """
    boundary = max(0.0, -float(np.mean(off[:-1] * off[1:]))) if len(off) > 3 else 0.0
    return float(np.mean(off**2)), boundary


def _drawn_to_expected(spread: _Spread, raw: FloatArray, gaps: FloatArray) -> Lengths:
    """Draw each length towards the expected one as far as its noise demands (the best linear estimate)."""
    expected, own, noise = spread.expected_mm, spread.own, spread.noise
    odd = np.abs(raw - expected) > np.maximum(_ODD * np.sqrt(own + noise), DIFFERENT * expected)
    odd[[0, -1]] = False
    outer = max(spread.boundary, _LEAST_BOUNDARY_MM**2)
    along_u = np.full(len(raw), np.sqrt(own * noise / (own + noise)))
    if not spread.uniform:  # what the widths are off by is not seen in the lengths
        along_u = np.hypot(along_u, _SHAPE_MOST * expected)
    return Lengths(
        along_mm=np.where(odd, raw, expected + own / (own + noise) * (raw - expected)),
        along_u_mm=along_u,
        gaps_mm=gaps,
        total_u_mm=float(np.hypot(np.sqrt(2 * (own + noise)), np.sqrt(2 * outer))),
        uniform=spread.uniform,
        odd=odd,
    )


def _with_ends(lengths: Lengths, spread: _Spread, *, raw: FloatArray, width: FloatArray) -> Lengths:
    """Return lengths with those of the first and the last bead put right.

    No neighbour marks the outer ends: there the expected length is more certain than the place seen.
    """
    ends = np.array([0, -1])
    expected, own, noise = spread.expected_mm[ends], spread.own, spread.noise
    end = np.inf if spread.uniform else noise + (_END_SD * width[ends]) ** 2
    along, u = lengths.along_mm.copy(), lengths.along_u_mm.copy()
    along[ends] = expected + own / (own + end) * (raw[ends] - expected)
    u[ends] = np.hypot(u[ends], np.sqrt(own + noise))
    return replace(lengths, along_mm=along, along_u_mm=u)


def _unrelated(raw: FloatArray, gaps: FloatArray, width: FloatArray) -> Lengths:
    """Take the lengths of beads of several shapes as they were measured."""
    end_u = _END_SD * width[[0, -1]]
    along_u = np.hypot(_BOUNDARY_PAIR_MM, _SHAPE_MOST * raw)
    along_u[[0, -1]] = np.hypot(along_u[[0, -1]], end_u)
    return Lengths(
        along_mm=raw,
        along_u_mm=along_u,
        gaps_mm=gaps,
        total_u_mm=float(np.hypot(*end_u)),
        uniform=False,
        odd=np.zeros(len(raw), dtype=bool),
    )
