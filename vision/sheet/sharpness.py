"""How sharp a photo is, from the straight black and white edges of the sheet's own tags."""

import numpy as np

from vision.common.records import FloatArray, Photo
from vision.image.light import LUMINANCE, to_linear
from vision.image.sampling import crop_about, sample
from vision.sheet.tags import Tags

TYPICAL_BLUR_PX = 0.65
"""Of a sharp phone picture on drawn photos; lens 0.4, pixel and interpolation 0.5, as squares."""
_SHARPEST_PX, _DULLEST_PX = 0.3, 2.5
"""Pixel and interpolation alone blur by sqrt(1/12 + 1/6) = 0.5, so a smaller value is a phone's sharpening;
a larger one is a photo too shaken to show an edge's form. At half and at double at most last digits
change."""
_LEAST_CONTRAST = 0.1
"""Of full light: black and white under glare or in deep shade are closer, too close to measure a blur. No
difference at half and at double."""

# The profile across a side. Half and double change the last digits and 3 % of the flags on beads.
_REACH_PX, _STEP_PX = 3.0, 0.25
_MARGIN_PX = 8
"""About a tag: more than the reach of a profile."""
_SIDE_SHARE, _PROFILES = (0.1, 0.9), 40
"""Where on a side, clear of its corners, and how many."""
_PLATEAU = 3
"""Samples at either end that give black and white."""
_QUARTILE = 0.6745
"""Of the normal distribution: a blurred step passes from 25 % to 75 % over twice this many sigma."""


def edge_blur_px(photo: Photo, tags: Tags) -> float:
    """Return the standard deviation of the blur of an edge, pixels.

    Lens, pixel, sharpening and the interpolation between pixels together, in linear light.
    """
    blurs = [blur for corners in tags.corners_px for blur in _edge_blurs(photo, corners)]
    return float(np.clip(np.median(blurs), _SHARPEST_PX, _DULLEST_PX)) if blurs else TYPICAL_BLUR_PX


def _edge_blurs(photo: Photo, corners: FloatArray) -> list[float]:
    """Return the blur of each of a tag's four sides that has enough contrast."""
    part, low = crop_about(photo.rgb, corners, margin_px=_MARGIN_PX)
    light = (to_linear(part) @ LUMINANCE).astype(np.float32)
    found = []
    for start, end in zip(corners - low, np.roll(corners, -1, axis=0) - low, strict=True):
        profile = sample(light, _across(start, end)).mean(axis=0)
        dark, bright = profile[:_PLATEAU].mean(), profile[-_PLATEAU:].mean()
        if bright - dark < _LEAST_CONTRAST:
            continue
        level = np.maximum.accumulate((profile - dark) / (bright - dark))
        quarter, three = np.interp([0.25, 0.75], level, np.arange(len(level)) * _STEP_PX)
        found.append(float((three - quarter) / (2 * _QUARTILE)))
    return found


def _across(start: FloatArray, end: FloatArray) -> FloatArray:
    """Return points on profiles across a side, from the black inside to the white outside, (P, S, 2)."""
    side = end - start
    length = float(np.hypot(*side))
    outward = np.array([side[1], -side[0]]) / length
    offsets = np.arange(-_REACH_PX, _REACH_PX + _STEP_PX / 2, _STEP_PX)
    along = np.linspace(*_SIDE_SHARE, _PROFILES)
    return start + along[:, None, None] * side + offsets[None, :, None] * outward
