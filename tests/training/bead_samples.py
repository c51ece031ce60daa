"""Training samples of loose beads: the picture of each as the program cuts it out, and its true sizes.

python -m tests.training.bead_samples OUT_DIR --count 2000 --seed 1 --processes 16
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.synthetic import camera as synthetic_camera
from tests.synthetic.camera import Array
from tests.synthetic.looks import Body
from tests.training.samples import Taken, any_scene, silhouette, take
from tests.training.writing import write_samples
from vision.camera.camera import Camera
from vision.camera.scene import Scene
from vision.common.errors import NoBeadsError
from vision.common.records import Photo
from vision.lot.body_shape import estimate_bodies
from vision.lot.close_up import BeadSizes, Frame, close_up
from vision.lot.contour import Outline
from vision.lot.measure import edge_sizes, fit_outlines, trace_all
from vision.sheet.geometry import SHEETS

KINDS = 4
"""Kinds of beads in a photo: more kinds train the network better than more beads do."""
_FEWEST = 5
_ABOUT = 0.8
_SIZES_PX = ((1512, 1134), (2016, 1512), (2016, 1512), (3000, 2250), (3000, 2250), (4032, 3024))
_LARGEST_PX = 110
"""More pixels across a bead take long to draw and are averaged away in the cells of its picture."""
_SHEET_MM = 300
_TOGETHER = 0.2
_NEAR = 0.25


@dataclass(frozen=True, kw_only=True)
class BeadSample:
    """The beads of one photo.

    Attributes
    ----------
    seen : ndarray, shape (B, CELLS, CELLS, 5), uint8
        Colours, share of a cell inside the measured outline, and share inside the true one.
    facts : ndarray, shape (B, 8), float32
        The other channels, each the same in all cells.
    off : ndarray, shape (B, 2), float32
        Logarithm of the true over the measured size, largest and smallest.
    """

    seen: NDArray[np.uint8]
    facts: NDArray[np.float32]
    off: NDArray[np.float32]


def draw_lot(seed: int) -> BeadSample | None:
    """Draw one photo of loose beads, measure it, and compare; None where nothing is found.

    Each kind of beads in it is measured as a lot of its own; sometimes all kinds together.
    """
    rng = np.random.default_rng([seed, 13])
    scene, taken = _drawn(seed, rng)
    if not taken.layout.truth:
        return None
    outlines = trace_all(scene).outlines
    nearest = [_nearest(outline, scene, taken) for outline in outlines]
    names = taken.layout.kinds
    groups = [list(range(len(names)))] if rng.random() < _TOGETHER else _alike(names)
    parts = []
    for group in groups:
        own = [outline for outline, bead in zip(outlines, nearest, strict=True) if bead in group]
        if len(own) >= _FEWEST:
            parts += _compared(scene, taken, _measured(own, scene))
    if not parts:
        return None
    seen, facts, off = (np.array(layer) for layer in zip(*parts, strict=True))
    return BeadSample(seen=seen, facts=facts, off=off)


def _drawn(seed: int, rng: np.random.Generator) -> tuple[Scene, Taken]:
    plan = any_scene(seed, ("loose",))
    fit = [size for size in _SIZES_PX if plan.nominal_mm * size[0] / _SHEET_MM < _LARGEST_PX]
    size = fit[rng.integers(len(fit))] if fit else _SIZES_PX[0]
    plan = replace(plan, size_px=size, count=int(rng.integers(24, 44)))
    taken = take(plan, about=_ABOUT, kinds=KINDS, compared=False)
    photo = Photo(name="drawn", rgb=taken.rgb)
    camera, sheet = measured(taken.camera), SHEETS[plan.sheet]
    bed = taken.bed_z
    return Scene(photo=photo, camera=camera, sheet=sheet, scale=plan.print_scale, bed_height_mm=bed), taken


def _alike(names: Sequence[tuple[str, str]]) -> list[list[int]]:
    """Return the numbers of the beads of each kind."""
    return [[k for k, name in enumerate(names) if name == kind] for kind in sorted(set(names))]


def _nearest(outline: Outline, scene: Scene, taken: Taken) -> int:
    """Return the number of the bead nearest to an outline."""
    middle = scene.camera.to_plane(outline.points_px, scene.bed_height_mm).mean(axis=0)
    apart = [math.dist(middle, row["xy"]) for row in taken.layout.truth]
    return int(np.argmin(apart))


def _measured(outlines: Sequence[Outline], scene: Scene) -> list[BeadSizes]:
    """Return the sizes of a lot as its outlines give them."""
    try:
        beads = fit_outlines(outlines, scene)
    except NoBeadsError:
        return []
    bodies = estimate_bodies([bead.section for bead in beads], flat=None)
    return edge_sizes(beads, scene, bodies=bodies)


Row = tuple[NDArray[np.uint8], NDArray[np.float32], NDArray[np.float32]]


def _compared(scene: Scene, taken: Taken, found: list[BeadSizes]) -> list[Row]:
    """Return picture, facts and errors of the beads that lie where one was drawn."""
    truth = np.array([[*row["xy"], row["max_feret_mm"], row["min_feret_mm"]] for row in taken.layout.truth])
    rows = []
    for bead in found:
        apart = np.hypot(*(truth[:, :2] - bead.centre_mm[:2]).T)
        nearest = int(np.argmin(apart))
        ratio = np.log(truth[nearest, 2:] / bead.sizes_mm)
        if apart[nearest] > _NEAR * truth[nearest, 2:].min() or not np.isfinite(ratio).all():
            continue
        picture = close_up(scene, bead)
        true = Frame.about(bead, scene.camera).filled(_true_outline(taken, taken.layout.bodies[nearest]))
        seen = np.dstack([picture[..., :4] + 0.5, true])
        rows.append((np.rint(seen * 255).astype(np.uint8), picture[0, 0, 4:], ratio.astype(np.float32)))
    return rows


def _true_outline(taken: Taken, body: Body) -> Array:
    """Return the outline on the bed, y down, of the rays that touch a body."""
    return silhouette(body, np.array(taken.camera.origin), taken.bed_z, bed_z=taken.bed_z) * (1, -1)


def measured(camera: synthetic_camera.Camera) -> Camera:
    """Return a drawn photo's camera as the program would have found it, without error.

    The drawing's world has y up the sheet, the program's y and z down.
    """
    down = np.diag([1.0, -1.0, -1.0])
    vector = cv2.Rodrigues(camera.axes @ down)[0].ravel()
    shift = -camera.axes @ np.array(camera.origin)
    inner = [math.log(camera.focal_px), camera.k1, *camera.centre_px, 0.0, 0.0]
    return Camera(parameters=np.array([*vector, *shift, *inner]), covariance=np.zeros((12, 12)))


if __name__ == "__main__":
    write_samples(draw_lot, __doc__)
