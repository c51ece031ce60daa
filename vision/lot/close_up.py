"""A closer look at each loose bead: what its outline, seen aslant, does not show of its sizes.

An outline is the cone of rays that touch a bead. The size seen from straight above also depends on how tall
the bead is, where it is widest, how its facets lie, and whether the sharp line is its outline at all or the
horizon mirrored in its polish. All that shows in its picture, but no rule describes it. A network, trained on
drawn beads and their measured outlines, estimates by how much the sizes from the outline are off, and how
uncertain that is. Another one was taught by beads traced in photographed light. The surer one counts more.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import cv2
import numpy as np

from vision.camera.camera import Camera
from vision.camera.scene import Scene
from vision.common.numerics import mixed, quarter_turn, unit
from vision.common.records import FloatArray
from vision.image.sampling import crop_about, sample
from vision.networks.inference import MID_GREY, U_OF_T4_SCALE, Map, estimates

CELLS, _WINDOW = 64, 1.5
"""Cells along a side of the window, and its width over the diameter of the circle of the outline's area. The
network was trained with these: at half or double of either hundreds of sizes are refused."""
_FINE = 4
"""A cell is the mean of at most the square of this many points. At half the median error is 0.054 mm."""
NETWORKS = ("loose-drawn", "loose-traced")
_TYPICAL_PX, _TYPICAL_MM, _LARGEST_U = 40.0, 8.0, 0.2
"""Scales of the numbers that the network gets besides the picture, as it was trained: size in the photo, size
in millimetres, and the relative uncertainty above which all are shown as equal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadSizes:
    """What is known of one bead's sizes.

    Attributes
    ----------
    outline_mm : ndarray, shape (N, 2)
        On the plane of the bed, (x, y).
    centre_mm : ndarray, shape (3,)
        World (x, y, h) of its middle.
    sizes_mm, u_mm : ndarray, shape (2,)
        Largest and smallest size, and their standard uncertainties.
    unseen_rel_u : float
        Relative standard uncertainty of sizes from what no view of it shows of its body, and from blur, of
        which the network saw little.
    height_mm : float
        Estimated.
    traced : bool
        Whether enough of its outline was seen to give its sizes; else they are only a first guess.
    measured : bool
        Whether it has sizes that can be trusted.
    """

    outline_mm: FloatArray
    centre_mm: FloatArray
    sizes_mm: FloatArray
    u_mm: FloatArray
    unseen_rel_u: float
    height_mm: float
    traced: bool
    measured: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The window on the bed in which a bead is shown to the network.

    Attributes
    ----------
    middle_mm : ndarray, shape (2,)
        World (x, y).
    turn : ndarray, shape (2, 2)
        Rows: its own x, away from the point below the camera, and its own y.
    cell_mm : float
        Side of a cell.
    """

    middle_mm: FloatArray
    turn: FloatArray
    cell_mm: float

    @classmethod
    def about(cls, bead: BeadSizes, camera: Camera) -> Self:
        """Return the window of a bead."""
        middle = _centroid(bead.outline_mm)
        diameter = 2 * float(np.sqrt(cv2.contourArea(bead.outline_mm.astype(np.float32)) / np.pi))
        way = unit(middle - camera.centre_mm[:2])
        turn = np.stack([way, quarter_turn(way)])
        return cls(middle_mm=middle, turn=turn, cell_mm=_WINDOW * diameter / CELLS)

    @property
    def diameter_mm(self) -> float:
        """Diameter of the circle of the outline's area."""
        return self.cell_mm * CELLS / _WINDOW

    def filled(self, outline_mm: FloatArray) -> Map:
        """Return the share of each cell within an outline on the bed, shape (CELLS, CELLS)."""
        cells = (outline_mm - self.middle_mm) @ self.turn.T / self.cell_mm + (CELLS - 1) / 2
        fine = np.zeros((CELLS * _FINE, CELLS * _FINE), np.uint8)
        points = (cells + 0.5) * _FINE - 0.5
        cv2.fillPoly(fine, [np.rint(points * 256).astype(np.int32)], 255, shift=8)
        share = cv2.resize(fine, (CELLS, CELLS), interpolation=cv2.INTER_AREA)
        return np.asarray(share, dtype=np.float32) / np.float32(255)

    def colours(self, scene: Scene, *, times: int) -> Map:
        """Return the colours in the window, (CELLS, CELLS, 3), the mean of `times` squared points a cell."""
        at = (np.arange(CELLS * times) - (CELLS * times - 1) / 2) * self.cell_mm / times
        plane = self.middle_mm + np.stack(np.meshgrid(at, at), axis=-1) @ self.turn
        pixels = scene.bed_to_px(plane).astype(np.float32)
        part, low = crop_about(scene.photo.rgb, pixels, margin_px=1)
        seen = sample(np.ascontiguousarray(part), pixels - low).astype(np.uint8)
        return np.asarray(cv2.resize(seen, (CELLS, CELLS), interpolation=cv2.INTER_AREA), dtype=np.float32)


