"""How high the widest points of a lot's beads stand, judged from all of them.

A ball shows the camera more of its far side the further out it lies, a coin does not: towards the edge
of the view outlines of balls stretch away from the camera's foot (facts: by sqrt(1 + X^2 / (H (H - d)))).
Every way that beads can be built predicts how much; the right one leaves sizes that know nothing of
that direction, and beads of one kind, however they lie, the same length over width. The ways are weighed
by this evidence, and what they disagree on is doubt.
"""

from dataclasses import dataclass

import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.lot.feret import DIRECTIONS, Section, smallest

_HEIGHTS = np.array([0.08, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 1.0])
"""Height over smallest size: coins, tablets, drops, rondelles, balls and cubes."""
_PRIOR = np.array([0.04, 0.04, 0.04, 0.04, 0.05, 0.06, 0.07, 0.05, 0.05, 0.56])
"""Common practice, no source: most beads are as high as wide."""
_FLAT, _THIN = 0.4, 0.2
_LARGE_BEAD_MM = 10.0
_DOMED, _MOST_DOMED, _DOMED_BALL = 0.05, 0.5, 0.1
"""Of things as large as large beads so many are flat below, drops of glass, and widest where they lie (common
practice, no source); the more, the larger, to half of all; the third times as many where as high as balls."""
_PRISMATIC = 0.075
"""Fourth harmonic of the sizes over their mean: 2/15 for any rectangle, 0 for an ellipse of small aspect."""
_LONG = 1.2
_BEVEL = 0.1
_CORNER_U = 0.015
"""Of the smallest size: edges may be sharp, bevelled or rounded (common practice, no source)."""
_LEAST_SCATTER = 0.006
_FARTHEST_OUTLIER = 12.0
_PROFILE_DOUBT = 0.12
"""Of the height over the size, where a bead is no ball: its profile is taken for an ellipse."""
_CAUTION, _ALIKE_CAUTION = 0.5, 0.2
"""Beads err together (one edge model, one camera), so their number counts half, and less where it is also
taken for granted that they are of one kind."""
_LEAST_UNLIKE, _USUALLY_UNLIKE = 0.012, 0.02
_UNLIKE_OUTLIER = 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """Sizes of all beads of a lot under what is known of their build.

    Attributes
    ----------
    widths, widths_u : ndarray, shape (B, DIRECTIONS)
        Caliper sizes, and their standard uncertainty from the doubt about the build, mm.
    half_height : ndarray, shape (B,)
        Height of the middle above the bed, mm.
    flat : bool
        Lower than 0.4 of their smallest size.
    prismatic : bool
        Upright prisms or lying tubes.
    unlike : float
        Relative scatter of their length over width, beyond what is usual of one kind.
    domed_rel_u : ndarray, shape (B,)
        Relative standard uncertainty of sizes from their widest points perhaps lying on the bed, as a drop's.
    """

    widths: FloatArray
    widths_u: FloatArray
    half_height: FloatArray
    flat: bool
    prismatic: bool
    unlike: float
    domed_rel_u: FloatArray


def judge_build(sections: list[Section], *, flat: bool | None) -> Build:
    """Weigh the ways beads can be built by what the camera sees of them.

    Parameters
    ----------
    sections : list of Section
    flat : bool or None
        True: flat discs; False: none of them flat; None: judge.
    """
    upright = [_solve(s, 1.0, upright=True)[0] for s in sections]
    prismatic = flat is not True and float(np.median([_rectness(w) for w in upright])) > _PRISMATIC
    if prismatic and np.median([_aspect(w) for w in upright]) > _LONG:
        return _lying_tubes(sections)
    usual_mm = float(np.median([smallest(w) for w in upright]))
    return _weigh(sections, _prior(flat=flat, usual_mm=usual_mm), upright=prismatic, judged=flat is None)


def _prior(*, flat: bool | None, usual_mm: float) -> FloatArray:
    """Return the prior weights of `_HEIGHTS`; things as large as coins are rather coins than beads."""
    prior = np.where(_HEIGHTS < _THIN, _PRIOR * (usual_mm / _LARGE_BEAD_MM) ** 3, _PRIOR)
    return prior if flat is None else np.where((_HEIGHTS < _FLAT) == flat, prior, 0.0)


def _weigh(sections: list[Section], prior: FloatArray, *, upright: bool, judged: bool) -> Build:
    """Average over the heights, each weighed by prior and evidence; where `judged`, some may be domed."""
    solved = [[_solve(s, h, upright=upright or h < _THIN) for s in sections] for h in _HEIGHTS]
    widths = np.array([[w for w, _ in row] for row in solved])
    halves = np.array([[b for _, b in row] for row in solved])
    nearer = halves / (np.array([s.above_mm for s in sections]) - halves)
    domed = _domed(widths) if judged and not upright else 0.0 * halves
    widths = widths * (1 + domed * nearer)[:, :, None]
    away = np.array([_away(s) for s in sections])
    evidence = np.array([_evidence(w, away) + _evidence_alike(w) for w in widths])
    weight = prior * np.exp(evidence - evidence[prior > 0].max())
    weight /= weight.sum()
    mean = np.einsum("h,hbd->bd", weight, widths)
    variance = np.einsum("h,hbd->bd", weight, (widths - mean) ** 2)
    slope = np.einsum("h,hbd->bd", weight * (_HEIGHTS < 1), np.gradient(widths, _HEIGHTS, axis=0))
    corner_u = np.array([_corner_u(w) if upright else 0 * w for w in mean])
    return Build(
        widths=mean,
        widths_u=np.sqrt(variance + (_PROFILE_DOUBT * slope) ** 2 + corner_u**2),
        half_height=weight @ halves,
        flat=bool(weight[_HEIGHTS < _FLAT].sum() > 0.5),
        prismatic=upright,
        unlike=_unlike(mean),
        domed_rel_u=np.sqrt(weight @ (domed * (1 - domed) * nearer**2)),
    )


