"""Outlines on the photo of beads that were joined, divided or missed: for the eye only."""

from collections.abc import Sequence

import numpy as np

from vision.common.records import FloatArray

_POINTS = 24
"""Of the outline of a bead that was missed: every 15 degrees."""
_DIRECTIONS = 180
"""In which a caliper is laid on an outline: at one degree its largest size is short by 4e-5."""

Point = tuple[float, float]


def joined_outline(outlines: Sequence[FloatArray]) -> FloatArray:
    """Return the hull of several outlines (N, 2); empty where they have none."""
    from scipy.spatial import ConvexHull, QhullError  # noqa: PLC0415 - takes its time to import

    points = np.vstack(outlines)
    try:
        return np.asarray(points[ConvexHull(points).vertices]) if len(points) > 2 else points
    except QhullError:  # all on one line
        return points


def halves(outline: FloatArray, centre: Point, way: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the parts of an outline before and behind its centre, along a unit vector (2,)."""
    along = (outline - np.array(centre)) @ way
    return outline[along <= 0], outline[along > 0]


def round_outline(centre: Point, radius_px: float) -> FloatArray:
    """Return a circle, shape (N, 2)."""
    angles = 2 * np.pi * np.arange(_POINTS) / _POINTS
    return np.array(centre) + radius_px * np.column_stack([np.cos(angles), np.sin(angles)])


def extent(outline: FloatArray, centre: Point, way: FloatArray) -> float:
    """Return how far an outline reaches along a unit vector (2,), px; 0 where there is none."""
    return float(np.ptp((outline - np.array(centre)) @ way)) if len(outline) else 0.0


def caliper_px(outline: FloatArray) -> tuple[float, float]:
    """Return the largest and the smallest caliper size of an outline (N, 2), over all directions, px."""
    if not len(outline):
        return 0.0, 0.0
    angles = np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS
    widths = np.ptp(outline @ np.vstack([np.cos(angles), np.sin(angles)]), axis=0)
    return float(widths.max()), float(widths.min())


def longest_way(outline: FloatArray) -> FloatArray:
    """Return the unit vector (2,) of an outline's greatest extent, rightwards."""
    if len(outline) < 3:
        return np.array([1.0, 0.0])
    _, ways = np.linalg.eigh(np.cov(outline.T))
    return np.asarray(ways[:, -1] * (1.0 if ways[0, -1] >= 0 else -1.0))
