"""A closer look at each loose bead: what its silhouette, seen aslant, does not tell of its sizes.

An outline is the cone of rays that touch a bead. Which size it has seen from straight above depends on how
tall it is, where it is widest, how its facets lie, and whether the sharp line is its outline at all or the
horizon in its polish. All that shows in its picture, but in no rule. A network that has seen many drawn beads
beside their measured outlines says by how much the sizes found from them are off, and how well it knows.
"""

from dataclasses import dataclass, replace
from typing import Self

import cv2
import numpy as np

from vision.camera.camera import Camera
from vision.common.records import FloatArray, ImageArray
from vision.networks.inference import MID_GREY, U_OF_T4_SCALE, Map, estimates

CELLS = 64
_ROUND_ABOUT = 1.5
"""The window is this many times as wide as the bead's silhouette on the whole."""
_FINE = 4
_AT_ONCE = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What is known of one bead from its outline.

    Attributes
    ----------
    outline_mm : ndarray, shape (N, 2)
        On the plane of the bed, (x, y).
    centre_mm : ndarray, shape (3,)
        World (x, y, h) of its middle.
    sizes_mm, u_mm : ndarray, shape (2,)
        Largest and smallest size, and their standard uncertainties.
    build_rel_u : float
        Relative standard uncertainty of sizes from what no view of it tells of how it is built.
    height_mm : float
        How tall it is taken to be.
    traced : bool
        Whether its outline tells its sizes; else they are but where to begin.
    measured : bool
        Whether it has a size that can be trusted.
    """

    outline_mm: FloatArray
    centre_mm: FloatArray
    sizes_mm: FloatArray
    u_mm: FloatArray
    build_rel_u: float
    height_mm: float
    traced: bool
    measured: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The window on the bed through which a bead is seen.

    Attributes
    ----------
    middle_mm : ndarray, shape (2,)
        World (x, y).
    turn : ndarray, shape (2, 2)
        Rows: its own x, away from the camera's foot, and its own y.
    cell_mm : float
        Side of a cell.
    """

    middle_mm: FloatArray
    turn: FloatArray
    cell_mm: float

    @classmethod
    def about(cls, bead: Found, camera: Camera) -> Self:
        """Return the window of a bead."""
        middle = _centroid(bead.outline_mm)
        diameter = 2 * float(np.sqrt(cv2.contourArea(bead.outline_mm.astype(np.float32)) / np.pi))
        away = middle - camera.centre_mm[:2]
        way = away / max(float(np.linalg.norm(away)), 1e-9)
        turn = np.array([way, [-way[1], way[0]]])
        return cls(middle_mm=middle, turn=turn, cell_mm=_ROUND_ABOUT * diameter / CELLS)

    def filled(self, outline_mm: FloatArray) -> Map:
        """Return the share of each cell within an outline on the bed, shape (CELLS, CELLS)."""
        cells = (outline_mm - self.middle_mm) @ self.turn.T / self.cell_mm + (CELLS - 1) / 2
        fine = np.zeros((CELLS * _FINE, CELLS * _FINE), np.uint8)
        points = (cells + 0.5) * _FINE - 0.5
        cv2.fillPoly(fine, [np.rint(points * 256).astype(np.int32)], 255, shift=8)
        share = cv2.resize(fine, (CELLS, CELLS), interpolation=cv2.INTER_AREA)
        return np.asarray(share, dtype=np.float32) / np.float32(255)


