"""What speaks for a boundary between two beads at each step along a straightened strand.

Two convex solids meet in a notch of the width, and the picture changes along the string over the whole
width at once, in a seam; neither lies where the strand is widest.
"""

import numpy as np
from scipy import ndimage

from vision.axis import STEP_MM
from vision.gradient import gradients_along
from vision.records import FloatArray
from vision.strip import Strip

_SIGMA_MM = 0.1
_GLINT = 0.15
"""Less trust in seams alone where both sides have notches at the same places: the glint of one lamp on
every bead is as regular as their seams."""
_CREST_AT, _CREST = 0.25, 0.05
"""Convex beads meet where neither is widest: an edge or a glint on a crest of this height is no seam."""
_BEND_AT, _BEND_GAIN = 0.15, 2.5


def boundary_evidence(
    strips: tuple[Strip, ...], sides: FloatArray, width: FloatArray, typical: float
) -> list[tuple[FloatArray, float]]:
    """Return kinds of evidence of a boundary at each step, each about 1 where clear, and their trust.

    First notches and the seams of the first strip together, weighed by how deep the notches are; then
    with the other strips' seams; then every seam and the notches alone.

    Parameters
    ----------
    strips : tuple of Strip
    sides : ndarray, shape (2, S)
        How far aside of the axis either side lies, both positive, mm.
    width : ndarray, shape (S,)
        Their sum, smoothed.
    typical : float
        Width of the wider beads, mm.

    Returns
    -------
    list of (ndarray of shape (S,), float)
    """
    valley = float(np.percentile(valleys(width, typical), 92))
    trust = float(np.clip((valley - 0.04) / 0.12, 0.0, 1.0))  # notches of under 4 % of the width are noise
    notch = _notches(width, typical)
    depth = float(np.percentile(notch, 92))
    weight = 0.15 + 0.65 * trust
    notch_part = np.clip(notch / max(depth, 0.08), 0, 1.3)
    seams = []
    off_crest = 1 - np.clip(_crests(width, typical) / _CREST, 0, 1)
    for strip in strips:
        seam = _seams(strip, width, typical) * off_crest
        seams.append(np.clip(seam / max(float(np.percentile(seam, 95)), np.log(2.0)), 0, 1.3))
    both = [(weight * notch_part + (1 - weight) * seam, 1.0) for seam in seams]
    left, right = (_notches(2 * side, typical) for side in sides)
    agreement = np.sum(left * right) ** 2 / (np.sum(left**2) * np.sum(right**2) + 1e-9)
    return [*both, *((seam, float(1 - _GLINT * agreement)) for seam in seams), (notch_part, 1.0)]


def valleys(width: FloatArray, typical: float) -> FloatArray:
    """Return how far the width lies below the crests on both sides, as a share of the typical width."""
    reach = max(2, round(0.6 * typical / STEP_MM))
    left = ndimage.maximum_filter1d(width, reach, origin=(reach - 1) // 2, mode="nearest")
    right = ndimage.maximum_filter1d(width, reach, origin=-(reach // 2), mode="nearest")
    return np.asarray((np.minimum(left, right) - width) / typical)


def _notches(width: FloatArray, typical: float) -> FloatArray:
    """Return how sharply the width dips: the depth of a valley where its bend accounts for it, shape (S,).

    The whole flank of a bicone lies low, and only its foot is a notch.
    """
    aside = max(2, round(_BEND_AT * typical / STEP_MM))
    smooth = ndimage.gaussian_filter1d(width, aside / 4, mode="nearest")
    padded = np.pad(smooth, aside, mode="edge")
    bend = ((padded[: -2 * aside] + padded[2 * aside :]) / 2 - smooth) / typical
    return np.asarray(np.clip(np.minimum(valleys(width, typical), _BEND_GAIN * bend), 0.0, None))


def _crests(width: FloatArray, typical: float) -> FloatArray:
    """Return how far the width falls off to both sides, as a share of the typical width, shape (S,)."""
    aside = max(2, round(_CREST_AT * typical / STEP_MM))
    smooth = ndimage.gaussian_filter1d(width, aside / 6, mode="nearest")
    padded = np.pad(smooth, aside, mode="edge")
    return np.asarray((smooth - np.maximum(padded[: -2 * aside], padded[2 * aside :])) / typical)


def _seams(strip: Strip, width: FloatArray, typical: float) -> FloatArray:
    """Return the log of the change along the string over that of its surroundings."""
    along, _ = gradients_along(strip.rgb, sigma_cells=_SIGMA_MM / STEP_MM)
    inner = np.abs(strip.aside_mm)[:, None] < np.maximum(0.35 * width, 0.2 * typical)
    change = np.log1p(along)
    mean = (change * inner).sum(axis=0) / inner.sum(axis=0)
    mean = ndimage.gaussian_filter1d(mean, 1.0)
    level = ndimage.percentile_filter(mean, 40, size=2 * round(2.5 * typical / STEP_MM) + 1)
    seam: FloatArray = np.maximum(mean - level, 0)
    # two edges of one groove are one seam
    return ndimage.maximum_filter1d(seam, round(max(0.3, 0.05 * typical) / STEP_MM))
