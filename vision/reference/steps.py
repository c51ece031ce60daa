"""Steps in the light on short profiles across an outline: candidates for the thing's edge.

A card's print has edges, and so has its shadow. So a profile has several candidates, and which of them
belong together is decided by the shape of the whole (`agreement.py`).
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from vision.common.numerics import peaks
from vision.common.records import FloatArray

_SMOOTHING_PX = 1.0
_LEAST_TIMES = 5.0
"""A candidate is this many times as steep as the profiles' median slope: noise and grain rarely are."""
_LEAST_LIGHT = 0.002
"""Of full light per pixel: what JPEG blocks differ by (set on drawn photos)."""
_LEAST_SHARE, _HALO_PX = 0.2, 5.0
"""Of the steepest step within so many pixels: what sharpening leaves beside a step is at most 15 %."""
MOST = 6
"""Candidates kept on a profile, the steepest ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidates:
    """The steepest steps of each profile.

    Attributes
    ----------
    offsets_mm : ndarray, shape (G, MOST)
        NaN where there are fewer.
    strength : ndarray, shape (G, MOST)
        Steepness, as a share of the steepest step of the profile.
    """

    offsets_mm: FloatArray
    strength: FloatArray


def candidates(light: FloatArray, offsets_mm: FloatArray, *, px_per_mm: float) -> Candidates:
    """Return the steepest steps of profiles, light of shape (G, S, 3) at offsets of shape (S,)."""
    step_mm = float(offsets_mm[1] - offsets_mm[0])
    sigma = _SMOOTHING_PX / px_per_mm / step_mm
    slope = ndimage.gaussian_filter1d(light, sigma, axis=1, order=1) / (step_mm * px_per_mm)
    steep = np.linalg.norm(slope, axis=2)
    floor = max(_LEAST_LIGHT, _LEAST_TIMES * float(np.median(steep)))
    left, middle, right = steep[:, :-2], steep[:, 1:-1], steep[:, 2:]
    strength = middle / np.maximum(middle.max(axis=1, keepdims=True), _LEAST_LIGHT)
    beside = ndimage.maximum_filter1d(middle, 1 + 2 * round(_HALO_PX / px_per_mm / step_mm), axis=1)
    peak = peaks(steep)[:, 1:-1] & (middle > np.maximum(floor, _LEAST_SHARE * beside))
    order = np.argsort(np.where(peak, -middle, np.inf), axis=1)[:, :MOST]
    bend = np.minimum(left - 2 * middle + right, -1e-12)
    where = np.where(peak, offsets_mm[1:-1] + step_mm * 0.5 * (left - right) / bend, np.nan)
    return Candidates(
        offsets_mm=np.take_along_axis(where, order, axis=1),
        strength=np.take_along_axis(strength, order, axis=1),
    )
