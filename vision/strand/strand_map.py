"""Where along a straightened strand each bead begins and ends, and how wide it is, as a network estimates.

Notches, seams, glints, facets and shadows all show where beads touch, and no rule weighs them right for every
look. A network that was trained on thousands of drawn strands, straightened, does. Its input holds the angles
under which each place is seen, too: a seam on top of a bead does not lie above the place where beads touch.
It reads a strand from both ends, and the two readings are averaged; where their sizes differ, the spread of
both is part of the uncertainty.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.special import expit

from vision.common.records import FloatArray
from vision.networks.inference import MID_GREY, U_OF_T4_SCALE, Map
from vision.networks.levels import logit_maps
from vision.strand.axis import STEP_MM
from vision.strand.strip import Segment, Strip

CELLS_ACROSS, _ROWS = 40, 128
"""The widest beads are about as many cells wide as the first says; the network takes so many rows of cells.
It was trained so: at half or double of the first 2 or 3 counts of 28 are lost, of the second nearly
all."""
_MIDDLE = slice(3 * _ROWS // 8, 5 * _ROWS // 8)
"""Rows about the string, whose mean is the estimate along it, as in training."""
REACH = 1.1 * _ROWS / CELLS_ACROSS
"""Half the strip it needs, and a tenth more, over half the width of the widest beads."""
_HEART = 0.25
"""Of a bead's length, from either end: what lies between gives its size across. Half or double: last
digits."""
_LEAST_CELLS = 2.0
"""Cells added to a bead's width before its logarithm is corrected, as in training: at double p95 of sizes
goes from 0.27 to 0.37 mm."""
_SLANTS = slice(3, 5)
"""Of what is pictured: colours come before."""
_BLUR = 0.3
"""Of a coarser cell: averages it, so that it does not alias."""


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
        Logarithm of the size across, in mm as it looks in the plane of the string, of a bead whose middle
        lies there, and its standard uncertainty.
    """

    cell_mm: float
    inside: Map
    ends: Map
    between: Map
    across_log: Map
    across_u_log: Map

    def sides_mm(self, count: int) -> FloatArray:
        """Return how far left and right of the axis beads show at its first `count` steps, shape (2, S)."""
        halves = np.split(self.inside, 2)
        return np.array([self.at_steps(half.sum(axis=0) * self.cell_mm, count) for half in halves])

    def widths_mm(self, count: int) -> FloatArray:
        """Return how wide the beads show at the first `count` steps along the axis."""
        return np.asarray(self.sides_mm(count).sum(axis=0))

    def across_mm(self, segments: list[Segment]) -> tuple[FloatArray, FloatArray]:
        """Return the sizes across, as they look in the plane of the string, and their u, shape (B,)."""
        inner = [segment.steps(trim=_HEART, step_mm=self.cell_mm) for segment in segments]
        # a piece at the strip's end may lie on steps beyond the last whole cell
        hearts = [slice(min(heart.start, len(self.across_log) - 1), heart.stop) for heart in inner]
        sizes = np.array([float(np.exp(np.median(self.across_log[heart]))) for heart in hearts])
        return sizes, sizes * np.array([float(np.median(self.across_u_log[heart])) for heart in hearts])

    def at_steps(self, layer: Map, count: int) -> FloatArray:
        """Return a layer, shape (C,), at the first `count` steps along the axis."""
        return np.interp(np.arange(count) * STEP_MM, np.arange(len(layer)) * self.cell_mm, layer)


def strand_map(strip: Strip, *, half_mm: float) -> StrandMap:
    """Map a straightened strand of about `half_mm` half width."""
    cell = 2 * half_mm / CELLS_ACROSS
    columns = max(int((strip.rgb.shape[1] - 1) * STEP_MM / cell), 2)
    pictured = np.dstack([_colours(strip, cell, columns), _slants(strip, np.arange(columns) * cell)])
    readings = [_reading(logits, cell) for logits in from_both_ends(pictured)]
    inside, along = (np.mean([reading[part] for reading in readings], axis=0) for part in range(2))
    ends, between, across_log, log_scale = along
    apart = np.std([across for _, (_, _, across, _) in readings], axis=0)
    return StrandMap(
        cell_mm=cell,
        inside=expit(inside),
        ends=expit(ends),
        between=expit(between),
        across_log=across_log,
        across_u_log=np.hypot(U_OF_T4_SCALE * np.exp(log_scale), apart),
    )


def from_both_ends(pictured: Map) -> tuple[Map, Map]:
    """Return the network's logits (5, T, C) of a strand (T, C, 5), as it lies and turned by half a turn.

    Turned, the line of sight slants the other way along the string and aside of it.
    """
    turned = np.ascontiguousarray(pictured[::-1, ::-1])
    turned[..., _SLANTS] *= -1
    return logit_maps("strand", pictured, maps=5), logit_maps("strand", turned, maps=5)[:, ::-1, ::-1]


def _reading(logits: Map, cell: float) -> tuple[Map, Map]:
    """Return what the network estimates, of its logits (5, T, C).

    They are the log-odds that a cell shows a bead, (T, C), and for each step, (4, C), those that a bead ends
    there and that it lies between two ends, the logarithm of the size across, and that of its scale.
    """
    along = logits[1:, _MIDDLE].mean(axis=1)
    along[2] += np.log((expit(logits[0]).sum(axis=0) + _LEAST_CELLS) * cell)
    return logits[0], along


def _colours(strip: Strip, cell: float, columns: int) -> Map:
    """Return the strip's colours on the network's cells, shape (T, C, 3)."""
    step = cell / STEP_MM
    rgb = np.asarray(strip.rgb, dtype=np.float32) / 255 - MID_GREY
    if step > 1:
        rgb = np.asarray(cv2.GaussianBlur(rgb, (0, 0), _BLUR * step), dtype=np.float32)
    x = (np.arange(columns) * step).astype(np.float32)
    y = ((np.arange(_ROWS) - (_ROWS - 1) / 2) * step + (len(rgb) - 1) / 2).astype(np.float32)
    at = np.meshgrid(x, y)
    return np.asarray(cv2.remap(rgb, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))


def _slants(strip: Strip, along_mm: FloatArray) -> Map:
    """Return the tangents of the angles under which the string is seen, along and aside, (T, C, 2)."""
    axis, camera = strip.plane.axis, strip.plane.camera.centre_mm
    index = np.minimum(np.rint(along_mm / STEP_MM).astype(int), len(axis.points_mm) - 1)
    off = (camera[:2] - axis.points_mm[index]) / (camera[2] - strip.plane.height_mm)
    slants = np.stack([(off * way[index]).sum(axis=1) for way in (axis.directions, axis.normals)], axis=1)
    return np.broadcast_to(slants.astype(np.float32), (_ROWS, *slants.shape))
