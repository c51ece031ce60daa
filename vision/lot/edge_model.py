"""Moves outlines to where a bead's edge really is: a model of how light falls off towards a rim.

A round bead darkens towards its rim like the cosine of the surface's slope, and a glossy one mirrors
the bed there more and more (Fresnel's law, in Schlick's form, 1994). So the blurred profile is
steepest, and crosses half of its height, well inside the outline. Profiles are averaged over short
arcs and explained by bed (level and slope) and bead (level, and the cosine of a sphere), both blurred
alike; the place of the edge that leaves least light unexplained is taken. One blur and one finish are
chosen for all beads of a photo; where matt and glossy explain the light equally well, the edge is
placed between the two.
"""

import math

import numpy as np
from scipy import ndimage

from vision.common.records import FloatArray, Mask

OFFSETS_PX = np.arange(-6.0, 5.01, 0.5)
"""Where a profile is sampled, outwards from the steepest light."""
ARC = 12
"""Points averaged into one profile. At double 0.952 of the sizes lie within their uncertainty, not 0.959."""
_SHIFT_STEP_PX = 0.2
_SHIFTS_PX = np.arange(-2.0, 2.01, _SHIFT_STEP_PX)
"""Places of the edge that are tried."""
_BLURS_PX = (0.6, 0.8, 1.0, 1.3, 1.7, 2.2)
"""Blurs that are tried, from a sharp phone picture to a poorly focused one, each about a third larger than
the last."""
_BLUR_TIMES = 2.0
"""Pictures blurred more than so many times as much as a sharp one are sampled in larger units than pixels, so
that the blurs that are tried lie about theirs."""
_FINE_STEP_PX = 0.1
_FINE_PX = np.arange(-16.0, 16.0, _FINE_STEP_PX)
"""The model is drawn in steps of a sixth of the least blur, over all that blurs into a profile."""
_SLOPE_PX = 8.0
"""The light of the bed slopes this far from the edge and is even beyond, where profiles do not reach."""
_MIRROR = 0.04
"""Share of the light that glass of index 1.5 reflects straight back: ((n - 1) / (n + 1))^2, Fresnel's law."""
_DECISIVE = 8
"""Power of the ratio of misfits that weights matt against glossy. At half or double 2 sizes more or fewer are
refused."""
_MODEL_U_PX = 0.13
"""Standard uncertainty of the model itself in a sharp photo, set on drawn ones. At half 2 sizes fewer are
refused."""
_OUTLIER_PX, _MOST_GAIN, _LEAST_WEIGHT, _SMOOTH_ARCS = 0.8, 4.0, 0.02, 1.0
"""An arc farther than the first from the bead's median is replaced by it. Weights grow with the gain up to
the second, and are at least the third. The fourth is the standard deviation of the smoothing, in arcs."""


def unit_px(blur_times: float) -> float:
    """Return how many pixels stand for one in a picture that is blurred so many times as much as a sharp one.

    Examples
    --------
    >>> unit_px(1.5), unit_px(6.0)
    (1.0, 3.0)
    """
    return max(1.0, blur_times / _BLUR_TIMES)


def blur_u_px(blur_times: float) -> float:
    """Return the standard uncertainty of all edges that blur adds to that of a sharp photo.

    Examples
    --------
    >>> blur_u_px(1.0), round(blur_u_px(2.6), 2)
    (0.0, 0.31)
    """
    return _MODEL_U_PX * math.sqrt(blur_times**2 - 1)


def edge_shifts(
    profiles: FloatArray, radius_px: FloatArray, *, blur_times: float = 1.0
) -> tuple[FloatArray, FloatArray, float]:
    """Locate the edges of all arcs of a photo.

    Parameters
    ----------
    profiles : ndarray, shape (A, len(OFFSETS_PX), 3)
        Linear light of each arc.
    radius_px : ndarray, shape (A,)
        Of the bead the arc belongs to.
    blur_times : float
        How many times as wide as in a sharp photo the edges are.

    Returns
    -------
    shift_px : ndarray, shape (A,)
        How far outwards the edge lies from offset 0.
    gain : ndarray, shape (A,)
        Misfit of a typical place over that of the best one, at least 1: how clear the edge is.
    common_u_px : float
        Standard uncertainty common to all, from finish and model.
    """
    # of each finish, under the blur that explains all arcs best
    matt, glossy = (
        min((_misfit(profiles, radius_px, blur_px=b, glossy=glossy) for b in _BLURS_PX), key=_typical)
        for glossy in (False, True)
    )
    share = 1 / (1 + (_typical(glossy) / max(_typical(matt), 1e-12)) ** _DECISIVE)
    (one, gain), (other, gain_glossy) = _vertex(matt), _vertex(glossy)
    apart = float(np.median(np.abs(one - other)))
    common_u_px = float(np.hypot(_MODEL_U_PX * blur_times, apart * np.sqrt(share * (1 - share))))
    return (1 - share) * one + share * other, (1 - share) * gain + share * gain_glossy, common_u_px


