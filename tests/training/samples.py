"""Training samples: the top view of a drawn photo, and which bead each of its cells shows.

python -m tests.training.samples OUT_DIR --count 2000 --seed 1 --processes 16
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.views import UNKNOWN, Layers, depths, veiled
from tests.synthetic import photos as synthetic
from tests.synthetic.camera import Array, Camera
from tests.synthetic.layout import Bead, Layout
from tests.synthetic.looks import Body
from tests.synthetic.loose import loose
from tests.synthetic.render import BODY_GRID, GROUND_GRID, Box, Sensor, cast_shadow, expose, render
from tests.synthetic.scene import Scene, plan
from tests.synthetic.strung import curve, on_rod, on_wire
from tests.training.grounds import any_ground, any_room
from tests.training.objects import any_beads, any_stopper, clutter, many_beads
from tests.training.writing import write_samples
from vision.sheet.geometry import SHEETS
from vision.topview.kinds import Kind

CELLS_PER_MM = 5.0
_PULLED_TAUT = 0.12  # share of wires that are straight
_FINE = 4  # points of a cell, each way, at which its share is counted


@dataclass(frozen=True, kw_only=True)
class Sample:
    """A top view and its truth.

    Attributes
    ----------
    rgb : ndarray, shape (H, W, 3), uint8
    owner : ndarray, shape (H, W), uint8
        The bead (from 1) that most of a cell shows, 0 where it shows none.
    inside : ndarray, shape (H, W), uint8
        Share of a cell that shows any bead, 0 to 255.
    depth : ndarray, shape (H, W), uint8
        Distance of a cell from its bead's outline, over that of the deepest cell of the bead, 0 to 255.
    kind : ndarray, shape (H, W), uint8
        That of a bead, a rod and its stoppers, else UNKNOWN; HIDDEN where nobody could make the bead out.
    """

    rgb: NDArray[np.uint8]
    owner: NDArray[np.uint8]
    inside: NDArray[np.uint8]
    depth: NDArray[np.uint8]
    kind: NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True)
class Taken:
    """A drawn photo and its truth.

    Attributes
    ----------
    rgb : ndarray, shape (H, W, 3), uint8
    contrast : ndarray, shape (H, W, 3), uint8
        Difference, in codes, between what lies on the bed and the bed that it hides; same in each channel.
    camera : Camera
    layout : Layout
    bed_z : float
        Height of the bed above the sheet, mm.
    """

    rgb: NDArray[np.uint8]
    contrast: NDArray[np.uint8]
    camera: Camera
    layout: Layout
    bed_z: float


def any_scene(seed: int, modes: tuple[str, ...] = ("loose", "loose", "rod", "wire")) -> Scene:
    """Draw the conditions of a photo, careful or careless."""
    rng = np.random.default_rng([seed, 11])
    mode = str(rng.choice(modes))
    nominal = float(np.exp(rng.uniform(np.log(1.9), np.log(22.0 if mode == "loose" else 14.0))))
    careless = rng.random() < 0.35
    sensor = Sensor(
        blur_px=float(np.exp(rng.uniform(np.log(0.45), np.log(2.0 if careless else 0.8)))),
        noise=float(np.exp(rng.uniform(np.log(0.5), np.log(6.0 if careless else 2.0)))),
        sharpen=float(rng.choice([0.0, 0.4, 0.8, 1.2])),
        exposure=float(rng.uniform(0.35 if careless else 0.8, 1.1)),
        jpeg=int(rng.integers(60 if careless else 78, 97)),
    )
    most = 110 if nominal < 5 else 75 if nominal < 10 else 30
    return plan(
        seed,
        mode=mode,
        nominal_mm=nominal,
        count=int(rng.integers(4, most)),
        sensor=sensor,
        size_px=((2016, 1512), (2016, 1512), (1512, 1134), (2600, 1950))[rng.integers(4)],
        tilt_deg=float(rng.uniform(0, 22 if careless else 10)),
        fault=str(rng.choice(["none", "none", "slack", "hidden-tags"])),
    )


def _beads_on(scene: Scene, bed_z: float, rng: np.random.Generator, kinds: int | None) -> Layout:
    area = synthetic.area_of(scene)
    if kinds is None:
        beads = any_beads(scene.count, scene.nominal_mm, rng, loose=scene.mode == "loose")
    else:
        beads = many_beads(scene.count, scene.nominal_mm, kinds, rng)
    if scene.mode == "loose":
        clump = float(rng.choice([0.0, rng.uniform(0, 1), 0.97]))
        if rng.random() < 0.3:  # a heap in one place
            x, y = rng.uniform(area[0], area[2] - 50), rng.uniform(area[1], area[3] - 40)
            area = (x, y, min(x + 90, area[2]), min(y + 70, area[3]))
        beads = [b for b in beads if b.size * 1.6 < min(area[2] - area[0], area[3] - area[1])]
        return loose(beads, area=area, bed_z=bed_z, clump=clump, rng=rng)
    slack = rng.exponential(0.35 * scene.nominal_mm, len(beads) - 1) * (rng.random(len(beads) - 1) < 0.35)
    gaps = slack if scene.fault == "slack" else np.zeros(len(beads) - 1)
    return _strung(scene, (beads, gaps), area, bed_z, rng)


def _strung(
    scene: Scene,
    strand: tuple[list[Bead], Array],
    area: tuple[float, float, float, float],
    bed_z: float,
    rng: np.random.Generator,
) -> Layout:
    beads, gaps = strand
    if scene.mode == "rod":
        number = synthetic.fitting(beads, gaps, 0.82 * (area[2] - area[0]))
        middle = np.array([(area[0] + area[2]) / 2, (area[1] + area[3]) / 2]) + rng.uniform(-6, 6, 2) * (1, 2)
        angle = float(np.radians(rng.uniform(-12, 12)))
        kept = beads[:number], gaps[: number - 1]
        return on_rod(*kept, middle=middle, angle=angle, bed_z=bed_z, rng=rng, stopper=any_stopper)
    inset = scene.nominal_mm + 3
    course = curve((area[0] + inset, area[1] + inset, area[2] - inset, area[3] - inset), rng)
    if rng.random() < _PULLED_TAUT:
        course = np.linspace(course[0], course[-1], len(course))
    return on_wire(beads, gaps, course=course, bed_z=bed_z, rng=rng)


def take(
    scene: Scene, *, about: float | None = None, kinds: int | None = None, compared: bool = True
) -> Taken:
    """Draw a photo of a scene, with any beads on any ground.

    Parameters
    ----------
    scene
    about : float, optional
        Draw finely only within so many widths of the widest bead from a body.
    kinds : int, optional
        Number of kinds of loose beads; None draws it at random.
    compared : bool
        Whether to fill `contrast`; if not, beads are drawn with fewer rays too.
    """
    rng = np.random.default_rng([scene.seed, 12])
    room = any_room(rng)
    ground = any_ground(scene.sheet, scene.print_scale, room=room, rng=rng)
    camera = synthetic.aim(scene, rng)
    layout = _beads_on(scene, ground.bed_z, rng, kinds)
    covers = [body for _, body in synthetic.covers_of(scene, rng)]
    if scene.mode == "loose" and rng.random() < 0.15:
        covers += clutter(synthetic.area_of(scene), ground.bed_z, rng)
    if scene.mode == "loose" and rng.random() < 0.06:
        layout = Layout()
    bodies = (*layout.bodies, *covers)
    only = None if about is None else _boxes_about(camera, layout, about)
    bare = render(camera, ground, (), only=only) if compared else None
    if bodies and rng.random() < 0.92:
        ground.shadow = cast_shadow(bodies, ground, rng)
    image = render(camera, ground, bodies, only=only, grid=BODY_GRID if compared else GROUND_GRID)
    rgb = expose(image, scene.sensor, rng)
    _, coded = cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, scene.sensor.jpeg])
    rgb = np.ascontiguousarray(cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1])
    contrast = _contrast(image, bare, scene.sensor.exposure) if bare is not None else np.zeros_like(rgb)
    return Taken(rgb=rgb, contrast=contrast, camera=camera, layout=layout, bed_z=ground.bed_z)


def _contrast(image: NDArray[np.float32], bare: NDArray[np.float32], exposure: float) -> NDArray[np.uint8]:
    change = _coded(image * exposure) - _coded(bare * exposure)
    return np.repeat(np.rint(np.abs(change).max(axis=2))[..., None], 3, axis=2).astype(np.uint8)


def _boxes_about(camera: Camera, layout: Layout, widths: float) -> list[Box]:
    """Return boxes of pixels that show each body and so many widths of bed about it."""
    wide = max((row.get("across_mm", row.get("min_feret_mm", 0.0)) for row in layout.truth), default=0.0)
    boxes = []
    for body in layout.bodies:
        cloud = body.cloud()
        corners = np.vstack([cloud.min(axis=0) - widths * wide, cloud.max(axis=0) + widths * wide])
        x, y = np.meshgrid(corners[:, 0], corners[:, 1])
        seen = camera.project(np.stack([x.ravel(), y.ravel(), np.full(4, body.centre[2])], axis=1))
        (left, top), (right, bottom) = seen.min(axis=0), seen.max(axis=0)
        boxes.append((int(left), int(top), int(right) + 1, int(bottom) + 1))
    return boxes


def draw_sample(seed: int) -> Sample | None:
    """Draw one photo and return its top view and truth; None where a person could not see the beads."""
    scene = any_scene(seed)
    taken = take(scene, compared=False)
    number = len(taken.layout.truth)
    beads, others = taken.layout.bodies[:number], taken.layout.bodies[number:]
    kinds = [Kind.BEAD] * number
    if scene.mode == "rod":  # the rod, and what holds its ends
        beads, kinds = [*beads, *others], [*kinds, Kind.STRING, *[Kind.STOPPER] * (len(others) - 1)]
    seen = veiled(_from_above(taken.rgb, taken.camera, scene, taken.bed_z, beads, kinds))
    return None if seen is None else Sample(**seen)


def _coded(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return approximate sRGB codes."""
    return 255 * np.clip(light, 0, 1) ** (1 / 2.2)


