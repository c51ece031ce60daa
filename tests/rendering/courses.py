"""Courses on which things are strung or laid, and how a thing on one is turned. Lengths in mm."""

import itertools
import math

import numpy as np

from tests.rendering.meshes import Array

STEP = 0.25
"""Between points of a course, mm."""


def rotation(heading: float, roll: float = 0.0) -> Array:
    """Return the turn about z by a heading, after a roll about x."""
    c, s, d, t = math.cos(heading), math.sin(heading), math.cos(roll), math.sin(roll)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ np.array([[1, 0, 0], [0, d, -t], [0, t, d]])


def curve(length: float, rng: np.random.Generator, *, straight: bool) -> Array:
    """Return a smooth course about the origin in equal steps, shape (N, 2)."""
    count = max(int(length / STEP), 8)
    if straight:
        turn = np.zeros(count)
    else:
        at = np.linspace(0, 1, count)
        waves = sum(
            rng.normal(0, 1.3) / k * np.sin(2 * np.pi * (k * at / rng.uniform(1, 2.2) + rng.random()))
            for k in (1, 2, 3)
        )
        turn = np.asarray(waves)
    turn = turn + rng.choice([rng.normal(0, 0.12), rng.uniform(0, 2 * np.pi)], p=[0.5, 0.5])
    points = np.cumsum(np.stack([np.cos(turn), np.sin(turn)], axis=1) * STEP, axis=0)
    return points - (points.min(axis=0) + points.max(axis=0)) / 2


def closed_curve(length: float, rng: np.random.Generator) -> Array:
    """Return a round course that ends where it began."""
    turn = np.linspace(0, 2 * np.pi, 720) + rng.uniform(0, 2 * np.pi)
    reach = 1 + sum(rng.normal(0, 0.1 / k) * np.cos(k * turn + rng.uniform(0, 6)) for k in (2, 3, 4))
    points = np.stack([reach * np.cos(turn) * rng.uniform(0.8, 1.2), reach * np.sin(turn)], axis=1)
    travel = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    at = np.arange(0, 1, STEP / length) * travel[-1]
    even = np.stack([np.interp(at, travel, column) for column in points.T], axis=1)
    return even * length / travel[-1]


def place_at(course: Array, along: float) -> tuple[Array, float]:
    """Return the place and the heading at a length along a course."""
    k = float(np.clip(along / STEP, 0, len(course) - 2))
    base = int(k)
    step = course[base + 1] - course[base]
    return course[base] + (k - base) * step, math.atan2(step[1], step[0])


def strung_length(course: Array, spans: Array) -> float:
    """Return the length of what is strung along a course from end to end, spans (B, 2).

    Beads are straight: their string runs from middle to middle, not along the curve that they were laid on.
    """
    middles = np.array([place_at(course, along)[0] for along in spans.mean(axis=1)])
    ends = np.ptp(spans[[0, -1]], axis=1).sum() / 2
    return float(np.hypot(*np.diff(middles, axis=0).T).sum() + ends)


def drawn_line(points: Array) -> Array:
    """Return points in steps of about half a millimetre along straight pieces, without doubles."""
    out = [points[0]]
    for a, b in itertools.pairwise(points):
        far = float(np.linalg.norm(b - a))
        if far > 1e-3:
            out += list(a + (b - a) * np.linspace(0, 1, max(int(far / 0.7), 1) + 1)[1:, None])
    return np.array(out)
