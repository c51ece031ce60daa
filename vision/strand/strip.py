"""The strand pulled straight: the photo resampled along the string and square to it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.camera.camera import Camera
from vision.common.records import FloatArray, ImageArray, Photo
from vision.strand.axis import STEP_MM, Axis
from vision.topview.orthophoto import Orthophoto

_COARSE = 5
"""In a plane the map from rows to pixels is straight over half a millimetre, to better than 0.001 pixel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A straightened strand.

    Attributes
    ----------
    rgb : ndarray, shape (T, S, 3), uint8
        Row = aside, column = along, both in steps of `STEP_MM`.
    aside_mm : ndarray, shape (T,)
        Distance of each row from the string, to the right of its direction.
    axis : Axis
        Column k lies at `axis.points_mm[k]`.
    """

    rgb: ImageArray
    aside_mm: FloatArray
    axis: Axis


def straighten(
    photo: Photo,
    camera: Camera,
    axis: Axis,
    *,
    half_mm: float,
    height_mm: float,
) -> Strip:
    """Resample the photo along the string.

    Parameters
    ----------
    photo, camera, axis
    half_mm : float
        Reach to both sides.
    height_mm : float
        Height of the string above the sheet.
    """
    reach = round(half_mm / STEP_MM)
    aside = np.arange(-reach, reach + 1) * STEP_MM
    plane = axis.points_mm[None] + aside[:, None, None] * axis.normals[None]
    height = np.full(plane.shape[:2], height_mm)
    pixels = _projected(camera, np.dstack([plane, height]), every=_COARSE)
    rgb = cv2.remap(
        photo.rgb, pixels[..., 0], pixels[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return Strip(rgb=np.asarray(rgb), aside_mm=aside, axis=axis)


def _projected(camera: Camera, points: FloatArray, *, every: int) -> NDArray[np.float32]:
    """Return the pixels (x, y) of world points (T, S, 3), those of some rows interpolated, (T, S, 2)."""
    rows = np.arange(len(points))
    some = np.unique(np.append(rows[::every], rows[-1]))
    pixels = camera.project(points[some])
    if len(some) == len(rows):
        return pixels.astype(np.float32)
    share = np.array([np.interp(rows, some, unit) for unit in np.eye(len(some))]).T
    return np.tensordot(share, pixels, axes=1).astype(np.float32)


def laid_on(
    strip: Strip, layer: NDArray[np.float32], top: Orthophoto, eye: FloatArray, *, height_mm: float
) -> NDArray[np.float32]:
    """Return a layer of the top view as it shows on a strip that lies `height_mm` above the sheet, (T, S).

    The camera at `eye` (x, y, h) sees a point of the strip where its ray meets the top view's plane.
    """
    plane = strip.axis.points_mm[None] + strip.aside_mm[:, None, None] * strip.axis.normals[None]
    ground = eye[:2] + (plane - eye[:2]) * (eye[2] - top.height_mm) / (eye[2] - height_mm)
    at = top.to_cells(ground).astype(np.float32)
    shown = cv2.remap(layer, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    return np.asarray(shown, dtype=np.float32)
