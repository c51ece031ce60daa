"""How high the widest points of a lot's beads stand, estimated from all of them.

A ball shows the camera more of its far side the further out it lies, a coin does not: towards the edge of
the view outlines of balls stretch away from the point below the camera (by sqrt(1 + X^2 / (H (H - d)))).
Every body that beads may have predicts how much. The right one leaves sizes that do not depend on that
direction, and gives beads of one kind the same length over width however they lie. The candidate bodies
are weighted by this evidence, and the spread of their sizes is an uncertainty.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.lot.feret import DIRECTIONS, Section, smallest
from vision.lot.solids import FLAT, THIN, corner_u, solve, solve_tube

_HEIGHTS = np.array([0.08, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 1.0])
"""Assumed heights over smallest size: of coins, tablets, drops, rondelles, balls and cubes."""
_IS_FLAT, _IS_THIN = _HEIGHTS < FLAT, _HEIGHTS < THIN
_PRIOR = np.array([0.04, 0.04, 0.04, 0.04, 0.05, 0.06, 0.07, 0.05, 0.05, 0.56])
"""Prior weights of the heights: most beads are as high as wide (common practice, no source)."""
_LARGE_BEAD_MM = 10.0
"""Few beads are larger, few coins and drops of glass are smaller: the share of these grows with the cube of
the size. At half the median error is 0.051 mm."""
_DOMED, _MOST_DOMED, _DOMED_BALL = 0.05, 0.5, 0.1
"""Share of things as large as large beads that are drops of glass, flat below and widest where they lie. It
grows with the size up to the second; for things as high as balls it is multiplied by the third (common
practice, no source)."""
_PRISMATIC = 1 / 15
"""Beads are prisms if the fourth harmonic of their sizes exceeds this share of the mean: it is 2/15 for any
rectangle, and 0 for an ellipse of small aspect, and this is half way. In 36 lots cubes and tubes have 0.071
and more, cubes that shadows join the least; all others have 0.045 and less, cut beads the most."""
_LONG = 1.2
"""Prisms of more than this length over width lie on their sides. At half, which is below that of a cube, 95
in 100 errors lie within 0.45 mm."""
_PROFILE_U = 0.12
"""Uncertainty of the height over the size where a bead is not a ball: its profile is assumed to be an
ellipse. At half there are 8 flags fewer, at double 24 more."""
_LEAST_SCATTER, _FARTHEST_OUTLIER = 0.006, 12.0
"""Least relative scatter of sizes over directions, from the edges alone; and the squared deviation, in units
of the scatter, at which the evidence of one bead is capped (3.5 standard deviations)."""
_OWN_SHARE, _OWN_SHARE_ALIKE = 0.5, 0.2
"""The beads of a lot err together (one edge model, one camera): each counts as half an observation, and as
less where they are also assumed to be of one kind. At double of either 4 more sizes are refused."""
_LEAST_ASPECT_SD, _USUAL_ASPECT_SD, _ASPECT_OUTLIER = 0.012, 0.02, 2.5
"""Standard deviations of the logarithm of length over width: from the edges alone, and within one kind of
beads (common practice, no source). Deviations are capped at the third, in robust standard deviations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What the beads of a lot have in common.

    Attributes
    ----------
    flat : bool
        Lower than 0.4 of their smallest size.
    prismatic : bool
        Upright prisms or lying tubes.
    aspect_scatter : float
        Relative scatter of length over width, beyond what is usual of one kind.
    """

    flat: bool
    prismatic: bool
    aspect_scatter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """One bead's sizes, given what is known of the bodies of its lot.

    Attributes
    ----------
    widths_mm, widths_u_mm : ndarray, shape (DIRECTIONS,)
        Caliper sizes, and their standard uncertainties from what is not known of the body.
    half_height_mm : float
        Height of the middle above the bed.
    dome_rel_u : float
        Relative standard uncertainty of sizes because the widest points may lie on the bed, as a drop's do.
    kind : Kind
    """

    widths_mm: FloatArray
    widths_u_mm: FloatArray
    half_height_mm: float
    dome_rel_u: float
    kind: Kind


def estimate_bodies(sections: Sequence[Section], *, flat: bool | None) -> list[Body]:
    """Return the bodies of all beads of a lot, by weighting those that beads may have by what is seen.

    Parameters
    ----------
    sections : sequence of Section
        At least one.
    flat : bool or None
        True: flat discs; False: none of them flat; None: estimate.
    """
    lot = Section.of_all(sections)
    upright = solve(lot, 1.0, upright=True)[0]
    prismatic = flat is not True and float(np.median(_fourth_harmonic(upright))) > _PRISMATIC
    if prismatic and np.median(_aspect(upright)) > _LONG:
        return _lying_tubes(lot)
    prior = _prior(flat=flat, usual_mm=float(np.median(smallest(upright))))
    return _average(lot, prior, upright=prismatic, domes=flat is None and not prismatic)


def _prior(*, flat: bool | None, usual_mm: float) -> FloatArray:
    """Return the prior weights of `_HEIGHTS`; things as large as coins are rather coins than beads."""
    prior = np.where(_IS_THIN, _PRIOR * (usual_mm / _LARGE_BEAD_MM) ** 3, _PRIOR)
    return prior if flat is None else prior * (flat == _IS_FLAT)


def _average(lot: Section, prior: FloatArray, *, upright: bool, domes: bool) -> list[Body]:
    """Average over the heights, weighted by prior and evidence; with `domes`, some beads may be domed."""
    # thin ones are upright prisms
    tried = [solve(lot, h, upright=upright or thin) for h, thin in zip(_HEIGHTS, _IS_THIN, strict=True)]
    widths, half = (np.array(each) for each in zip(*tried, strict=True))
    growth = half / (lot.above_mm - half)
    domed = _dome_probability(widths) if domes else np.zeros_like(half)
    widths = widths * (1 + domed * growth)[:, :, None]
    weight = _posterior(prior, widths, lot.radial)
    mean = np.einsum("h,hbd->bd", weight, widths)
    variance = _height_variance(weight, widths, mean) + (corner_u(mean) ** 2 if upright else 0.0)
    is_flat = bool(weight[_IS_FLAT].sum() > 0.5)
    kind = Kind(flat=is_flat, prismatic=upright, aspect_scatter=aspect_scatter(mean))
    halves, dome_rel_u = weight @ half, np.sqrt(weight @ (domed * (1 - domed) * growth**2))
    return [
        Body(widths_mm=w, widths_u_mm=u, half_height_mm=float(b), dome_rel_u=float(dome_u), kind=kind)
        for w, u, b, dome_u in zip(mean, np.sqrt(variance), halves, dome_rel_u, strict=True)
    ]


def _dome_probability(widths: FloatArray) -> FloatArray:
    """Return the probability that each bead is flat below if it is of each of `_HEIGHTS`, shape (H, B)."""
    share = np.minimum(_DOMED * (widths.min(axis=2) / _LARGE_BEAD_MM) ** 3, _MOST_DOMED)
    kinds = ~_IS_FLAT * np.where(_HEIGHTS < 1, 1.0, _DOMED_BALL)
    return np.asarray(kinds[:, None] * share)


def _posterior(prior: FloatArray, widths: FloatArray, radial: NDArray[np.intp]) -> FloatArray:
    """Return the weights of `_HEIGHTS`, sum 1."""
    evidence = np.array([radial_evidence(w, radial) + aspect_evidence(w) for w in widths])
    evidence[prior == 0] = -np.inf  # however well it would explain a large lot
    weight = prior * np.exp(evidence - evidence.max())
    return np.asarray(weight / weight.sum())


def radial_evidence(widths: FloatArray, radial: NDArray[np.intp]) -> float:
    """Return the log-likelihood that sizes do not depend on the direction away from the camera.

    The difference between two other directions, at 45 degrees to it, shows how much they vary by chance.

    Parameters
    ----------
    widths : ndarray, shape (B, DIRECTIONS)
    radial : ndarray of int, shape (B,)
        Index of each bead's direction away from the point below the camera.
    """
    rows = np.arange(len(widths))
    out, askew, across, back = (widths[rows, (radial + k * DIRECTIONS // 4) % DIRECTIONS] for k in range(4))
    mean = widths.mean(axis=1)
    scatter = np.hypot(_LEAST_SCATTER, robust_sd((askew - back) / mean, about=0.0))
    squares = ((out - across) / mean / scatter) ** 2
    return float(-0.5 * _OWN_SHARE * np.sum(np.minimum(squares, _FARTHEST_OUTLIER)))


def aspect_evidence(widths: FloatArray) -> float:
    """Return the log-likelihood that beads are of one shape, by the scatter of their length over width.

    Long beads lie in all directions: what the view adds to the length of one it adds to the width of another.
    """
    aspect = _log_aspects(widths)
    apart = np.minimum(np.abs(aspect - np.median(aspect)), _ASPECT_OUTLIER * robust_sd(aspect))
    variance = float(np.mean(apart**2)) + _LEAST_ASPECT_SD**2
    return -0.5 * _OWN_SHARE_ALIKE * len(widths) * float(np.log(variance))


def _log_aspects(widths: FloatArray) -> FloatArray:
    """Return the logarithm of each bead's length over its width."""
    return np.asarray(np.log(widths.max(axis=1) / widths.min(axis=1)))


