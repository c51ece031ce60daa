"""Where along a straightened strand each bead begins and ends, and how wide it is, as a network sees it.

Notches, seams, glints, facets and shadows all speak of where beads part, and no rule weighs them right for
every look. A network that has seen thousands of drawn strands pulled straight does. It is shown under which
slant each place is seen, too: a seam on top of a bead does not lie above the place where beads touch.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from vision.common.records import FloatArray
from vision.networks.inference import MID_GREY, U_OF_T4_SCALE, Map, logit_maps, probability
from vision.strand.axis import STEP_MM
from vision.strand.segment import Segment
from vision.strand.strip import Strip

_ACROSS, _ROWS = 40, 128
"""The widest beads are about as many cells wide as the first says; it sees so many rows of cells."""
_MIDDLE = slice(48, 80)
"""Rows about the string, which say together what is told along it."""
REACH = 1.1 * _ROWS / _ACROSS
"""Half the strip it wants to see, over half the width of the widest beads."""
_HEART = 0.25
"""Of a bead's length, from either end: what lies between tells its size across."""
_LEAST_CELLS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StrandMap:
    """What each cell of a straightened strand shows.

    Attributes
    ----------
    cell_mm : float
        Cell (r, c) lies c cells along the axis and r - (T - 1) / 2 aside of it.
    inside : ndarray, shape (T, C)
        How likely it shows a bead, 0 to 1; half on the outline.
    ends : ndarray, shape (C,)
        How likely a bead, or a stopper, begins or ends there.
    between : ndarray, shape (C,)
        How likely the place lies between the two ends of one bead.
    across_log, across_u_log : ndarray, shape (C,)
        Logarithm of the size across, in mm as it looks in the plane of the string, of a bead whose heart
        lies there, and its standard uncertainty.
    """

    cell_mm: float
    inside: Map
    ends: Map
    between: Map
    across_log: Map
    across_u_log: Map

    def widths_mm(self, count: int) -> FloatArray:
        """Return how wide the beads show at the first `count` steps along the axis."""
        return self.at_steps(self.inside.sum(axis=0) * self.cell_mm, count)

    def across_mm(self, segments: list[Segment]) -> tuple[FloatArray, FloatArray]:
        """Return the sizes across, as they look in the plane of the string, and their u, shape (B,)."""
        sizes, doubts = [], []
        for segment in segments:
            trim = _HEART * segment.length_mm
            first = round((segment.start_mm + trim) / self.cell_mm)
            last = max(round((segment.end_mm - trim) / self.cell_mm), first + 1)
            size = float(np.exp(np.median(self.across_log[first:last])))
            sizes.append(size)
            doubts.append(size * float(np.median(self.across_u_log[first:last])))
        return np.array(sizes), np.array(doubts)

    def at_steps(self, layer: Map, count: int) -> FloatArray:
        """Return a layer, shape (C,), at the first `count` steps along the axis."""
        return np.interp(np.arange(count) * STEP_MM, np.arange(len(layer)) * self.cell_mm, layer)


def strand_map(strip: Strip, eye: FloatArray, *, half_mm: float, height_mm: float) -> StrandMap:
    """Look at a strand of about `half_mm` half width that was pulled straight `height_mm` above the sheet.

    `eye`, shape (3,), is the camera's (x, y, h).
    """
    cell = 2 * half_mm / _ACROSS
    columns = max(int((strip.rgb.shape[1] - 1) * STEP_MM / cell), 2)
    along = np.arange(columns) * cell
    seen = np.dstack([_shown(strip, cell, columns), _slants(strip, eye, along, height_mm)])
    logits = logit_maps("strand", seen, maps=5)
    inside = probability(logits[..., 0])
    ends, between, more, scale = logits[_MIDDLE, :, 1:].mean(axis=0).T
    return StrandMap(
        cell_mm=cell,
        inside=inside,
        ends=probability(ends),
        between=probability(between),
        across_log=np.log((inside.sum(axis=0) + _LEAST_CELLS) * cell) + more,
        across_u_log=U_OF_T4_SCALE * np.exp(scale),
    )


def _shown(strip: Strip, cell: float, columns: int) -> Map:
    """Return the strip's colours on the network's cells, shape (T, C, 3)."""
    step = cell / STEP_MM
    rgb = np.asarray(strip.rgb, dtype=np.float32) / 255 - MID_GREY
    if step > 1:  # averaged: fewer cells than steps alias
        rgb = np.asarray(cv2.GaussianBlur(rgb, (0, 0), 0.3 * step), dtype=np.float32)
    x = (np.arange(columns) * step).astype(np.float32)
    y = ((np.arange(_ROWS) - (_ROWS - 1) / 2) * step + (len(rgb) - 1) / 2).astype(np.float32)
    at = np.meshgrid(x, y)
    return np.asarray(cv2.remap(rgb, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))


def _slants(strip: Strip, eye: FloatArray, along: FloatArray, height_mm: float) -> Map:
    """Return the tangents of the angles under which the string is seen, along and aside, (T, C, 2)."""
    axis = strip.axis
    index = np.minimum(np.rint(along / STEP_MM).astype(int), len(axis.points_mm) - 1)
    off = (eye[:2] - axis.points_mm[index]) / (eye[2] - height_mm)
    slants = np.stack([(off * way[index]).sum(axis=1) for way in (axis.directions, axis.normals)], axis=1)
    return np.broadcast_to(slants.astype(np.float32), (_ROWS, *slants.shape))
