"""How sharp a photo is, from the straight black and white edges of the sheet's own tags."""

import numpy as np

from vision.common.records import FloatArray, Photo
from vision.image.light import LUMINANCE, to_linear
from vision.image.sampling import crop_about, sample
from vision.sheet.tags import Tags

_REACH_PX = 3.0
_STEP_PX = 0.25
_MARGIN_PX = 8
"""Round a tag: more than the reach of a profile."""
_QUARTILE = 0.6745
"""Of the normal distribution: a blurred step passes from 25 % to 75 % over twice this many sigma."""
_SHARPEST_PX, _DULLEST_PX = 0.3, 2.5


def edge_blur_px(photo: Photo, tags: Tags) -> float:
    """Return the standard deviation of the blur of an edge, pixels.

    Lens, pixel, sharpening and the interpolation between pixels together, in linear light.
    """
    blurs = [blur for corners in tags.corners_px for blur in _edge_blurs(photo, corners)]
    return float(np.clip(np.median(blurs), _SHARPEST_PX, _DULLEST_PX)) if blurs else _DULLEST_PX / 4


def _edge_blurs(photo: Photo, corners: FloatArray) -> list[float]:
    """Return the blur of each of a tag's four sides that is seen clearly."""
    part, low = crop_about(photo.rgb, corners, margin_px=_MARGIN_PX)
    light = to_linear(part) @ LUMINANCE
    found = []
    for start, end in zip(corners - low, np.roll(corners, -1, axis=0) - low, strict=True):
        profile = _mean_profile(light, start, end)
        dark, bright = profile[:3].mean(), profile[-3:].mean()
        if bright - dark < _LEAST_CONTRAST:
            continue
        level = np.maximum.accumulate((profile - dark) / (bright - dark))
        quarter, three = np.interp([0.25, 0.75], level, np.arange(len(level)) * _STEP_PX)
        found.append(float((three - quarter) / (2 * _QUARTILE)))
    return found


_LEAST_CONTRAST = 0.1
"""Of full light: a tag in shade may have less, and then says little."""


def _mean_profile(light: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Return the light across a tag's side, from its black to the white outside, mean over the side."""
    side = end - start
    length = float(np.hypot(*side))
    outward = np.array([side[1], -side[0]]) / length
    reach = min(_REACH_PX, 0.1 * length)
    offsets = np.arange(-reach, reach + 1e-9, _STEP_PX)
    along = np.linspace(0.1, 0.9, 40)
    points = start + along[:, None, None] * side + offsets[None, :, None] * outward
    return sample(light.astype(np.float32), points).mean(axis=0)
