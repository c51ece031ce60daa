"""Natural groups of sizes along one axis: the partition that explains the sizes best.

Sorted sizes are cut into runs. A run counts as a normal group of its own mean, spread and share of
the lot; its spread cannot be less than the doubt of the sizes in it. Of all partitions the one with
the highest classification likelihood less the Bayesian penalty for its groups is found exactly, by
dynamic programming over the last cut (Fisher 1958; Wang & Song 2011, Ckmeans.1d.dp, for the least
squares case). The classification likelihood charges a group for being mixed up with its neighbour
(Biernacki, Celeux & Govaert 2000), so that one broad group is not cut for its width alone.
"""

import math

import numpy as np

from vision.common.records import FloatArray

_U_FLOOR_MM = 0.01
"""Sizes from a photo are never known better than this, whatever their stated doubt."""
_FREE_PER_GROUP = 4  # mean, spread, share, and where the cut falls


def natural_limits(sizes_mm: FloatArray, own_u_mm: FloatArray) -> tuple[float, ...]:
    """Return the limits between natural groups, rising; none where the sizes form one group.

    Parameters
    ----------
    sizes_mm, own_u_mm : ndarray, shape (N,)
        Sizes in any order and their standard uncertainties without what all of them share.

    Returns
    -------
    tuple of float
        In mm, each midway between the last size below and the first above.
    """
    order = np.argsort(sizes_mm, kind="stable")
    ordered_mm = np.asarray(sizes_mm, dtype=float)[order]
    u_mm = np.maximum(np.asarray(own_u_mm, dtype=float)[order], _U_FLOOR_MM)
    cuts = _best_cuts(ordered_mm, u_mm)
    return tuple(float(ordered_mm[cut - 1] + ordered_mm[cut]) / 2 for cut in cuts)


def _best_cuts(ordered_mm: FloatArray, u_mm: FloatArray) -> list[int]:
    """Return where runs 2, 3 ... of the best partition start, as indices into sorted sizes."""
    n = len(ordered_mm)
    if n == 0:
        return []
    centred = ordered_mm - ordered_mm.mean()  # keeps the running sums of squares small and exact
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
        Running sums of size, size squared and uncertainty squared, from 0.
    """
    count = np.arange(end, 0, -1)
    total, squares, doubt = sums[:, end, None] - sums[:, :end]
    scatter = np.maximum(squares / count - (total / count) ** 2, 0.0)
    variance = np.maximum(scatter, doubt / count)
    share = count / (sums.shape[1] - 1)
    costs: FloatArray = count * (
        0.5 * np.log(2 * math.pi * variance) + 0.5 * scatter / variance - np.log(share)
    )
    return costs
