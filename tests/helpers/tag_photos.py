"""Draws printed tags at exactly known places in a photo: cells sampled finely, averaged over pixels, blurred.

Independent of the code under test but for the sheet's table of places; the patterns are OpenCV's.
"""

from collections.abc import Iterable

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.helpers.srgb import coded
from vision.common.records import Photo
from vision.sheet.geometry import Sheet

_FINE = 8
_PAPER, _INK = 0.8, 0.04
_FAMILY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)


def similarity(per_mm: float, turn_deg: float, origin_px: tuple[float, float]) -> NDArray[np.float64]:
    """Homography, shape (3, 3), from sheet mm to pixels: scale, turn, and where the sheet's origin lies."""
    cosine, sine = per_mm * np.cos(np.radians(turn_deg)), per_mm * np.sin(np.radians(turn_deg))
    return np.array([[cosine, -sine, origin_px[0]], [sine, cosine, origin_px[1]], [0.0, 0.0, 1.0]])


def on_photo(points_mm: NDArray[np.float64], to_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Pixels (..., 2) of sheet points (..., 2)."""
    seen = np.concatenate([points_mm, np.ones_like(points_mm[..., :1])], axis=-1) @ to_px.T
    return seen[..., :2] / seen[..., 2:]


def draw_tags(
    sheet: Sheet,
    ids: Iterable[int],
    to_px: NDArray[np.float64],
    *,
    size_px: tuple[int, int],
    blur_px: float = 0.8,
    noise: float = 2.0,
    seed: int = 1,
) -> Photo:
    """Photograph some tags of a sheet on white paper; `noise` is a standard deviation in sRGB codes."""
    light = np.full(size_px[::-1], _PAPER)
    for tag_id in ids:
        _draw(light, sheet, tag_id, to_px)
    light = cv2.GaussianBlur(light, (0, 0), blur_px)
    grain = np.random.default_rng(seed).normal(0, noise, (*light.shape, 3))
    rgb = np.clip(np.round(255 * coded(light)[..., None] + grain), 0, 255).astype(np.uint8)
    return Photo(name="tags.png", rgb=rgb)


def _draw(light: NDArray[np.float64], sheet: Sheet, tag_id: int, to_px: NDArray[np.float64]) -> None:
    cells = cv2.aruco.generateImageMarker(_FAMILY, tag_id, 8) > 0
    corners = sheet.corners_mm(tag_id)
    seen = on_photo(corners, to_px)
    x0, y0 = np.maximum(np.floor(seen.min(axis=0)).astype(int) - 2, 0)
    x1, y1 = np.minimum(np.ceil(seen.max(axis=0)).astype(int) + 3, light.shape[::-1])
    # an integer is the centre of a pixel, which reaches half a pixel to all sides
    within = (np.arange(_FINE) + 0.5) / _FINE - 0.5
    x = (np.arange(x0, x1)[:, None] + within).ravel()
    y = (np.arange(y0, y1)[:, None] + within).ravel()
    mesh = np.stack(np.meshgrid(x, y), axis=-1)
    # anywhere in its own small square: a regular grid would shift straight edges to its lines
    mesh += np.random.default_rng(tag_id).uniform(-0.5, 0.5, mesh.shape) / _FINE
    at = (on_photo(mesh, np.linalg.inv(to_px)) - corners[0]) / sheet.tag_mm * 8
    column, row = (np.floor(at[..., k]).astype(int) for k in (0, 1))
    inside = (column >= 0) & (column < 8) & (row >= 0) & (row < 8)
    paper = np.ones(inside.shape, dtype=bool)
    paper[inside] = cells[row[inside], column[inside]]
    fine = np.where(paper, _PAPER, _INK)
    light[y0:y1, x0:x1] = fine.reshape(y1 - y0, _FINE, x1 - x0, _FINE).mean(axis=(1, 3))
