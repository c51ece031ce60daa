"""Robust fits by iteratively reweighted least squares: points far off the last fit count less in the next."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from vision.common.numerics import robust_sds
from vision.common.records import FloatArray, Mask

Fit = TypeVar("Fit")


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Weights of points by their residuals r: 1 / (1 + (r / w s)^2)^p, s their robust standard deviation.

    With p = 1 it is Cauchy's, 95 % efficient on normal residuals at w = 2.4 (Holland & Welsch 1977). The
    least spread keeps the weights of exact points finite.

    Attributes
    ----------
    inward, outward : float
        w of negative and positive residuals.
    power : int
        p.
    least_spread : float
        Added to s, in the unit of the residuals.
    """

    inward: float
    outward: float
    power: int
    least_spread: float

    def spread(self, residuals: FloatArray) -> FloatArray:
        """Return the robust standard deviations of residuals, (..., N); NaN is left out."""
        return robust_sds(residuals) + self.least_spread

    def weights(self, residuals: FloatArray) -> FloatArray:
        """Return the weights of residuals, (..., N); that of NaN is 0."""
        width = np.where(residuals < 0, self.inward, self.outward) * self.spread(residuals)[..., None]
        return np.nan_to_num(1 / (1 + (residuals / width) ** 2) ** self.power)


def reweighted(
    fit: Callable[[FloatArray], Fit],
    residuals: Callable[[Fit], FloatArray],
    *,
    losses: Sequence[Loss],
    used: Mask,
) -> Fit:
    """Fit the points used, (..., N), once a loss, each time with the weights of the last fit's residuals."""
    weights = used.astype(float)
    with np.errstate(divide="ignore", invalid="ignore"):  # where there is no fit
        for loss in losses:
            fitted = fit(weights)
            weights = loss.weights(np.where(used, residuals(fitted), np.nan))
    return fitted