def visible(owner: NDArray[np.uint8], contrast: NDArray[np.uint8], least: float) -> bool:
    """Whether nearly all beads differ from the bed that they hide by at least so many codes."""
    number = int(owner.max())
    faint = [np.mean(contrast[owner == k]) < least for k in range(1, number + 1) if (owner == k).any()]
    return not faint or float(np.mean(faint)) < 0.1


def _from_above(
    rgb: NDArray[np.uint8],
    camera: Camera,
    scene: Scene,
    height: float,
    bodies: list[Body],
    kinds: list[Kind],
) -> Layers:
    """Resample photo and truth onto the plane of the bed; beads hide what is strung with them."""
    left, top, right, bottom = _extent(scene)
    size = (int((right - left) * CELLS_PER_MM), int((bottom - top) * CELLS_PER_MM))
    x, y = np.meshgrid(left + np.arange(size[0]) / CELLS_PER_MM, top + np.arange(size[1]) / CELLS_PER_MM)
    world = np.stack([x, -y, np.full_like(x, height)], axis=-1).reshape(-1, 3)
    at = camera.project(world).reshape(*x.shape, 2).astype(np.float32)
    seen = cv2.remap(rgb, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    kind = np.full(x.shape, UNKNOWN, np.uint8)
    owner, inside = np.zeros(x.shape, np.uint8), np.zeros(x.shape, np.float32)
    lens = np.array(camera.origin)
    order = [Kind.STRING, Kind.STOPPER, Kind.BEAD]
    for k in sorted(
        range(len(bodies)),
        key=lambda k: (order.index(kinds[k]), -float(np.linalg.norm(bodies[k].centre - lens))),
    ):
        cells = (silhouette(bodies[k], lens, height, bed_z=height) * (1, -1) - (left, top)) * CELLS_PER_MM
        if kinds[k] == Kind.BEAD:
            lay(cells, k + 1, owner, inside)
        else:
            lay(cells, int(kinds[k]), kind, np.zeros_like(inside))
    share = np.rint(inside * 255).astype(np.uint8)
    kind = np.where(owner > 0, np.uint8(Kind.BEAD), kind)
    return {"rgb": seen, "owner": owner, "inside": share, "depth": depths(owner), "kind": kind}


def silhouette(bead: Body, lens: Array, height: float, *, bed_z: float) -> Array:
    """Return where rays that touch a convex body meet a level plane, shape (N, 2): its outline as seen.

    The part of a sunk body below the bed does not count.
    """
    cloud = bead.cloud()
    cloud = cloud[cloud[:, 2] > bed_z - 1e-6] if bead.centre[2] <= bed_z + 1e-6 else cloud
    share = (lens[2] - height) / (lens[2] - cloud[:, 2:])
    plan = lens[:2] + (cloud[:, :2] - lens[:2]) * share
    return cv2.convexHull(plan.astype(np.float32))[:, 0].astype(float)


def lay(cells: Array, number: int, owner: NDArray[np.uint8], inside: NDArray[np.float32]) -> None:
    """Enter a bead's outline, shape (N, 2), columns and rows, into the layers of owners and shares."""
    low = np.maximum(np.floor(cells.min(axis=0)).astype(int) - 1, 0)
    high = np.minimum(np.ceil(cells.max(axis=0)).astype(int) + 2, inside.shape[::-1])
    if (high <= low).any():
        return
    fine = np.zeros(tuple((high - low)[::-1] * _FINE), np.uint8)
    points = (cells - low + 0.5) * _FINE - 0.5
    cv2.fillConvexPoly(fine, np.rint(points * 256).astype(np.int32), 255, shift=8)
    share = cv2.resize(fine, tuple(int(v) for v in high - low), interpolation=cv2.INTER_AREA) / 255.0
    box = slice(low[1], high[1]), slice(low[0], high[0])
    owner[box][share >= 0.5] = number
    inside[box] = np.maximum(inside[box], share)


def _extent(scene: Scene) -> tuple[float, float, float, float]:
    """Return the area of the top view: the sheet, or a card and the table beside it; sheet mm."""
    sheet = SHEETS[scene.sheet]
    if sheet.bed_mm is None:
        return -55.0, -95.0, 155.0, 78.0
    return 0.0, 0.0, sheet.page_mm[0] * scene.print_scale, sheet.page_mm[1] * scene.print_scale


if __name__ == "__main__":
    write_samples(draw_sample, __doc__)
