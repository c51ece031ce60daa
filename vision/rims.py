"""The strand's sides to a fraction of a pixel, on the photo's own pixels and in linear light.

A blurred edge is steepest where the sharp one stood (a curved one, radius R and blur s, shifts by
s^2 / 2R: 0.01 px here), whatever the levels on either side, so the steepest place of the colour is
taken, near where the sides are known to run.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage

from vision.axis import Axis
from vision.camera import Camera
from vision.flanks import Flanks
from vision.light import to_linear
from vision.records import FloatArray, Photo

_REACH_MM = 0.45
_STEP_MM = 0.04
_ALONG_SIGMA_STEPS = 1.2
_TRUST_MM = 0.22
"""Standard deviation of the coarse side about the true one; prior of the search."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rims:
    """Edge points of both sides, one pair a step along the axis.

    Attributes
    ----------
    left_px, right_px : ndarray, shape (S, 2)
        Photo (x, y).
    left_mm, right_mm : ndarray, shape (S,)
        Aside of the axis, in its plane.
    strength : ndarray, shape (2, S)
        Steepness of either edge over the typical steepness of the bed beside it.
    """

    left_px: FloatArray
    right_px: FloatArray
    left_mm: FloatArray
    right_mm: FloatArray
    strength: FloatArray


def find_rims(photo: Photo, camera: Camera, axis: Axis, flanks: Flanks, *, height_mm: float) -> Rims:
    """Refine the sides of a strand whose axis runs at `height_mm` above the sheet."""
    offsets = np.arange(-_REACH_MM, _REACH_MM + _STEP_MM / 2, _STEP_MM)
    coarse = np.stack([flanks.left_mm, flanks.right_mm])
    coarse = ndimage.median_filter(coarse, size=(1, 5), mode="nearest")
    outward = np.array([-1.0, 1.0])[:, None, None]
    aside = coarse[..., None] + outward * offsets  # (2, S, K), outwards last
    points = axis.points_mm[None, :, None] + aside[..., None] * axis.normals[None, :, None]
    height = np.full((*aside.shape, 1), height_mm)
    pixels = camera.project(np.concatenate([points, height], axis=-1))
    light = _light_at(photo, pixels)
    slope = _slopes(light)
    prior = np.exp(-0.5 * (offsets / _TRUST_MM) ** 2)
    at, peak = _peaks(slope * prior, slope)
    noise = np.median(slope[..., -4:], axis=(1, 2))[:, None] + 1e-6
    where = offsets[0] + at * _STEP_MM
    refined = coarse + outward[..., 0] * where
    rim = axis.points_mm[None] + refined[..., None] * axis.normals[None]
    rim_px = camera.project(np.concatenate([rim, np.full((*refined.shape, 1), height_mm)], axis=-1))
    return Rims(
        left_px=rim_px[0],
        right_px=rim_px[1],
        left_mm=refined[0],
        right_mm=refined[1],
        strength=peak / noise,
    )


def _light_at(photo: Photo, pixels: FloatArray) -> FloatArray:
    """Return linear RGB at pixel positions (..., 2), shape (..., 3)."""
    rows, columns = photo.rgb.shape[:2]
    low = np.clip(np.floor(pixels.reshape(-1, 2).min(axis=0)).astype(int) - 2, 0, [columns - 2, rows - 2])
    high = np.clip(np.ceil(pixels.reshape(-1, 2).max(axis=0)).astype(int) + 3, low + 2, [columns, rows])
    window = to_linear(photo.rgb[low[1] : high[1], low[0] : high[0]])
    local = (pixels - low).astype(np.float32).reshape(-1, pixels.shape[-2], 2)
    light = cv2.remap(window, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(light, dtype=float).reshape(*pixels.shape[:-1], 3)


def _slopes(light: FloatArray) -> FloatArray:
    """Return the steepness of the colour across each side, shape (2, S, K)."""
    smooth = ndimage.gaussian_filter1d(light, _ALONG_SIGMA_STEPS, axis=1, mode="nearest")
    change = ndimage.gaussian_filter1d(smooth, 1.5, axis=2, order=1, mode="nearest")
    return np.linalg.norm(change, axis=-1)


def _peaks(weighted: FloatArray, slope: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return place (in steps, fractional) and height of the likeliest peak of each profile."""
    inner = weighted[..., 1:-1]
    best = inner.argmax(axis=2)[..., None] + 1
    before, top, after = (np.take_along_axis(slope, best + k, axis=2)[..., 0] for k in (-1, 0, 1))
    bend = before - 2 * top + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1.0), 0.0)
    return best[..., 0] + np.clip(shift, -1, 1), top