def close_up(scene: Scene, bead: BeadSizes) -> Map:
    """Return the picture of one bead that the network is shown, shape (CELLS, CELLS, 12).

    The window lies on the bed, its rows away from the point below the camera. Channels: colours, the share
    within the outline, and, the same all over, `_facts`.
    """
    frame = Frame.about(bead, scene.camera)
    per_mm = scene.camera.px_per_mm(np.array([*frame.middle_mm, scene.bed_height_mm]))
    seen = frame.colours(scene, times=int(np.clip(round(frame.cell_mm * per_mm), 1, _FINE)))
    inside = frame.filled(bead.outline_mm)
    facts = np.array(_facts(scene, bead, frame=frame, per_mm=per_mm), np.float32)
    everywhere = np.broadcast_to(facts, (CELLS, CELLS, len(facts)))
    return np.dstack([seen / 255 - MID_GREY, inside - MID_GREY, everywhere]).astype(np.float32)


def _facts(scene: Scene, bead: BeadSizes, *, frame: Frame, per_mm: float) -> list[float]:
    """Return slope of the view along and across rows, size in pixels, aspect, uncertainties, height, size.

    Scaled to about -1 to 1, as in the pictures that the network was trained on.
    """
    slope = frame.turn @ (frame.middle_mm - scene.camera.centre_mm[:2]) / scene.camera_above_mm
    largest, smallest = bead.sizes_mm
    return [
        *(2 * slope),
        0.5 * np.log(frame.diameter_mm * per_mm / _TYPICAL_PX),
        np.log(largest / smallest),
        *(20 * np.minimum(bead.u_mm / bead.sizes_mm, _LARGEST_U)),
        bead.height_mm / smallest - 0.5,
        0.5 * np.log(smallest / _TYPICAL_MM),
    ]


def corrected(bead: BeadSizes, *, log_ratio: FloatArray, u: FloatArray) -> BeadSizes:
    """Return a bead with the sizes that its outline and the network give together.

    Both are weighted by their uncertainties, not by the squares: the network was shown the outline too, so
    the two are not independent. The network's uncertainty is that of the whole: how far off sizes of beads
    that look so were. Where its correction is applied in part only, the rest counts as uncertainty too. Where
    too little of the outline was seen, the network alone counts.

    Parameters
    ----------
    bead : BeadSizes
    log_ratio, u : ndarray, shape (2,)
        What the network estimates: logarithms of the true sizes over the measured ones, and their standard
        uncertainties.

    Examples
    --------
    The outline gives 8 mm to 3 %, the network 5 % more to 4 %: the size moves by 3 / 5 of that.

    >>> bead = BeadSizes(
    ...     outline_mm=np.zeros((3, 2)), centre_mm=np.zeros(3), height_mm=8.0, traced=True, measured=True,
    ...     sizes_mm=np.full(2, 8.0), u_mm=np.full(2, 0.24), unseen_rel_u=0.0,
    ... )
    >>> both = corrected(bead, log_ratio=np.full(2, 0.05), u=np.full(2, 0.04))
    >>> (both.sizes_mm / 8).round(4).tolist(), (both.u_mm / both.sizes_mm).round(4).tolist()
    ([1.0305, 1.0305], [0.0447, 0.0447])
    """
    edges_u = bead.u_mm / bead.sizes_mm
    weight = edges_u / np.hypot(edges_u, u) if bead.traced else np.ones(2)
    sizes = bead.sizes_mm * np.exp(weight * log_ratio)
    rel_u = np.sqrt(u**2 + ((1 - weight) * log_ratio) ** 2 + bead.unseen_rel_u**2)
    return replace(bead, sizes_mm=sizes, u_mm=sizes * rel_u)


def correct_sizes(beads: Sequence[BeadSizes], pictures: Sequence[Map]) -> list[BeadSizes]:
    """Return beads as `corrected` by what both networks estimate."""
    answers = [estimates(network, pictures).astype(float) for network in NETWORKS]
    (one, one_u), (other, other_u) = ((a[:, :2], U_OF_T4_SCALE * np.exp(a[:, 2:4])) for a in answers)
    both = zip(*mixed(one, one_u, other, other_u), strict=True)
    return [corrected(bead, log_ratio=ratio, u=u) for bead, (ratio, u) in zip(beads, both, strict=True)]


def _centroid(outline: FloatArray) -> FloatArray:
    moments = cv2.moments(outline.astype(np.float32) - outline[0].astype(np.float32))
    return outline[0] + np.array([moments["m10"], moments["m01"]]) / max(moments["m00"], 1e-12)
