"""What is known of a camera before a tag is looked at: its picture is whole, a part of one, or stretched.

In brackets: by how much the scale at a bead changes at half and at double, at worst of 11 drawn photos; 1e-2
is a bead in a hundred.
"""

import math
from dataclasses import dataclass

import numpy as np

from vision.camera.camera import LOG_FOCAL, focal_px_of
from vision.common.records import FloatArray

_EXIF_LOG_SD = 0.02
"""Phones round the equivalent focal length to whole millimetres: 26 +- 0.5 is 2 % (7e-5, 2e-4)."""
_UNKNOWN_FOCAL_35MM, _UNKNOWN_LOG_SD = 28.0, 0.35
"""Where EXIF has no focal length: two deviations reach from 14 to 56 mm, ultra-wide to twofold zoom. With a
median of 14 mm 2 of 28 strands are no longer known to 1 mm. A part of a picture is as good as unknown."""
_K1_SD = 0.03
"""Phones straighten their pictures: at the corners, r = 0.7, this bends by 1.5 % (6e-5, 3e-6)."""
_AXIS_SD = 0.004
"""Of the photo's diagonal: how far the optical axis may lie from the middle of the picture (1e-4, 6e-5)."""
_PART_AXIS_SD = 0.1
"""The same of a part of a picture: cutting a quarter off one side moves the middle by a tenth."""
_SPREAD_SD_MM = 0.05
"""Ink spreads by about a dot of a home printer, 0.04 mm (1e-4, 8e-5)."""
_SQUARE_LOG_SD = 2e-4
"""A sensor's pixels are square. It keeps what the corners say of it finite."""
_STRETCHED_LOG_SD = 0.05
"""Of a picture that was fitted to another frame: two deviations reach a tenth. The next shapes of pictures,
4 : 3 and 3 : 2, are 12 % apart."""

OF_ANY_LENS = 1
"""Which of the `readings` is a whole picture of an unknown lens."""
_SENSORS = (4 / 3, 3 / 2, 16 / 9)
"""Longer over shorter side of pictures as cameras take them."""
_SENSOR_PLAY = 0.005
"""Pixel counts are rounded to a sensor's blocks: 4080 x 3072 is 0.4 % off 4 : 3."""
_ZOOM_SHARE, _PART_SHARE = 0.2, 0.01
"""How often EXIF has another focal length, as a digital zoom about the middle that keeps it, and how often a
picture of a camera's shape is a part of one all the same (common practice, no source). Straight from above
the tags tell neither, and this alone says how far EXIF is to be trusted. Of 16 photos, most of them so taken,
a zoom of 1.4 is off by up to 0.9 times what is stated, at half by 1.3 times, and one of 2 by up to 1.5 times.
At double the camera's part grows by two fifths (median)."""
_STRETCHED_SHARE = 0.1
"""Of pictures that are not as the camera took them, how many were stretched rather than cut (common practice,
no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Priors:
    """Normal distributions of the lens and the ink, independent of each other.

    Attributes
    ----------
    expected, sd : ndarray, shape (6,)
        Of a camera's parameters from the logarithm of the focal length on.
    """

    expected: FloatArray
    sd: FloatArray

    def deviations(self, parameters: FloatArray) -> FloatArray:
        """Return the deviations of parameters, shape (12,), in standard deviations, shape (6,)."""
        return np.asarray((parameters[LOG_FOCAL:] - self.expected) / self.sd)

    @property
    def slopes(self) -> FloatArray:
        """Derivatives of `deviations`, shape (6, 12)."""
        return np.hstack([np.zeros((len(self.sd), LOG_FOCAL)), np.diag(1 / self.sd)])


def readings(size_px: tuple[int, int], focal_35mm: float | None) -> list[tuple[Priors, float]]:
    """Return what a picture may be, each with its probability beforehand; the most informative first.

    The whole picture of the lens that EXIF states; a whole picture of an unknown lens; a stretched picture of
    the lens that EXIF states; a part of a picture, of which neither the focal length nor the axis is known. A
    picture of a shape that no camera takes is a part of one, or stretched.

    Examples
    --------
    >>> [round(share, 2) for _, share in readings((3024, 4032), 26.0)]
    [0.79, 0.2, 0.0, 0.01]
    >>> [share for _, share in readings((3024, 3600), 26.0)]
    [0.0, 0.0, 0.1, 0.9]
    """
    shape = max(size_px) / min(size_px)
    is_whole = any(abs(shape / sensor - 1) < _SENSOR_PLAY for sensor in _SENSORS)
    zoom, changed = (_ZOOM_SHARE, _PART_SHARE) if is_whole else (0.0, 1.0)
    stretched = _STRETCHED_SHARE * changed
    stated_sd = _UNKNOWN_LOG_SD if focal_35mm is None else _EXIF_LOG_SD
    return [
        (_priors(size_px, focal_35mm, (stated_sd, _AXIS_SD, _SQUARE_LOG_SD)), 1 - zoom - changed),
        (_priors(size_px, focal_35mm, (_UNKNOWN_LOG_SD, _AXIS_SD, _SQUARE_LOG_SD)), zoom),
        (_priors(size_px, focal_35mm, (stated_sd, _AXIS_SD, _STRETCHED_LOG_SD)), stretched),
        (_priors(size_px, focal_35mm, (_UNKNOWN_LOG_SD, _PART_AXIS_SD, _SQUARE_LOG_SD)), changed - stretched),
    ]


def _priors(size_px: tuple[int, int], focal_35mm: float | None, sds: tuple[float, float, float]) -> Priors:
    focal_sd, axis_share, aspect_sd = sds
    axis_sd = axis_share * math.hypot(*size_px)
    focal_px = focal_px_of(focal_35mm or _UNKNOWN_FOCAL_35MM, size_px)
    middle = (np.array(size_px) - 1) / 2
    return Priors(
        expected=np.array([math.log(focal_px), 0.0, *middle, 0.0, 0.0]),
        sd=np.array([focal_sd, _K1_SD, axis_sd, axis_sd, _SPREAD_SD_MM, aspect_sd]),
    )
