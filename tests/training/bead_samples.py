"""Samples of loose beads to learn from: the picture of each as the program sees it, and its true sizes.

python tests/training/bead_samples.py OUT_DIR --count 2000 --seed 1 --processes 16
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
import synthetic_camera
from numpy.typing import NDArray
from samples import Taken, any_scene, take, write_samples
from synthetic_camera import Array

from vision.camera import Camera
from vision.closeup import close_up
from vision.doubt import Setting
from vision.errors import NoBeadsError
from vision.heights import judge_build
from vision.lot import sight_all, sized
from vision.network import Map
from vision.records import Photo
from vision.scene import Scene
from vision.sheet import SHEETS

_NEAR = 0.25


@dataclass(frozen=True, kw_only=True)
class BeadSample:
    """The beads of one photo.

    Attributes
    ----------
    seen : ndarray, shape (B, CELLS, CELLS, 4), uint8
        Colours, and what the measured outline holds.
    facts : ndarray, shape (B, 8), float32
        The other channels, the same all over.
    off : ndarray, shape (B, 2), float32
        Logarithm of the true over the measured size, largest and smallest.
    """

    seen: NDArray[np.uint8]
    facts: NDArray[np.float32]
    off: NDArray[np.float32]


def draw_lot(seed: int) -> BeadSample | None:
    """Draw one photo of loose beads, measure it, and compare; None where nothing is found."""
    scene, taken = _drawn(seed)
    if not taken.layout.truth:
        return None
    try:
        sights, _ = sight_all(scene)
    except NoBeadsError:
        return None
    rows, columns = taken.rgb.shape[:2]
    setting = Setting(
        camera=scene.camera,
        scale_rel_u=0.0,
        bed_height_mm=taken.bed_z,
        photo_size_px=(columns, rows),
        page_mm=np.array(scene.sheet.page_mm) * scene.scale,
    )
    build = judge_build([s.section for s in sights], flat=None)
    beads = [sized(sight, setting, (build, k)) for k, sight in enumerate(sights)]
    windows = [close_up(taken.rgb, scene.camera, bead, bed_height_mm=taken.bed_z) for bead in beads]
    found = np.array([[*bead.centre_mm[:2], *bead.sizes_mm] for bead in beads])
    return _compared(taken, windows, found)


def _drawn(seed: int) -> tuple[Scene, Taken]:
    plan = any_scene(seed, ("loose",))
    taken = take(plan)
    photo = Photo(name="drawn", rgb=taken.rgb)
    camera, sheet = measured(taken.camera), SHEETS[plan.sheet]
    bed = taken.bed_z
    return Scene(photo=photo, camera=camera, sheet=sheet, scale=plan.print_scale, bed_height_mm=bed), taken


def _compared(taken: Taken, windows: list[Map], found: Array) -> BeadSample | None:
    """Return the beads that are where one was drawn; `found`, shape (B, 4), is x, y and both sizes."""
    truth = np.array([[*row["xy"], row["max_feret_mm"], row["min_feret_mm"]] for row in taken.layout.truth])
    kept, off = [], []
    for k, (x, y, *measured_mm) in enumerate(found):
        apart = np.hypot(*(truth[:, :2] - (x, y)).T)
        nearest = int(np.argmin(apart))
        ratio = np.log(truth[nearest, 2:] / measured_mm)
        if apart[nearest] < _NEAR * truth[nearest, 2:].min() and np.isfinite(ratio).all():
            kept.append(k)
            off.append(ratio)
    if not kept:
        return None
    stack = np.array(windows)[kept]
    return BeadSample(
        seen=np.rint((stack[..., :4] + 0.5) * 255).astype(np.uint8),
        facts=stack[:, 0, 0, 4:],
        off=np.array(off, np.float32),
    )


def measured(camera: synthetic_camera.Camera) -> Camera:
    """Return a drawn photo's camera as the program would have found it, without error.

    The drawing's world has y up the sheet, the program's y and z down.
    """
    down = np.diag([1.0, -1.0, -1.0])
    vector = cv2.Rodrigues(camera.axes @ down)[0].ravel()
    shift = -camera.axes @ np.array(camera.origin)
    inner = [math.log(camera.focal_px), camera.k1, *camera.centre_px, 0.0]
    return Camera(
        parameters=np.array([*vector, *shift, *inner]), covariance=np.zeros((11, 11)), residual_px=0.0
    )


if __name__ == "__main__":
    write_samples(draw_lot, __doc__)
