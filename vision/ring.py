"""Round outlines that are too faint to follow point by point but show when summed all round.

A polished bead mirrors its bed near the rim: there the outline all but vanishes while highlights
inside are strong. The outline of a sphere is known but for place and size, so the edges along it can
be summed; the outermost such ring that is about as complete as the best one is the rim.
"""

import numpy as np

from vision.records import FloatArray

_SHIFTS = np.array([(x, y) for x in range(-3, 4) for y in range(-3, 4) if x * x + y * y < 12]) * 0.05
"""How far the ring's middle may lie off, over its radius."""
_ENOUGH = 2.0
"""Edges count up to this many times the bed's grain: a highlight is worth no more than a rim."""
_COMPLETE = 0.5
_AS_GOOD = 0.8


def sphere_line(points: FloatArray, camera: FloatArray, *, count: int) -> FloatArray:
    """Return the outline on the plane, (count, 2), of the sphere that fits points on it best.

    The rays that touch a sphere form a circular cone: their unit vectors u satisfy u . m = 1, m the
    cone's axis over the cosine of its half angle; linear in m.

    Parameters
    ----------
    points : ndarray, shape (N, 2)
        On the plane h = 0.
    camera : ndarray, shape (3,)
        Projection centre above that plane, (x, y, h).
    count : int
    """
    rays = np.column_stack([points, np.zeros(len(points))]) - camera
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    weight = np.ones(len(rays))
    m = np.zeros(3)
    for _ in range(15):
        scaled = rays * weight[:, None]
        m = np.linalg.solve(scaled.T @ rays, scaled.sum(axis=0))
        miss = rays @ m - 1
        spread = 1.4826 * float(np.median(np.abs(miss))) + 1e-9
        weight = 1 / (1 + (miss / (2 * spread)) ** 2) ** 2
    cosine = min(1 / float(np.linalg.norm(m)), 1 - 1e-9)
    axis = m / np.linalg.norm(m)
    first = np.cross(axis, [1.0, 0.0, 0.0])
    first /= np.linalg.norm(first)
    second = np.cross(axis, first)
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)[:, None]
    sine = np.sqrt(1 - cosine**2)
    cone = cosine * axis + sine * (np.cos(angle) * first + np.sin(angle) * second)
    reach = -camera[2] / cone[:, 2]
    line: FloatArray = camera[:2] + reach[:, None] * cone[:, :2]
    return line


def outermost_ring(
    edge: FloatArray, normal: FloatArray, offsets: FloatArray, *, radius: float
) -> FloatArray | None:
    """Return how far outwards the rim lies from each point of a round line; None where none is complete.

    Parameters
    ----------
    edge : ndarray, shape (N, K)
        Edges along the normals, in multiples of the bed's grain.
    normal : ndarray, shape (N, 2)
    offsets : ndarray, shape (K,)
        Evenly spaced.
    radius : float
        Unit of `offsets`.
    """
    step = offsets[1] - offsets[0]
    level = np.minimum(edge, _ENOUGH)
    level = np.maximum(np.maximum(level, np.roll(level, 1, axis=1)), np.roll(level, -1, axis=1))
    columns = np.arange(len(offsets))
    best = np.zeros(len(offsets))
    found = np.zeros((len(offsets), 2))
    for shift in _SHIFTS * radius:
        moved = np.round(normal @ shift / step).astype(int)
        at = columns[None] + moved[:, None]
        inside = (at >= 0) & (at < len(offsets))
        values = np.where(inside, np.take_along_axis(level, np.clip(at, 0, len(offsets) - 1), axis=1), 0)
        mean = values.mean(axis=0)
        better = mean > best
        best[better], found[better] = mean[better], shift
    # what the best of as many rings over bare bed comes to: the outermost ones pass over nothing else
    bare = float(np.median(best[-len(best) // 6 :]))
    rank = (best - bare) / (_ENOUGH - min(bare, 0.9 * _ENOUGH))
    if rank.max() < _COMPLETE:
        return None
    k = int(np.flatnonzero(rank >= max(_COMPLETE, _AS_GOOD * rank.max()))[-1])
    near = slice(max(k - 4, 0), k + 1)
    k = near.start + int(np.argmax(best[near]))
    line: FloatArray = offsets[k] + normal @ found[k]
    return line
