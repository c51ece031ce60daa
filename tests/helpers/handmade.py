"""Strands made by hand: straight strips of painted beads, without a photo or a camera."""

from collections.abc import Sequence

import cv2
import numpy as np

from tests.helpers.cameras import camera_at
from vision.camera.camera import Camera
from vision.common.records import FloatArray
from vision.strand.axis import STEP_MM, Axis
from vision.strand.sides import Sides
from vision.strand.stoppers import Pieces
from vision.strand.strip import Segment, StringPlane, Strip

BEFORE_MM = 9.0
"""Bare string in front of the first bead."""


def straight_axis(length_mm: float, *, start: tuple[float, float] = (0.0, 0.0)) -> Axis:
    """Return an axis along x."""
    n = round(length_mm / STEP_MM)
    points = np.column_stack([start[0] + np.arange(n) * STEP_MM, np.full(n, start[1])])
    return Axis(points_mm=points, directions=np.tile([1.0, 0.0], (n, 1)), straight=True)


def straight_plane(
    length_mm: float,
    *,
    start: tuple[float, float] = (0.0, 0.0),
    height_mm: float = 0.0,
    camera: Camera | None = None,
) -> StringPlane:
    """Return the plane of a string along x, seen from straight above unless a camera is given."""
    axis = straight_axis(length_mm, start=start)
    above = camera_at(length_mm / 2, 0.0, 300.0)
    return StringPlane(axis=axis, height_mm=height_mm, camera=camera or above)


def bare_sides(left_mm: FloatArray, right_mm: FloatArray) -> Sides:
    """Return sides, each of shape (S,), without any picture that they were found in."""
    return Sides(left_mm=left_mm, right_mm=right_mm)


def round_widths(
    lengths: Sequence[float],
    *,
    across: Sequence[float] | None = None,
    gaps: Sequence[float] = (),
    string: float = 0.4,
) -> tuple[FloatArray, FloatArray]:
    """Return the width at each step of ellipses on a string, (S,), and where each begins and ends, (B, 2)."""
    across = lengths if across is None else across
    free = [*gaps, *[0.0] * len(lengths)][: len(lengths)]
    starts = BEFORE_MM + np.cumsum([0.0, *(a + g for a, g in zip(lengths, free, strict=True))])[:-1]
    ends = starts + lengths
    s = np.arange(0, ends[-1] + BEFORE_MM, STEP_MM)
    width = np.full(len(s), string)
    for a, b, d in zip(starts, ends, across, strict=True):
        reach = 1 - ((s - (a + b) / 2) / ((b - a) / 2)) ** 2
        width = np.maximum(width, d * np.sqrt(np.maximum(reach, 0)))
    return width, np.column_stack([starts, ends])


def cylinder_widths(
    lengths: Sequence[float], across: float, *, string: float = 0.4
) -> tuple[FloatArray, FloatArray]:
    """Return the same of touching tubes: no notch shows where they meet."""
    ends = BEFORE_MM + np.cumsum(lengths)
    starts = ends - lengths
    s = np.arange(0, ends[-1] + BEFORE_MM, STEP_MM)
    width = np.where((s >= starts[0]) & (s < ends[-1]), across, string)
    return width.astype(float), np.column_stack([starts, ends])


def painted(
    width: FloatArray,
    places: FloatArray,
    *,
    colours: Sequence[tuple[int, int, int]] = ((40, 60, 150),),
    bed: tuple[int, int, int] = (222, 221, 218),
    seam: int = -25,
    noise: float = 2.0,
) -> Strip:
    """Paint a strip whose beads are `width` wide, a darker line where each ends; shape (T, S, 3)."""
    half = width.max() * 0.8 + 2
    reach = round(half / STEP_MM)
    aside = np.arange(-reach, reach + 1) * STEP_MM
    s = np.arange(len(width)) * STEP_MM
    rgb = np.tile(np.array(bed, dtype=float), (len(aside), len(width), 1))
    inside = np.abs(aside)[:, None] < width[None] / 2
    for k, (a, b) in enumerate(places):
        mine = inside & (s >= a)[None] & (s < b)[None]
        rgb[mine] = colours[k % len(colours)]
        rgb[inside & ((np.abs(s - a) < 0.1) | (np.abs(s - b) < 0.1))[None]] += seam
    rgb = cv2.GaussianBlur(rgb, (0, 0), 1.2) + np.random.default_rng(4).normal(0, noise, rgb.shape)
    plane = straight_plane(len(width) * STEP_MM)
    return Strip(rgb=np.clip(rgb, 0, 255).astype(np.uint8), aside_mm=aside, plane=plane)


def pieces_of(width: np.ndarray, places: np.ndarray, likely: np.ndarray, *, colours: list) -> Pieces:
    """Paint a strand with these pieces."""
    return Pieces(
        segments=[Segment(start_mm=float(a), end_mm=float(b)) for a, b in places],
        strip=painted(width, places, colours=colours),
        width_mm=width,
        likely=likely,
        strung=np.full(len(width), 0.5),
    )
