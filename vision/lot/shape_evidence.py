"""How well the sizes of a lot under an assumed body fit what is known of all lots.

Sizes do not depend on the direction away from the camera, and beads of one kind have one length over width.
"""

import numpy as np
from numpy.typing import NDArray

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.lot.feret import DIRECTIONS

_LEAST_SCATTER, _FARTHEST_OUTLIER = 0.006, 12.0
"""Least relative scatter of sizes over directions, from the edges alone; and the squared deviation, in units
of the scatter, at which the evidence of one bead is capped (3.5 standard deviations)."""
_OWN_SHARE, _OWN_SHARE_ALIKE = 0.5, 0.2
"""The beads of a lot err together (one edge model, one camera): each counts as half an observation, and as
less where they are also assumed to be of one kind. At double of either 4 more sizes are refused."""
_LEAST_ASPECT_SD, _USUAL_ASPECT_SD, _ASPECT_OUTLIER = 0.012, 0.02, 2.5
"""Standard deviations of the logarithm of length over width: from the edges alone, and within one kind of
beads (common practice, no source). Deviations are capped at the third, in robust standard deviations."""


def radial_evidence(widths: FloatArray, radial: NDArray[np.intp]) -> float:
    """Return the log-likelihood that sizes do not depend on the direction away from the camera.

    The difference between two other directions, at 45 degrees to it, shows how much they vary by chance.

    Parameters
    ----------
    widths : ndarray, shape (B, DIRECTIONS)
    radial : ndarray of int, shape (B,)
        Index of each bead's direction away from the point below the camera.
    """
    rows = np.arange(len(widths))
    out, askew, across, back = (widths[rows, (radial + k * DIRECTIONS // 4) % DIRECTIONS] for k in range(4))
    mean = widths.mean(axis=1)
    scatter = np.hypot(_LEAST_SCATTER, robust_sd((askew - back) / mean, about=0.0))
    squares = ((out - across) / mean / scatter) ** 2
    return float(-0.5 * _OWN_SHARE * np.sum(np.minimum(squares, _FARTHEST_OUTLIER)))


def aspect_evidence(widths: FloatArray) -> float:
    """Return the log-likelihood that beads are of one shape, by the scatter of their length over width.

    Long beads lie in all directions: what the view adds to the length of one it adds to the width of another.
    """
    aspect = _log_aspects(widths)
    apart = np.minimum(np.abs(aspect - np.median(aspect)), _ASPECT_OUTLIER * robust_sd(aspect))
    variance = float(np.mean(apart**2)) + _LEAST_ASPECT_SD**2
    return -0.5 * _OWN_SHARE_ALIKE * len(widths) * float(np.log(variance))


def _log_aspects(widths: FloatArray) -> FloatArray:
    """Return the logarithm of each bead's length over its width."""
    return np.asarray(np.log(widths.max(axis=1) / widths.min(axis=1)))


def aspect_scatter(widths: FloatArray) -> float:
    """Return the scatter of length over width beyond that of beads of one kind."""
    scatter = robust_sd(_log_aspects(widths))
    return float(np.sqrt(max(scatter**2 - _USUAL_ASPECT_SD**2, 0.0)))
