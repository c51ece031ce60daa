"""Natural groups of sizes: the partition of the sorted sizes that explains them best.

The sorted sizes are cut into runs. Each run is modelled as a normal distribution with its own mean,
standard deviation and share of the lot; the standard deviation is at least the uncertainty of its sizes.
Each partition is scored by its classification likelihood minus the Bayesian penalty (BIC) for the number
of groups. The classification likelihood counts against groups that overlap (Biernacki, Celeux & Govaert
2000), so that one broad group is not cut in two. The best partition is found exactly, by dynamic
programming over the last cut (Fisher 1958; for least squares Wang & Song 2011).
"""

import math

import numpy as np

from vision.common.records import FloatArray

_U_FLOOR_MM = 0.01
"""No size from a photo is surer than this (assumed, no source). Without a floor, equal sizes would form a
group of no width and infinite likelihood; at double, groups 0.05 mm apart are not divided."""
_FREE_PER_GROUP = 4  # free parameters in the BIC: mean, standard deviation, share, and place of the cut


def natural_limits(sizes_mm: FloatArray, own_u_mm: FloatArray) -> tuple[float, ...]:
    """Return the limits between natural groups by rising size; empty if the sizes form one group.

    Parameters
    ----------
    sizes_mm, own_u_mm : ndarray, shape (N,)
        Sizes in any order and their standard uncertainties, without the part common to all.

    Returns
    -------
    tuple of float
        In mm, each midway between the last size below and the first above.

    Examples
    --------
    >>> natural_limits(np.array([4.0, 4.02, 4.04, 6.0, 6.02, 6.04]), np.full(6, 0.03))
    (5.02,)
    """
    order = np.argsort(sizes_mm, kind="stable")
    ordered_mm = np.asarray(sizes_mm, dtype=float)[order]
    u_mm = np.maximum(np.asarray(own_u_mm, dtype=float)[order], _U_FLOOR_MM)
    cuts = _best_cuts(ordered_mm, u_mm)
    return tuple(float(ordered_mm[cut - 1] + ordered_mm[cut]) / 2 for cut in cuts)


def _best_cuts(ordered_mm: FloatArray, u_mm: FloatArray) -> list[int]:
    """Return where runs 2, 3 ... of the best partition start, as indices into the sorted sizes."""
    n = len(ordered_mm)
    if n == 0:
        return []
    centred = ordered_mm - ordered_mm.mean()  # keeps the cumulative sums of squares small and exact
    sums = np.array([np.concatenate([[0.0], np.cumsum(a)]) for a in (centred, centred**2, u_mm**2)])
    penalty = _FREE_PER_GROUP / 2 * math.log(n)
    best = np.zeros(n + 1)
    start = np.zeros(n + 1, dtype=np.intp)
    for end in range(1, n + 1):
        costs = best[:end] + _run_costs(sums, end) + penalty
        start[end] = np.argmin(costs)
        best[end] = costs[start[end]]
    cuts: list[int] = []
    end = n
    while (end := int(start[end])) > 0:
        cuts.append(end)
    return cuts[::-1]


def _run_costs(sums: FloatArray, end: int) -> FloatArray:
    """Return the negative log likelihood of the runs [0, end), [1, end) ... [end - 1, end).

    Parameters
    ----------
    sums : ndarray, shape (3, N + 1)
        Cumulative sums of size, size squared and uncertainty squared, starting with 0.
    """
    count = np.arange(end, 0, -1)
    total, squares, u_squares = sums[:, end, None] - sums[:, :end]
    scatter = np.maximum(squares / count - (total / count) ** 2, 0.0)
    variance = np.maximum(scatter, u_squares / count)
    share = count / (sums.shape[1] - 1)
    costs: FloatArray = count * (
        0.5 * np.log(2 * math.pi * variance) + 0.5 * scatter / variance - np.log(share)
    )
    return costs
