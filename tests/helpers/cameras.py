"""Cameras put where a test wants them, the tags that they see without a photo, and the scene of a photo."""

import math
from collections.abc import Iterable

import cv2
import numpy as np

from vision.camera.camera import Camera, focal_px_of
from vision.camera.resection import resect
from vision.camera.scene import Scene
from vision.common.records import FloatArray, Photo
from vision.sheet.geometry import SHEETS, Sheet
from vision.sheet.tags import Tags, find_tags

SIZE_PX = (1600, 1200)
MAT = SHEETS["mat-a4"]
FOCAL_35MM = 26.0
FOCAL_PX = focal_px_of(FOCAL_35MM, SIZE_PX)
OVER_MAT = (148.5, 105.0, 260.0)


def camera_at(
    x_mm: float,
    y_mm: float,
    height_mm: float,
    *,
    focal_px: float = 1200.0,
    tilt_deg: tuple[float, float] = (0.0, 0.0),
    turn_deg: float = 0.0,
    k1: float = 0.0,
    growth_mm: float = 0.0,
    size_px: tuple[int, int] = SIZE_PX,
) -> Camera:
    """Put a camera above a point of the sheet: level, except for its tilts about x and y."""
    turned = cv2.Rodrigues(np.radians([0.0, 0.0, turn_deg]))[0]
    tilted = cv2.Rodrigues(np.radians([*tilt_deg, 0.0]))[0]
    rotation = tilted @ turned
    # the world's z runs down: z = -h
    shift = -rotation @ np.array([x_mm, y_mm, -height_mm])
    principal = (np.array(size_px) - 1) / 2
    vector = cv2.Rodrigues(rotation)[0].ravel()
    parameters = np.array([*vector, *shift, math.log(focal_px), k1, *principal, growth_mm, 0.0])
    return Camera(parameters=parameters, covariance=np.zeros((12, 12)))


def over_mat(**options: object) -> Camera:
    """Put a tilted camera over the A4 mat."""
    given_options = {"focal_px": FOCAL_PX, "tilt_deg": (6.0, -4.0), "turn_deg": 5.0, **options}
    return camera_at(*OVER_MAT, **given_options)


def fit(tags: Tags, *, focal_35mm: float | None = FOCAL_35MM, scale: float = 1.0) -> Camera:
    """Return the camera that tags show, printed at a scale."""
    return resect(
        tags,
        check_length_mm=scale * tags.sheet.check_length_mm,
        size_px=SIZE_PX,
        focal_35mm=focal_35mm,
    )


def tags_seen(
    camera: Camera,
    sheet: Sheet,
    *,
    ids: Iterable[int] | None = None,
    scale: float = 1.0,
    noise_px: float = 0.0,
    rng: np.random.Generator | None = None,
) -> Tags:
    """Return the tags of a printed sheet as a camera sees them, corners with Gaussian noise."""
    chosen = tuple(sheet.ids if ids is None else ids)
    corners = np.array([_grown(sheet.corners_mm(i) * scale, camera.parameters[10]) for i in chosen])
    seen = camera.project(np.dstack([corners, np.zeros(corners.shape[:2])]))
    if rng is not None:
        seen = seen + rng.normal(0, noise_px, seen.shape)
    # a corner ends two lines through 28 points each: its variance is 4 + 1 times that of a line's mean
    scatter_px = noise_px * math.sqrt(28 / 5)
    return Tags(sheet=sheet, ids=chosen, corners_px=seen, corners_u_px=np.full(len(chosen), scatter_px))


def _grown(corners: FloatArray, growth_mm: float) -> FloatArray:
    """Move the sides of a square outwards."""
    return corners + growth_mm * np.sign(corners - corners.mean(axis=0))


def scene_of(photo: Photo, bed_height_mm: float) -> Scene:
    """Return a photo with its camera and its sheet, printed as drawn."""
    tags = find_tags(photo)
    rows, columns = photo.rgb.shape[:2]
    camera = resect(
        tags,
        check_length_mm=tags.sheet.check_length_mm,
        size_px=(columns, rows),
        focal_35mm=photo.focal_35mm,
    )
    return Scene(photo=photo, camera=camera, sheet=tags.sheet, scale=1.0, bed_height_mm=bed_height_mm)
