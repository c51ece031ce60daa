"""How sharp a photo is, from the straight black and white edges of the sheet's own tags."""

import math

import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray, Photo
from vision.image.light import LUMINANCE, to_linear
from vision.image.sampling import crop_about, sample
from vision.sheet.geometry import TAG_MODULES
from vision.sheet.tags import Tags, across_sides

TYPICAL_BLUR_PX = 0.65
"""Of a sharp phone picture on drawn photos; lens 0.4, pixel and interpolation 0.5, as squares."""
_SHARPEST_PX = 0.3
"""Pixel and interpolation alone blur by sqrt(1/12 + 1/6) = 0.5, so a smaller value is a phone's sharpening.
At half and at double at most last digits change."""
_LEAST_CONTRAST = 0.1
"""Of full light: black and white under glare or in deep shade are closer, too close to measure a blur. No
difference at half and at double."""

# The profile across a side. Half and double change the last digits and 3 % of the flags on beads.
_REACH_PX, _STEPS = 3.0, 24
"""How far it reaches to either side of an edge that is not known to be blurred, in how many steps."""
_REACH_BLURS = 2.5
"""It reaches so many blurs: 98 in 100 parts of a normal step lie within. Shorter, its ends are grey and a
wide blur is read too small."""
_LONGEST_MODULES = 0.9
"""The black border and the white about it are a module wide. A blur of more than 0.7 mm on a mat is read too
small; then its tags can hardly be read."""
_MARGIN_PX = 2
"""About a profile, for the interpolation."""
_SIDE_SHARE, _PROFILES = (0.1, 0.9), 40
"""Where on a side, clear of its corners, and how many."""
_PLATEAU = 3
"""Samples at either end that give black and white."""
_QUARTILE = 0.6745
"""Of the normal distribution: a blurred step passes from 25 % to 75 % over twice this many sigma."""


def edge_blur_px(photo: Photo, tags: Tags) -> float:
    """Return the standard deviation of the blur of an edge, pixels.

    Lens, focus, shake, pixel, sharpening and the interpolation between pixels together, in linear light.
    """
    blurs = [blur for corners in tags.corners_px for blur in _edge_blurs(photo, corners)]
    return max(float(np.median(blurs)), _SHARPEST_PX) if blurs else TYPICAL_BLUR_PX


def _edge_blurs(photo: Photo, corners: FloatArray) -> list[float]:
    """Return the blur of each of a tag's four sides that has enough contrast."""
    sides = np.roll(corners, -1, axis=0) - corners
    longest = max(_REACH_PX, _LONGEST_MODULES / TAG_MODULES * float(np.linalg.norm(sides, axis=1).min()))
    part, low = crop_about(photo.rgb, corners, margin_px=math.ceil(longest) + _MARGIN_PX)
    light = (to_linear(part) @ LUMINANCE).astype(np.float32)
    blurs = (_blur(light, corners - low, side, longest) for side in range(4))
    return [blur for blur in blurs if blur is not None]


def _blur(light: NDArray[np.float32], corners: FloatArray, side: int, longest_px: float) -> float | None:
    """Return the blur of a side, by profiles as long as it is blurred; None where its contrast is too low.

    `side` is its number, 0 to 3.
    """
    reach = _REACH_PX
    while True:
        step = 2 * reach / _STEPS
        offsets = np.linspace(-reach, reach, _STEPS + 1)
        across = across_sides(corners, offsets, share=_SIDE_SHARE, count=_PROFILES)[side]
        profile = sample(light, across).mean(axis=0)
        dark, bright = profile[:_PLATEAU].mean(), profile[-_PLATEAU:].mean()
        if bright - dark >= _LEAST_CONTRAST:
            level = np.maximum.accumulate((profile - dark) / (bright - dark))
            quarter, three = np.interp([0.25, 0.75], level, np.arange(len(level)) * step)
            blur = float((three - quarter) / (2 * _QUARTILE))
            if _REACH_BLURS * blur <= reach or reach >= longest_px:
                return blur
        elif reach >= longest_px:
            return None
        reach = min(2 * reach, longest_px)
