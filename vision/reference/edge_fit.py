"""The upper rim of a thing on profiles across its outline, to a few hundredths of a pixel.

Near the rim a profile is the thing's face, the part of its upright side that shows, and the ground, each as
blurred as the photo's tags are. How wide the upright side shows follows from the camera. How bright it is
does not, so the levels of all parts are fitted freely, and only the place of the rim is searched.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from vision.common.records import FloatArray

INSIDE_PX, OUTSIDE_PX = 3.5, 6.0
"""Of a profile: inside a step and its blur suffice, outside the form of the shadow must show."""
STEP_PX = 0.25
_SHADOW_POWERS = 4
"""Light outside is a cubic: a shadow deepens smoothly, and only the rim is as sharp as the lens."""
SEARCH_PX, _SEARCH_STEP_PX = 1.5, 0.1
_FREEDOM = 6.0
"""Independent samples of a profile: neighbours share blur, noise and shadow (set on drawn photos)."""
_RIDGE = 1e-3
"""Keeps the levels finite where parts are too narrow to be told from each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RimProfiles:
    """Light on profiles across a rim.

    Attributes
    ----------
    light : ndarray, shape (G, S, 3)
        Linear, from the inside outwards.
    offsets_px : ndarray, shape (S,)
    shown_px : ndarray, shape (G,)
        How wide the upright side shows outside the rim.
    blur_px : float
        Standard deviation of the blur of an edge.
    """

    light: FloatArray
    offsets_px: FloatArray
    shown_px: FloatArray
    blur_px: float

    def misfits(self, trials_px: FloatArray) -> FloatArray:
        """Return the mean square that the best levels leave for each place of the rim, shape (G, T)."""
        return np.stack([self._misfit(t) for t in trials_px], axis=1)

    def _misfit(self, rim_px: float) -> FloatArray:
        beyond, light = self.offsets_px - rim_px, self.light
        rim = ndtr(beyond / self.blur_px)
        base = ndtr((beyond - self.shown_px[:, None]) / self.blur_px)
        rim = np.broadcast_to(rim, base.shape)
        out = np.maximum(beyond, 0) / OUTSIDE_PX
        parts = [1 - rim, (1 - rim) * beyond, rim - base, *(base * out**k for k in range(_SHADOW_POWERS))]
        basis = np.stack(parts, axis=2)
        across = np.swapaxes(basis, 1, 2)
        levels = np.linalg.solve(across @ basis + _RIDGE * np.eye(len(parts)), across @ light)
        return np.asarray(((light - basis @ levels) ** 2).mean(axis=(1, 2)))


def rim_offsets_px(seen: RimProfiles) -> tuple[FloatArray, FloatArray]:
    """Return where the upper rim lies on each profile and the standard uncertainty of that, shape (G,), px.

    Both are taken over all places of the rim, each weighted by how likely its misfit makes it.
    """
    trials = np.arange(-SEARCH_PX, SEARCH_PX + 1e-9, _SEARCH_STEP_PX)
    misfit = seen.misfits(trials)
    likely = (misfit / misfit.min(axis=1, keepdims=True)) ** (-_FREEDOM / 2)
    likely /= likely.sum(axis=1, keepdims=True)
    mean = likely @ trials
    return mean, np.sqrt(likely @ trials**2 - mean**2)


def side_offsets_px(seen: RimProfiles, side: NDArray[np.intp], trials_px: FloatArray) -> FloatArray:
    """Return where the rim lies on each profile if it lies at one offset on every side, shape (G,), px."""
    misfit = seen.misfits(trials_px)
    misfit = misfit / np.median(misfit, axis=1, keepdims=True)
    total = np.stack([np.median(misfit[side == k], axis=0) for k in range(side.max() + 1)])
    return np.asarray(trials_px[total.argmin(axis=1)][side])
