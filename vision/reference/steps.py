"""Steps in the light on short profiles across an outline: candidates for the thing's edge.

A card's print has edges, and so has its shadow. So a profile has several candidates, and which of them
belong together is decided by the shape of the whole (`agreement.py`).
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from vision.camera.camera import Camera, on_plane
from vision.common.records import FloatArray
from vision.reference.outline import Outline
from vision.reference.sharpening import PlainLight

STEP_PX = 0.5
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
class View:
    """How a plane parallel to the sheet is seen.

    Attributes
    ----------
    camera : Camera
    light : PlainLight
    height_mm : float
        Of the plane above the sheet.
    """

    camera: Camera
    light: PlainLight
    height_mm: float


def profiles(view: View, outline: Outline, *, offsets_mm: FloatArray, group: int) -> FloatArray:
    """Return linear light on profiles across an outline, the mean of every `group` neighbours, (G, S, 3).

    Parameters
    ----------
    view : View
    outline : Outline
        Of N points, on the plane of the upper face; N is a multiple of `group` on each side.
    offsets_mm : ndarray, shape (S,)
        Along the outwards normal, on the plane of the upper face.
    group : int
    """
    across = outline.points_mm[:, None] + offsets_mm[None, :, None] * outline.normals[:, None]
    seen = view.light.at(view.camera.project(on_plane(across, view.height_mm)))
    return np.asarray(seen.reshape(-1, group, *seen.shape[1:]).mean(axis=1))


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
    peak = (middle >= left) & (middle > right) & (middle > np.maximum(floor, _LEAST_SHARE * beside))
    order = np.argsort(np.where(peak, -middle, np.inf), axis=1)[:, :MOST]
    bend = np.minimum(left - 2 * middle + right, -1e-12)
    where = np.where(peak, offsets_mm[1:-1] + step_mm * 0.5 * (left - right) / bend, np.nan)
    return Candidates(
        offsets_mm=np.take_along_axis(where, order, axis=1),
        strength=np.take_along_axis(strength, order, axis=1),
    )
