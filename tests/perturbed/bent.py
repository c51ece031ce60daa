"""The sheet is folded or curled: each of its points is lifted, and the picture is warped as it then looks.

Beads are moved with the paper under them and keep their sizes. That they turn with it is not drawn.
"""

import math
from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np

from tests.perturbed.case import Case, Way, mapped
from vision.common.records import FloatArray
from vision.sheet.geometry import SHEETS

_GRID_PX = 8
_STEPS = 8
"""A lifted point moves by a few per cent of its distance: each step leaves so much of the error."""
Bend = Callable[[FloatArray, float], FloatArray]
"""From places across the sheet (mm) and its width to places and heights after bending, (..., 2)."""


def fold(angle_deg: float, share: float = 0.5) -> Bend:
    """Fold about a line at a share of the width: what lies beyond rises by an angle."""
    angle = math.radians(angle_deg)

    def bend(across: FloatArray, width: float) -> FloatArray:
        beyond = np.maximum(across - share * width, 0)
        return np.stack([across - beyond * (1 - math.cos(angle)), beyond * math.sin(angle)], axis=-1)

    return bend


def curl(rise_mm: float) -> Bend:
    """Curl to a cylinder: both edges touch the table and the middle stands a height above it."""

    def bend(across: FloatArray, width: float) -> FloatArray:
        # Sagitta s = w^2 / 8 r of a shallow arc.
        radius = width**2 / (8 * rise_mm)
        turn = (across - width / 2) / radius
        height = radius * (np.cos(turn) - math.cos(width / 2 / radius))
        return np.stack([width / 2 + radius * np.sin(turn), height], axis=-1)

    return bend


def bent(bend: Bend, *, along: int = 0) -> Way:
    """Bend the sheet across x (`along` 0) or y (1)."""

    def way(case: Case) -> Case:
        columns, rows = case.size_px
        x = np.arange(0, columns + _GRID_PX, _GRID_PX, dtype=float)
        y = np.arange(0, rows + _GRID_PX, _GRID_PX, dtype=float)
        wanted = np.stack(np.meshgrid(x, y), axis=-1)
        source = wanted
        for _ in range(_STEPS):
            source = source + wanted - _seen(case, source, bend, along)
        index = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1).astype(np.float32)
        at = cv2.remap(source.astype(np.float32), *cv2.split(index / _GRID_PX), cv2.INTER_LINEAR)
        rgb = cv2.remap(case.rgb, *cv2.split(at), cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        return replace(case, rgb=np.asarray(rgb, dtype=np.uint8), px=_seen(case, case.px, bend, along))

    return way


def _seen(case: Case, px: FloatArray, bend: Bend, axis: int) -> FloatArray:
    """Return where the points of the flat sheet at pixels (..., 2) are seen after bending."""
    page = np.array(SHEETS[case.sheet].page_mm)
    flat = mapped(np.linalg.inv(case.to_px), px)
    # What lies beside the sheet stays where it is.
    is_paper = ((flat >= 0) & (flat <= page)).all(axis=-1)[..., None]
    moved = bend(flat[..., axis], float(page[axis]))
    points = np.concatenate([flat, np.ones_like(moved[..., :1])], axis=-1)
    points[..., axis] = moved[..., 0]
    # The pixel of a lifted point: to_px (x, y, 1) + h normal, the third column of the camera's matrix.
    raised = points @ case.to_px.T + moved[..., 1:] * _normal_px(case)
    return np.where(is_paper, raised[..., :2] / raised[..., 2:], px)


def _normal_px(case: Case) -> FloatArray:
    """Return what a height of 1 mm adds to homogeneous pixels, shape (3,): K r3 of K [r1 r2 t] = to_px."""
    columns, rows = case.size_px
    camera = np.array([[case.focal_px, 0, (columns - 1) / 2], [0, case.focal_px, (rows - 1) / 2], [0, 0, 1]])
    pose = np.linalg.solve(camera, case.to_px)
    long = np.sqrt(np.linalg.norm(pose[:, 0]) * np.linalg.norm(pose[:, 1]))
    # Sheet x and y are right and down, so their cross product points away from the camera.
    return np.asarray(-camera @ np.cross(pose[:, 0], pose[:, 1]) / long)


BENT: dict[str, Way] = {
    "folded by 4 degrees": bent(fold(4)),
    "folded by 10 degrees": bent(fold(10)),
    "folded lengthwise by 6 degrees": bent(fold(6), along=1),
    "middle 3 mm high": bent(curl(3)),
    "middle 8 mm high": bent(curl(8)),
}
