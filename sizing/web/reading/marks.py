"""Marks on a photo, in its own pixels: outlines and numbers that a page draws as vectors."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vision.common.records import FloatArray

_POINTS = 40
"""Of an outline: it is then within a hundredth of its radius."""
_MARGIN = 0.06
"""Of the longer side of what is marked, about it (chosen by eye)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One bead on a photo.

    Attributes
    ----------
    key : str
        Names the bead among all of the page.
    number : str
        What stands in it.
    title : str
        What it is, for readers who cannot see it.
    points : str
        Outline as SVG writes it.
    x, y, radius : float
        Middle, and how far the nearest point of the outline is from it, px.
    colour : str
        CSS colour of the outline.
    states : str
        Words for the style: `doubtful`, `off` (to take off), `picked`, `corrected`, `other` (no bead).
    """

    key: str
    number: str
    title: str
    points: str
    x: float
    y: float
    radius: float
    colour: str
    states: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedPhoto:
    """A photo with its marks.

    Attributes
    ----------
    name : str
    index : int
        0, 1, 2 ... of the photos of a measurement.
    size_px : tuple of int
        (width, height).
    window : tuple of int
        (left, top, width, height) of the part that holds all marks.
    marks : sequence of Mark
    letter : str
        What stands before the numbers of its beads; empty where there is one photo.
    """

    name: str
    index: int
    size_px: tuple[int, int]
    window: tuple[int, int, int, int]
    marks: Sequence[Mark]
    letter: str = ""


def outline_points(outline: FloatArray) -> str:
    """Return the points of an outline as SVG writes them, no more than are seen.

    Examples
    --------
    >>> outline_points(np.array([[0.25, 0], [10, 0], [10, 10.04]]))
    '0.2,0 10,0 10,10'
    """
    step = max(len(outline) // _POINTS, 1)
    return " ".join(f"{round(float(x), 1):g},{round(float(y), 1):g}" for x, y in outline[::step])


def inner_radius(outline: FloatArray, centre: tuple[float, float]) -> float:
    """Return how far the nearest point of an outline is from a bead's middle; of none, 0."""
    return float(np.hypot(*(outline - np.array(centre)).T).min()) if len(outline) else 0.0


def window_of(points: FloatArray, size_px: tuple[int, int]) -> tuple[int, int, int, int]:
    """Return (left, top, width, height) of the part of a photo that holds points, with a margin."""
    if not len(points):
        return 0, 0, *size_px
    low, high = points.min(axis=0), points.max(axis=0)
    margin = _MARGIN * float((high - low).max())
    left, top = (max(round(float(each - margin)), 0) for each in low)
    right, bottom = (min(round(float(h + margin)), s) for h, s in zip(high, size_px, strict=True))
    return left, top, right - left, bottom - top
