"""Moves outlines to where the bead's edge really is: a model of how light falls off towards a rim.

A round bead darkens towards its rim like the cosine of the surface's slope, and a glossy one mirrors
the bed there more and more (Fresnel's law, in Schlick's form, 1994), so that the blurred profile is
steepest, and crosses half of its height, well inside the outline. Profiles are averaged over short
arcs, and explained by bed (level and slope) and bead (level, and the cosine of a sphere), both
blurred alike; the place of the edge that leaves least unexplained is taken. Blur and finish are what
serves all beads of the photo best; where matt and glossy serve alike, the edge is taken between.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.common.records import FloatArray

OFFSETS_PX = np.arange(-6.0, 5.01, 0.5)
ARC = 12
"""Points averaged into one profile."""
_SHIFTS_PX = np.arange(-2.0, 2.01, 0.2)
_BLURS_PX = (0.6, 0.8, 1.0, 1.3, 1.7, 2.2)
_DECISIVE = 8
_MODEL_DOUBT_PX = 0.13
_FINE = np.arange(-16.0, 16.0, 0.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Where the edges lie.

    Attributes
    ----------
    shift_px : ndarray, shape (A,)
        How far outwards the edge lies from offset 0, of each arc.
    gain : ndarray, shape (A,)
        Misfit of a wrong place over that of the right one, at least 1: how surely it is known.
    doubt_px : float
        Standard uncertainty common to all, from finish and model.
    """

    shift_px: FloatArray
    gain: FloatArray
    doubt_px: float


def edge_shifts(profiles: FloatArray, radius_px: FloatArray) -> Settled:
    """Find the edges of all arcs of a photo.

    Parameters
    ----------
    profiles : ndarray, shape (A, len(OFFSETS_PX), 3)
        Linear light of each arc.
    radius_px : ndarray, shape (A,)
        Of the bead the arc belongs to.
    """
    (matt, misfit), (glossy, misfit_glossy) = (
        _best_blur(profiles, radius_px, gloss) for gloss in (False, True)
    )
    share = 1 / (1 + (glossy / max(matt, 1e-12)) ** _DECISIVE)
    (one, gain), (other, gain_glossy) = _vertex(misfit), _vertex(misfit_glossy)
    apart = float(np.median(np.abs(one - other)))
    return Settled(
        shift_px=(1 - share) * one + share * other,
        gain=(1 - share) * gain + share * gain_glossy,
        doubt_px=float(np.hypot(_MODEL_DOUBT_PX, apart * np.sqrt(share * (1 - share)))),
    )


def _best_blur(profiles: FloatArray, radius_px: FloatArray, gloss: bool) -> tuple[float, FloatArray]:  # noqa: FBT001
    """Return the typical misfit under the blur that serves best, and all misfits, shape (shifts, A)."""
    classes = np.round(np.log2(np.maximum(radius_px, 4.0)) * 2).astype(int)
    tried = []
    for blur in _BLURS_PX:
        misfit = np.empty((len(_SHIFTS_PX), len(profiles)))
        for size in np.unique(classes):
            mine = classes == size
            misfit[:, mine] = _misfits(profiles[mine], 2.0 ** (size / 2), (blur, gloss))
        tried.append((float(np.median(misfit.min(axis=0))), misfit))
    return min(tried, key=lambda result: result[0])


def _misfits(profiles: FloatArray, radius_px: float, look: tuple[float, bool]) -> FloatArray:
    """Return the unexplained light of every arc for every place of the edge, shape (shifts, A)."""
    whole = np.sum(profiles**2, axis=(1, 2))
    rows = []
    for shift in _SHIFTS_PX:
        basis = np.linalg.qr(_model(shift, radius_px, look))[0]
        rows.append(whole - np.sum(np.einsum("kj,akc->ajc", basis, profiles) ** 2, axis=(1, 2)))
    return np.maximum(np.array(rows), 1e-12)


def _model(shift_px: float, radius_px: float, look: tuple[float, bool]) -> FloatArray:
    """Return what profiles across an edge are made of, one column each."""
    blur_px, gloss = look
    bead = (shift_px > _FINE).astype(float)
    depth = np.clip((shift_px - _FINE) / radius_px, 0, 1)
    cosine = np.sqrt(depth * (2 - depth))
    mirror = bead * (0.04 + 0.96 * (1 - cosine) ** 5) if gloss else 0 * bead
    parts = [
        1 - bead + mirror,
        np.minimum(np.maximum(_FINE - shift_px, 0), 8) / radius_px,
        bead * (1 - mirror),
        cosine * (1 - mirror),
    ]
    blurred = [ndimage.gaussian_filter1d(p, blur_px / 0.1, mode="nearest", truncate=3) for p in parts]
    return np.stack([np.interp(OFFSETS_PX, _FINE, b) for b in blurred], axis=1)


def _vertex(misfit: FloatArray) -> tuple[FloatArray, FloatArray]:
    least = np.clip(np.argmin(misfit, axis=0), 1, len(_SHIFTS_PX) - 2)
    arcs = np.arange(misfit.shape[1])
    left, middle, right = (misfit[least + d, arcs] for d in (-1, 0, 1))
    bend = np.maximum(left - 2 * middle + right, 1e-15)
    shift = _SHIFTS_PX[least] + np.clip(0.5 * (left - right) / bend, -1, 1) * 0.2
    gain: FloatArray = np.median(misfit, axis=0) / np.maximum(middle, 1e-12)
    return shift, gain


def smooth_shifts(shift_px: FloatArray, gain: FloatArray, usable: NDArray[np.bool_]) -> FloatArray:
    """Return one shift an arc, evened along each bead: shape (B, arcs).

    Arcs that tell little, are covered or differ wildly follow the bead's median.
    """
    weight = np.where(usable & (np.abs(shift_px) < 1.9), np.clip(gain - 1, 0, 4), 0) + 1e-9
    middles = (
        np.quantile(s, 0.5, weights=w, method="inverted_cdf") for s, w in zip(shift_px, weight, strict=True)
    )
    usual = np.array(list(middles))[:, None]
    weight *= np.where(np.abs(shift_px - usual) < 0.8, 1, 0)
    weight += 0.02
    value = np.where(np.abs(shift_px - usual) < 0.8, shift_px, usual)
    blur = [ndimage.gaussian_filter1d(a, 1.0, axis=1, mode="wrap") for a in (weight * value, weight)]
    smooth: FloatArray = blur[0] / blur[1]
    return smooth