def _domed(widths: FloatArray) -> FloatArray:
    """Return how likely each bead is flat below if it is of each of `_HEIGHTS`, shape (H, B)."""
    share = np.minimum(_DOMED * (widths.min(axis=2) / _LARGE_BEAD_MM) ** 3, _MOST_DOMED)
    kinds = np.where(_HEIGHTS < _FLAT, 0.0, np.where(_HEIGHTS < 1, 1.0, _DOMED_BALL))
    return np.asarray(kinds[:, None] * share)


def _lying_tubes(sections: list[Section]) -> Build:
    solved = [_solve_tube(s) for s in sections]
    widths = np.array([w for w, _ in solved])
    return Build(
        widths=widths,
        widths_u=np.array([_corner_u(w) for w in widths]),
        half_height=np.array([b for _, b in solved]),
        flat=False,
        prismatic=True,
        unlike=_unlike(widths),
        domed_rel_u=np.zeros(len(sections)),
    )


def _solve(section: Section, height: float, *, upright: bool) -> tuple[FloatArray, float]:
    """Return sizes and half height of a body whose height is a share of its smallest size."""
    half, bevel = 0.0, _BEVEL if upright and height > _FLAT else 0.0
    widths = section.widths(half)
    for _ in range(4):
        half = height * (smallest(widths) if upright else _least_axis(widths)) / 2
        widths = section.widths(half, round_part=0.0 if upright else 1.0, bevel=bevel)
    return widths, half


def _least_axis(widths: FloatArray) -> float:
    """Return the smaller axis of the ellipse nearest to a body's squared sizes.

    An ellipse has its own back; a faceted body, whose notches are no lower than its edges are high, has
    about its mean, and upwards it is just another of its sizes.
    """
    wave = np.fft.rfft(widths**2) / len(widths)
    own = wave[0].real - 2 * np.abs(wave[1])
    return float(np.sqrt(max(own, (_THIN * smallest(widths)) ** 2)))  # a strip is no ellipse


def _solve_tube(section: Section) -> tuple[FloatArray, float]:
    """Return sizes and half height of a cylinder on its side.

    Seen along a horizontal direction at the angle psi from its axis, it is a segment plus an ellipse of
    half width r |sin psi| and half height r.
    """
    widths, half = _solve(section, 1.0, upright=True)
    angle = np.arange(DIRECTIONS) * np.pi / DIRECTIONS
    for _ in range(4):
        across = float(angle[int(np.argmin(widths))])
        round_part = np.clip(half * np.abs(np.cos(angle - across)) / (widths / 2), 0, 1)
        widths = section.widths(half, round_part=round_part)
        half = smallest(widths) / 2
    return widths, half


def _corner_u(widths: FloatArray) -> FloatArray:
    """Return the standard uncertainty of a prism's sizes from how its edges are rounded.

    Between two flat sides there is none; from corner to corner it is all in the corners.
    """
    least = smallest(widths)
    return _CORNER_U * least * (widths - least) / max(float(widths.max()) - least, 1e-9)


def _rectness(widths: FloatArray) -> float:
    """Return the fourth harmonic of sizes over directions, relative to their mean."""
    wave = np.abs(np.fft.rfft(widths))
    return float(2 * wave[2] / wave[0])


def _aspect(widths: FloatArray) -> float:
    """Return the size square to the smallest over the smallest."""
    k = int(np.argmin(widths))
    return float(widths[(k + DIRECTIONS // 2) % DIRECTIONS] / widths[k])


def _away(section: Section) -> int:
    """Return the index of the direction away from the camera's foot."""
    middle = section.middle(0.0)
    angle = np.arctan2(middle[DIRECTIONS // 2], middle[0]) % np.pi
    return round(float(angle) / np.pi * DIRECTIONS) % DIRECTIONS


def _evidence(widths: FloatArray, away: FloatArray) -> float:
    """Return the log-likelihood that sizes do not depend on the direction away from the camera.

    How much they vary between two other directions, at 45 degrees to it, is the measure of chance.
    """
    rows = np.arange(len(widths))
    out, askew, across, back = (widths[rows, (away + k * DIRECTIONS // 4) % DIRECTIONS] for k in range(4))
    mean = widths.mean(axis=1)
    scatter = np.hypot(_LEAST_SCATTER, robust_sd((askew - back) / mean, about=0.0))
    squares = ((out - across) / mean / scatter) ** 2
    return float(-0.5 * _CAUTION * np.sum(np.minimum(squares, _FARTHEST_OUTLIER)))


def _evidence_alike(widths: FloatArray) -> float:
    """Return the log-likelihood that beads are of one shape, by the scatter of their length over width.

    Long beads lie in all directions: what the view adds to one's length it adds to another's width.
    """
    aspect = _log_aspects(widths)
    apart = np.minimum(np.abs(aspect - np.median(aspect)), _UNLIKE_OUTLIER * robust_sd(aspect))
    variance = float(np.mean(apart**2)) + _LEAST_UNLIKE**2
    return -0.5 * _ALIKE_CAUTION * len(widths) * float(np.log(variance))


def _log_aspects(widths: FloatArray) -> FloatArray:
    """Return the logarithm of each bead's length over its width."""
    return np.asarray(np.log(widths.max(axis=1) / widths.min(axis=1)))


def _unlike(widths: FloatArray) -> float:
    """Return the scatter of length over width beyond that of beads of one kind."""
    scatter = robust_sd(_log_aspects(widths))
    return float(np.sqrt(max(scatter**2 - _USUALLY_UNLIKE**2, 0.0)))