def aspect_scatter(widths: FloatArray) -> float:
    """Return the scatter of length over width beyond that of beads of one kind."""
    scatter = robust_sd(_log_aspects(widths))
    return float(np.sqrt(max(scatter**2 - _USUAL_ASPECT_SD**2, 0.0)))


def _height_variance(weight: FloatArray, widths: FloatArray, mean: FloatArray) -> FloatArray:
    """Return the variance of sizes, (B, DIRECTIONS), from the height and, where no ball's, the profile."""
    variance = np.einsum("h,hbd->bd", weight, (widths - mean) ** 2)
    slope = np.einsum("h,hbd->bd", weight * (_HEIGHTS < 1), np.gradient(widths, _HEIGHTS, axis=0))
    return np.asarray(variance + (_PROFILE_U * slope) ** 2)


def _lying_tubes(lot: Section) -> list[Body]:
    sizes, halves = solve_tube(lot)
    kind = Kind(flat=False, prismatic=True, aspect_scatter=aspect_scatter(sizes))
    return [
        Body(widths_mm=widths, widths_u_mm=u, half_height_mm=float(half), dome_rel_u=0.0, kind=kind)
        for widths, u, half in zip(sizes, corner_u(sizes), halves, strict=True)
    ]


def _fourth_harmonic(widths: FloatArray) -> FloatArray:
    """Return the fourth harmonic of sizes over directions, relative to their mean, shape (B,)."""
    wave = np.abs(np.fft.rfft(widths))
    return np.asarray(2 * wave[:, 2] / wave[:, 0])


def _aspect(widths: FloatArray) -> FloatArray:
    """Return the size square to the smallest over the smallest, shape (B,)."""
    square_to = (np.argmin(widths, axis=1) + DIRECTIONS // 2) % DIRECTIONS
    return np.asarray(widths[np.arange(len(widths)), square_to] / widths.min(axis=1))
