"""What several steps share: robust statistics, uncertainties, peaks, lines, and the order of reading."""

import numpy as np

from vision.common.records import FloatArray, Mask

COVERAGE_FACTOR = 2.0
"""An expanded uncertainty is k = 2 standard ones: about 95 % (JCGM 100:2008, 6.3.3)."""
_SD_OF_MAD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation, 1 / Phi^-1(3/4)."""
_STEEP = 0.2
"""A line steeper than 5 in 1 is read from above, any other from the left."""


def robust_sd(values: FloatArray, *, about: float | None = None) -> float:
    """Return the standard deviation of mostly normal values, from their median absolute deviation.

    Up to half of the values may be outliers. `scipy.stats.median_abs_deviation` does the same, but importing
    `scipy.stats` takes a quarter of a second.

    Parameters
    ----------
    values : ndarray, any shape
    about : float, optional
        What the values deviate from; by default their median.

    Examples
    --------
    >>> round(robust_sd(np.array([9.0, 10.0, 11.0, 10.0, 99.0])), 4)
    1.4826
    """
    middle = np.median(values) if about is None else about
    return _SD_OF_MAD * float(np.median(np.abs(values - middle)))


def expanded(*parts_mm: FloatArray | float) -> FloatArray:
    """Combine standard uncertainties and expand the result, mm.

    They are independent of each other, so they add as squares (JCGM 100:2008, 5.1.2).

    Examples
    --------
    >>> float(expanded(0.03, 0.04))
    0.1
    """
    total = sum(np.asarray(part, dtype=float) ** 2 for part in parts_mm)
    return COVERAGE_FACTOR * np.sqrt(total)


def without_scale(
    u_mm: FloatArray | float, mm: FloatArray | float, *, scale_rel_u: FloatArray | float
) -> FloatArray:
    """Return the part of the uncertainty of lengths that is not the scale's, mm.

    All lengths of a photo share the error of its scale, so only the rest is independent (JCGM 100:2008,
    5.2.2). Both uncertainties are standard ones, or both are expanded.

    Examples
    --------
    >>> float(without_scale(0.05, 10.0, scale_rel_u=0.004).round(6))
    0.03
    """
    return np.asarray(np.sqrt(np.maximum(np.square(u_mm) - np.square(scale_rel_u * mm), 0.0)))


def mixed(
    one: FloatArray, one_u: FloatArray, other: FloatArray, other_u: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return what two estimates say together, weighted by their variances, and its standard uncertainty.

    The two look at the same light, so their errors are not independent, and one may be plainly wrong: what
    is claimed is the spread of the mixture of both, weighted likewise (law of total variance).

    Examples
    --------
    >>> mean, u = mixed(np.array([8.0]), np.array([0.1]), np.array([8.3]), np.array([0.2]))
    >>> mean.round(2).tolist(), u.round(3).tolist()
    ([8.06], [0.174])
    """
    weight = one_u**2 / (one_u**2 + other_u**2)
    mean = one + weight * (other - one)
    variance = (1 - weight) * (one_u**2 + (one - mean) ** 2) + weight * (other_u**2 + (other - mean) ** 2)
    return mean, np.sqrt(variance)


def robust_sds(deviations: FloatArray) -> FloatArray:
    """Return the robust standard deviations about zero over the last axis; NaN is left out.

    Examples
    --------
    >>> robust_sds(np.array([[-1.0, 1.0, np.nan], [2.0, -2.0, 50.0]])).round(4).tolist()
    [1.4826, 2.9652]
    """
    ordered = np.sort(np.abs(deviations), axis=-1)  # NaN last; `numpy.nanmedian` takes ten times as long
    last = np.maximum(np.isfinite(ordered).sum(axis=-1, keepdims=True) - 1, 0)
    halves = (np.take_along_axis(ordered, at, axis=-1)[..., 0] for at in (last // 2, (last + 1) // 2))
    return np.asarray(_SD_OF_MAD * sum(halves) / 2)


def peaks(values: FloatArray) -> Mask:
    """Return which values on the last axis are above the next and not below the one before; no end is one."""
    found = np.zeros(values.shape, dtype=bool)
    middle = values[..., 1:-1]
    found[..., 1:-1] = (middle >= values[..., :-2]) & (middle > values[..., 2:])
    return found


def unit(vectors: FloatArray) -> FloatArray:
    """Return vectors (..., 2) as unit vectors; one of no length stays."""
    return np.asarray(vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-9))


def quarter_turn(vectors: FloatArray) -> FloatArray:
    """Return vectors (..., 2) turned by a quarter, to the right where y runs down: x becomes y."""
    return np.stack([-vectors[..., 1], vectors[..., 0]], axis=-1)


def travel(points: FloatArray) -> FloatArray:
    """Return the way along points (N, 2) to each, shape (N,)."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


def evenly(points: FloatArray, count: int) -> FloatArray:
    """Return so many points in equal steps along points (N, 2), both ends included."""
    along = travel(points)
    at = np.linspace(0, along[-1], count)
    return np.stack([np.interp(at, along, column) for column in points.T], axis=1)


def evenly_round(polygon: FloatArray, count: int) -> FloatArray:
    """Return so many points in equal steps along a closed polygon (N, 2), from its first point on."""
    return evenly(np.vstack([polygon, polygon[:1]]), count + 1)[:-1]


def read_backwards(way: FloatArray) -> bool:
    """Return whether a line that leads this way, (x, y) with y down, runs against the order of reading.

    Examples
    --------
    >>> [read_backwards(np.array(way)) for way in ([1.0, -4.0], [1.0, -6.0], [-1.0, 4.0])]
    [False, True, True]
    """
    across, down = way
    return bool(across < 0 if abs(across) > _STEEP * abs(down) else down < 0)
