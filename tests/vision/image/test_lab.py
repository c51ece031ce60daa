"""Colours as CIE L*a*b*, beside those of scikit-image."""

import numpy as np
from skimage.color import rgb2lab

from vision.image.lab import to_lab

TABLES = 0.5
"""OpenCV interpolates in tables; steps of L*, a* and b*."""


def test_colours_are_those_of_cie() -> None:
    rgb = np.random.default_rng(7).random((20, 30, 3)).astype(np.float32)
    np.testing.assert_allclose(to_lab(rgb), rgb2lab(rgb), rtol=0, atol=TABLES)
