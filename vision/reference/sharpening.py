"""Undoes the sharpening that phones apply, as far as the edges of the tags show it.

A phone adds to each stored value a share of what the value lies above its surroundings. Beside an edge this
leaves a dark and a bright seam, which look like a thin shadow. How much was added, how widely, and how
blurred edges were before, is fitted to the black and white sides of the tags.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.optimize import least_squares
from scipy.special import ndtr

from vision.camera.scene import Scene
from vision.common.records import FloatArray, Photo
from vision.image.light import SRGB_TO_LINEAR
from vision.image.sampling import crop_about, sample
from vision.sheet.tags import Tags, across_sides

_REACH_PX, _STEP_PX = 6.0, 0.25
_REACH_SHARE = 0.11
"""Of a tag's side: within the black border, which is an eighth."""
_SIDE_SHARE, _PROFILES = (0.12, 0.88), 24
_START = (0.6, 0.2, 1.2, 0.0)
_LOWEST, _HIGHEST = (0.3, 0.0, 0.8, -2.0), (3.0, 2.0, 2.5, 2.0)
"""Of blur, share added, radius of the surroundings (px), and place of the edge."""
_ROUNDS = 12
"""The error shrinks by share / (1 + share) a round, at most two thirds."""
_MARGIN_PX = 16
_CODES = np.arange(256) / 255.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharpening:
    """How a phone sharpened a photo.

    Attributes
    ----------
    share : float
        Of the difference from the surroundings that was added; 0 where nothing was.
    radius_px : float
        Standard deviation of the Gaussian that the surroundings were averaged with.
    blur_px : float
        Standard deviation of the blur of edges before.
    """

    share: float
    radius_px: float
    blur_px: float

    def undone(self, codes: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return the values, shape (H, W, C), before the sharpening, by fixed-point iteration."""
        plain = codes
        for _ in range(_ROUNDS if self.share > 0 else 0):
            around = cv2.GaussianBlur(plain, (0, 0), self.radius_px)
            plain = np.asarray((codes + self.share * around) / (1 + self.share), dtype=np.float32)
        return plain


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainLight:
    """Linear light of a part of a photo, its sharpening undone.

    Attributes
    ----------
    light : ndarray, shape (H, W, 3)
    first_px : ndarray, shape (2,)
        The photo's pixel (x, y) that its first value belongs to.
    """

    light: NDArray[np.float32]
    first_px: NDArray[np.intp]

    def at(self, points_px: FloatArray) -> FloatArray:
        """Return the light at points (N, ..., 2) of the photo, shape (N, ..., 3)."""
        return sample(self.light, points_px - self.first_px)


def plain_light(scene: Scene, sharpening: Sharpening, points_px: FloatArray) -> PlainLight:
    """Return the light of the part of a photo that holds some points, shape (..., 2), and a margin."""
    part, low = crop_about(scene.photo.rgb, points_px, margin_px=_MARGIN_PX)
    codes = sharpening.undone((part / 255).astype(np.float32))
    light = np.interp(codes, _CODES, SRGB_TO_LINEAR).astype(np.float32)
    return PlainLight(light=light, first_px=low)


def sharpening_of(photo: Photo, tags: Tags) -> Sharpening:
    """Return how a photo was sharpened, fitted to the mean profile across the sides of its tags."""
    return fitted(*_mean_profile(photo, tags))


def fitted(offsets_px: FloatArray, profile: FloatArray) -> Sharpening:
    """Return how an edge from black to white was sharpened, by the stored values across it, shape (S,)."""
    fit = least_squares(_residual, _START, bounds=(_LOWEST, _HIGHEST), args=(offsets_px, profile))
    blur, share, radius, _ = fit.x
    return Sharpening(share=float(share), radius_px=float(radius), blur_px=float(blur))


def _residual(parameters: FloatArray, offsets: FloatArray, profile: FloatArray) -> FloatArray:
    blur, share, radius, place = parameters
    dark, bright = _light(profile[:4]), _light(profile[-4:])
    edge = encoded(dark + (bright - dark) * ndtr((offsets - place) / blur))
    around = ndimage.gaussian_filter1d(edge, radius / _STEP_PX, mode="nearest")
    return np.asarray(np.clip(edge + share * (edge - around), 0, 1) - profile)


def _light(codes: FloatArray) -> float:
    return float(np.interp(np.median(codes), _CODES, SRGB_TO_LINEAR))


def encoded(light: FloatArray) -> FloatArray:
    """Return the stored values, 0 to 1, of linear light."""
    return np.asarray(np.interp(light, SRGB_TO_LINEAR, _CODES))


def _mean_profile(photo: Photo, tags: Tags) -> tuple[FloatArray, FloatArray]:
    """Return offsets outwards from the sides of the tags, px, and the median stored values, shape (S,)."""
    reach = min(_REACH_PX, _REACH_SHARE * float(np.median(tags.sides_px)))
    offsets = np.arange(-reach, reach + 1e-9, _STEP_PX)
    profiles = []
    for tag in across_sides(tags.corners_px, offsets, share=_SIDE_SHARE, count=_PROFILES):
        part, low = crop_about(photo.rgb, tag)
        grey = part.astype(np.float32).mean(axis=2) / 255
        profiles.append(sample(grey, tag - low).mean(axis=1))
    return offsets, np.median(np.concatenate(profiles), axis=0)