def close_up(rgb: ImageArray, camera: Camera, bead: Found, *, bed_height_mm: float) -> Map:
    """Return the picture of one bead that the network is shown, shape (CELLS, CELLS, 12).

    The window lies on the bed, its rows away from the camera's foot. Channels: colours, what the outline
    holds, and what is the same all over: slant of the view along and square to the rows, how large the bead
    shows, how long it is, its doubts, its height, its size.
    """
    frame = Frame.about(bead, camera)
    slants = frame.turn @ (frame.middle_mm - camera.centre_mm[:2]) / (camera.centre_mm[2] - bed_height_mm)
    per_mm = camera.px_per_mm(np.array([*frame.middle_mm, bed_height_mm]))
    seen = _window(rgb, camera, frame, bed_height_mm, fine=frame.cell_mm * per_mm)
    inside = frame.filled(bead.outline_mm)
    diameter = frame.cell_mm * CELLS / _ROUND_ABOUT
    largest, smallest = bead.sizes_mm
    facts = [
        *(2 * slants),
        0.5 * np.log(diameter * per_mm / 40),
        np.log(largest / smallest),
        *np.minimum(20 * bead.u_mm / bead.sizes_mm, 4.0),
        bead.height_mm / smallest - 0.5,
        0.5 * np.log(smallest / 8),
    ]
    flat = np.broadcast_to(np.array(facts, np.float32), (CELLS, CELLS, len(facts)))
    return np.dstack([seen / 255 - MID_GREY, inside - MID_GREY, flat]).astype(np.float32)


def second_look(name: str, pictures: list[Map]) -> tuple[FloatArray, FloatArray]:
    """Return by how much the network in the file NAME.onnx finds sizes to be off, and its doubt.

    Returns
    -------
    off, u : ndarray, shape (B, 2)
        Logarithms of the true sizes over the measured ones, and their standard uncertainties.
    """
    parts = [pictures[k : k + _AT_ONCE] for k in range(0, len(pictures), _AT_ONCE)]
    answer = np.concatenate([estimates(name, np.array(part)) for part in parts])
    return answer[:, :2].astype(float), U_OF_T4_SCALE * np.exp(answer[:, 2:].astype(float))


def closer(name: str, beads: list[Found], pictures: list[Map]) -> list[Found]:
    """Return beads with sizes and doubts as a second look puts them.

    What the outline tells and what the network tells are weighed by their doubts (not their squares: the
    network was shown the outline too, so the two are no independent findings). The network's doubt is of the
    whole: how far off sizes of that look were, as far as it could tell. Where its advice is followed in part
    only, the rest counts as doubt too. Where too little of the outline was seen, it is all there is.
    """
    off, u = second_look(name, pictures)
    settled = []
    for bead, by, doubt in zip(beads, off, u, strict=True):
        edges = bead.u_mm / bead.sizes_mm
        weight = edges / np.hypot(edges, doubt) if bead.traced else np.ones(2)
        sizes = bead.sizes_mm * np.exp(weight * by)
        left = np.sqrt(doubt**2 + ((1 - weight) * by) ** 2 + bead.build_rel_u**2)
        settled.append(replace(bead, sizes_mm=sizes, u_mm=sizes * left))
    return settled


def _centroid(outline: FloatArray) -> FloatArray:
    moments = cv2.moments(outline.astype(np.float32) - outline[0].astype(np.float32))
    return outline[0] + np.array([moments["m10"], moments["m01"]]) / max(moments["m00"], 1e-12)


def _window(rgb: ImageArray, camera: Camera, frame: Frame, height_mm: float, *, fine: float) -> Map:
    """Return the colours in a window, (CELLS, CELLS, 3), each cell averaged over about `fine` pixels."""
    times = int(np.clip(round(fine), 1, _FINE))
    at = (np.arange(CELLS * times) - (CELLS * times - 1) / 2) * frame.cell_mm / times
    plane = frame.middle_mm + np.stack(np.meshgrid(at, at), axis=-1) @ frame.turn
    pixels = camera.project(np.dstack([plane, np.full(plane.shape[:2], height_mm)])).astype(np.float32)
    low = np.clip(np.floor(pixels.min(axis=(0, 1))).astype(int) - 1, 0, np.array(rgb.shape[1::-1]) - 2)
    high = np.clip(np.ceil(pixels.max(axis=(0, 1))).astype(int) + 2, low + 2, rgb.shape[1::-1])
    part = np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]])
    x, y = (pixels[..., k] - np.float32(low[k]) for k in (0, 1))
    seen = cv2.remap(part, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.resize(seen, (CELLS, CELLS), interpolation=cv2.INTER_AREA), dtype=np.float32)