def _typical(misfit: FloatArray) -> float:
    """Return the median over all arcs of the unexplained light at their best places."""
    return float(np.median(misfit.min(axis=0)))


def _misfit(profiles: FloatArray, radius_px: FloatArray, *, blur_px: float, glossy: bool) -> FloatArray:
    """Return the misfit under one look; radii are rounded to half octaves, so that beads share a model."""
    half_octaves = np.round(np.log2(radius_px) * 2).astype(int)
    light = np.empty((len(_SHIFTS_PX), len(profiles)))
    for size in np.unique(half_octaves):
        own = half_octaves == size
        parts = _parts(2.0 ** (size / 2), blur_px=blur_px, glossy=glossy)
        light[:, own] = _unexplained(profiles[own], parts)
    return light


def _unexplained(profiles: FloatArray, parts: FloatArray) -> FloatArray:
    """Return the light of every arc that parts do not explain for every place of the edge, (shifts, A)."""
    whole = np.sum(profiles**2, axis=(1, 2))
    basis = np.linalg.qr(parts)[0].transpose(0, 2, 1)
    along = basis @ profiles.transpose(1, 0, 2).reshape(len(OFFSETS_PX), -1)
    explained = np.einsum("sjx,sjx->sx", along, along).reshape(len(_SHIFTS_PX), *profiles.shape[::2])
    return np.maximum(whole - explained.sum(axis=2), 1e-12)


def _parts(radius_px: float, *, blur_px: float, glossy: bool) -> FloatArray:
    """Return what profiles across an edge are made of, shape (shifts, len(OFFSETS_PX), 4)."""
    bead = (_FINE_PX < 0).astype(float)
    depth = np.clip(-_FINE_PX / radius_px, 0, 1)
    cosine = np.sqrt(depth * (2 - depth))
    mirror = bead * (_MIRROR + (1 - _MIRROR) * (1 - cosine) ** 5) if glossy else 0 * bead
    parts = [
        1 - bead + mirror,
        np.clip(_FINE_PX, 0, _SLOPE_PX) / radius_px,
        bead * (1 - mirror),
        cosine * (1 - mirror),
    ]
    sigma = blur_px / _FINE_STEP_PX
    blurred = ndimage.gaussian_filter1d(parts, sigma, mode="nearest", truncate=3)
    at = OFFSETS_PX - _SHIFTS_PX[:, None]
    return np.stack([np.interp(at, _FINE_PX, part) for part in blurred], axis=-1)


def _vertex(misfit: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the vertex of the parabola through each arc's least misfit, and the gain there."""
    least = np.clip(np.argmin(misfit, axis=0), 1, len(_SHIFTS_PX) - 2)
    arcs = np.arange(misfit.shape[1])
    left, middle, right = (misfit[least + d, arcs] for d in (-1, 0, 1))
    bend = np.maximum(left - 2 * middle + right, 1e-15)
    shift = _SHIFTS_PX[least] + np.clip(0.5 * (left - right) / bend, -1, 1) * _SHIFT_STEP_PX
    gain: FloatArray = np.median(misfit, axis=0) / np.maximum(middle, 1e-12)
    return shift, gain


def smooth_shifts(shift_px: FloatArray, gain: FloatArray, usable: Mask) -> FloatArray:
    """Return one shift an arc, evened along each bead: shape (B, arcs).

    Arcs that are unclear, covered or differ wildly follow the bead's median.

    Parameters
    ----------
    shift_px, gain : ndarray, shape (A,)
        By `edge_shifts`, of all beads one after the other.
    usable : ndarray of bool, shape (B, arcs)
    """
    shift, gain = shift_px.reshape(usable.shape), gain.reshape(usable.shape)
    within = np.abs(shift) < _SHIFTS_PX[-1] - _SHIFT_STEP_PX / 2  # beyond, its true place may lie off the end
    weight = np.where(usable & within, np.clip(gain - 1, 0, _MOST_GAIN), 0) + 1e-9
    medians = [
        np.quantile(s, 0.5, weights=w, method="inverted_cdf") for s, w in zip(shift, weight, strict=True)
    ]
    usual = np.array(medians)[:, None]
    alike = np.abs(shift - usual) < _OUTLIER_PX
    weight = weight * alike + _LEAST_WEIGHT
    value = np.where(alike, shift, usual)
    total, share = (
        ndimage.gaussian_filter1d(a, _SMOOTH_ARCS, axis=1, mode="wrap") for a in (weight * value, weight)
    )
    return np.asarray(total / share)
