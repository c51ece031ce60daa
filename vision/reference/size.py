"""The sizes of a thing in the sheet's nominal millimetres, by a robust fit of its outline to its rim."""

from dataclasses import dataclass

import numpy as np

from vision.common.numerics import robust_sd
from vision.common.records import FloatArray
from vision.reference.outline import Outline

_REWEIGHTINGS = 8
_WEIGHT_SD = 2.0
_LEAST_SPREAD = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineFit:
    """A least-squares fit of an outline to points on the rim.

    Attributes
    ----------
    change : ndarray, shape (K,)
        Of the outline, in the order of `Outline.slopes`.
    covariance : ndarray, shape (K, K)
        From what the profiles of a side share, and from their scatter.
    solve : ndarray, shape (K, G)
        Gives the change from offsets.
    """

    change: FloatArray
    covariance: FloatArray
    solve: FloatArray


def fit_outline(outline: Outline, offsets_mm: FloatArray, u_mm: FloatArray) -> OutlineFit:
    """Fit an outline to the rim.

    Parameters
    ----------
    outline : Outline
        Of G points.
    offsets_mm, u_mm : ndarray, shape (G,)
        Of the rim along the normals, and standard uncertainties, which the profiles of a side share.
    """
    own = 1 / u_mm**2
    weights = own
    for _ in range(_REWEIGHTINGS):
        solve = np.linalg.pinv(np.sqrt(weights)[:, None] * outline.slopes) * np.sqrt(weights)
        apart = (offsets_mm - outline.slopes @ (solve @ offsets_mm)) / u_mm
        spread = robust_sd(apart, about=0.0) + _LEAST_SPREAD
        weights = own / (1 + (apart / (_WEIGHT_SD * spread)) ** 2) ** 2
    side_u = np.array([np.median(u_mm[outline.side == k]) for k in range(outline.side.max() + 1)])
    member = outline.side[:, None] == np.arange(len(side_u))
    common = solve @ (member * side_u)
    scatter = solve * (spread * u_mm)
    covariance = common @ common.T + scatter @ scatter.T
    return OutlineFit(change=solve @ offsets_mm, covariance=covariance, solve=solve)
