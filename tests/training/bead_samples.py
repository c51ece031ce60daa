"""Training samples of loose beads: the picture of each as the program cuts it out, and its true sizes.

python -m tests.training.bead_samples OUT_DIR --count 2000 --seed 1 --processes 16
"""

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from tests.synthetic import camera as synthetic_camera
from tests.synthetic.camera import Array
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
COUNT = (24, 44)
"""Beads of a photo: the fewest, and one more than the most."""
_FEWEST = 5
_ABOUT = 0.8
_SIZES_PX = ((1512, 1134), (2016, 1512), (2016, 1512), (3000, 2250), (3000, 2250), (4032, 3024))
_LARGEST_PX = 110
"""More pixels across a bead take long to draw and are averaged away in the cells of its picture."""
_SHEET_MM = 300
TOGETHER = 0.2
_NEAR, _APART = 0.25, 0.4
"""In widths of a bead: an outline so near to its middle is its, and one farther off is not."""
FAINT = 0.03
"""Least probability of a piece that is shown to the network: it shall also know what is no bead."""

Row = tuple[NDArray[np.uint8], NDArray[np.float32], NDArray[np.float32], float, float]


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
        Logarithm of the true over the measured size, largest and smallest; not a number if it is no bead.
    bead : ndarray, shape (B,), float32
        1 the outline of one bead, 0 of none or of a part or of several, else not clear.
    chance : ndarray, shape (B,), float32
        Probability that it is one, before the network has seen it.
    """

    seen: NDArray[np.uint8]
    facts: NDArray[np.float32]
    off: NDArray[np.float32]
    bead: NDArray[np.float32]
    chance: NDArray[np.float32]


def draw_lot(seed: int) -> BeadSample | None:
    """Draw one photo of loose beads, measure it, and compare; None where nothing is found.

    Each kind of beads in it is measured as a lot of its own; sometimes all kinds together.
    """
    rng = np.random.default_rng([seed, 13])
    scene, taken = _drawn(seed, rng)
    layout = taken.layout
    truth = [[*row["xy"], row["max_feret_mm"], row["min_feret_mm"]] for row in layout.truth]
    return compared(
        scene,
        Laid(truth=np.array(truth).reshape(-1, 4), kinds=layout.kinds, of=partial(_true_outline, taken)),
        together=rng.random() < TOGETHER,
    )


def _drawn(seed: int, rng: np.random.Generator) -> tuple[Scene, Taken]:
    plan = any_scene(seed, ("loose",))
    fit = [size for size in _SIZES_PX if plan.nominal_mm * size[0] / _SHEET_MM < _LARGEST_PX]
    size = fit[rng.integers(len(fit))] if fit else _SIZES_PX[0]
    plan = replace(plan, size_px=size, count=int(rng.integers(*COUNT)))
    taken = take(plan, about=_ABOUT, kinds=KINDS, compared=False)
    photo = Photo(name="drawn", rgb=taken.rgb)
    camera, sheet = measured(taken.camera), SHEETS[plan.sheet]
    bed = taken.bed_z
    return Scene(photo=photo, camera=camera, sheet=sheet, scale=plan.print_scale, bed_height_mm=bed), taken


def _true_outline(taken: Taken, number: int) -> Array:
    """Return the outline on the bed, y down, of the rays that touch a body."""
    body, bed_z = taken.layout.bodies[number], taken.bed_z
    return silhouette(body, np.array(taken.camera.origin), bed_z, bed_z=bed_z) * (1, -1)


@dataclass(frozen=True, kw_only=True)
class Laid:
    """What lies on a bed.

    Attributes
    ----------
    truth : ndarray, shape (B, 4)
        Of each bead x and y on the sheet, y down, and its largest and smallest size, mm.
    kinds : sequence, length B
        Equal for beads of one kind.
    of : callable
        Returns the outline on the bed, (N, 2), of the rays that touch the bead of a number.
    """

    truth: Array
    kinds: Sequence[Hashable]
    of: Callable[[int], Array]

    def nearest(self, place_mm: Array) -> int:
        """Return the number of the bead nearest to a place on the sheet, shape (2,)."""
        return int(np.argmin(np.hypot(*(self.truth[:, :2] - place_mm).T)))

    def distance(self, place_mm: Array) -> float:
        """Return how far a place lies from the middle of the nearest bead, in its smallest size."""
        x, y, _, smallest = self.truth[self.nearest(place_mm)]
        return math.dist((x, y), place_mm) / float(smallest)


def compared(scene: Scene, laid: Laid, *, together: bool) -> BeadSample | None:
    """Measure the beads of a photo, each kind as a lot of its own or all together, and compare them."""
    if not laid.kinds:
        return None
    lots: dict[Hashable, list[Outline]] = defaultdict(list)
    for outline in trace_all(scene, least=FAINT).outlines:
        place = scene.camera.to_plane(outline.points_px, scene.bed_height_mm).mean(axis=0)
        lots["all" if together else laid.kinds[laid.nearest(place)]].append(outline)
    found = [pair for lot in lots.values() if len(lot) >= _FEWEST for pair in _measured(lot, scene)]
    found.sort(key=lambda pair: laid.distance(pair[0].centre_mm[:2]))
    taken: set[int] = set()
    rows = [row for bead, chance in found if (row := _compared(scene, laid, bead, chance, taken)) is not None]
    if not rows:
        return None
    seen, facts, off, beads, chances = (np.array(layer) for layer in zip(*rows, strict=True))
    return BeadSample(
        seen=seen, facts=facts, off=off, bead=beads.astype(np.float32), chance=chances.astype(np.float32)
    )


def _measured(outlines: Sequence[Outline], scene: Scene) -> list[tuple[BeadSizes, float]]:
    """Return the sizes of a lot as its outlines give them, and the probability of each to be a bead."""
    try:
        beads = fit_outlines(outlines, scene)
    except NoBeadsError:
        return []
    bodies = estimate_bodies([bead.section for bead in beads], flat=None)
    sizes = edge_sizes(beads, scene, bodies=bodies)
    return [(one, bead.outline.probability) for one, bead in zip(sizes, beads, strict=True)]


def _compared(scene: Scene, laid: Laid, bead: BeadSizes, chance: float, taken: set[int]) -> Row | None:
    """Return picture, facts and errors of a piece, and whether it is the outline of one bead.

    The outline nearest to a bead is its; those `taken` have theirs.
    """
    place = bead.centre_mm[:2]
    nearest = laid.nearest(place)
    *_, largest, smallest = laid.truth[nearest]
    apart = laid.distance(place)
    one = float(np.interp(apart, [_NEAR, _APART], [1, 0])) if nearest not in taken else 0.0
    ratio = np.log(np.array([largest, smallest]) / bead.sizes_mm)
    picture = close_up(scene, bead)
    if not (np.isfinite(ratio).all() and np.isfinite(picture).all()):
        return None
    true = np.zeros(picture.shape[:2])
    if one == 1:
        taken.add(nearest)
        true = Frame.about(bead, scene.camera).filled(laid.of(nearest))
    off = ratio if one == 1 else np.full(2, np.nan)
    seen = np.dstack([picture[..., :4] + 0.5, true])
    return np.rint(seen * 255).astype(np.uint8), picture[0, 0, 4:], off.astype(np.float32), one, chance


def measured(camera: synthetic_camera.Camera) -> Camera:
    """Return a drawn photo's camera as the program would have found it, without error.

    The drawing's world has y up the sheet, the program's y and z down.
    """
    down = np.diag([1.0, -1.0, -1.0])
    vector = Rotation.from_matrix(camera.axes @ down).as_rotvec()
    shift = -camera.axes @ np.array(camera.origin)
    inner = [math.log(camera.focal_px), camera.k1, *camera.centre_px, 0.0, 0.0]
    return Camera(parameters=np.array([*vector, *shift, *inner]), covariance=np.zeros((12, 12)))


if __name__ == "__main__":
    write_samples(draw_lot, __doc__)
