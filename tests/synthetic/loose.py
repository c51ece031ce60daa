"""Places loose beads, scattered or in clumps. Bed coordinates are sheet (x, y), y down."""

from collections.abc import Callable, Sequence

import cv2
import numpy as np

from tests.synthetic.camera import Array
from tests.synthetic.layout import Area, Bead, Layout, below, standing, world
from tests.synthetic.solids import Revolved, ferets

LYING = ("rondelle", "faceted-rondelle", "disc", "dome")  # on a flat side, their axis upright
SUNK = ("dome",)  # an ellipsoid of which the upper half shows
TOUCH_MM = 1e-3


def _resting(bead: Bead, rng: np.random.Generator) -> Array:
    """Return a rotation in which a loose bead rests."""
    shape = bead.shape
    heading = rng.uniform(0, 2 * np.pi)
    flat = np.array([np.cos(heading), np.sin(heading), 0.0])
    if shape == "round":
        axis = rng.normal(size=3)
        return standing(axis, 0.0)
    if shape in LYING:
        return standing(np.array([0.0, 0.0, 1.0]), heading)
    if isinstance(bead.solid, Revolved):
        return standing(flat, rng.uniform(0, 2 * np.pi))
    facets = bead.solid.facets[np.abs(bead.solid.facets[:, 0]) < 0.9]
    if shape == "cube":
        facets = bead.solid.facets[:6]
    lowest = facets[rng.integers(len(facets))]
    first = standing(lowest, heading).T  # its rows take `lowest` to own x
    down = np.array([[0.0, 0.0, -1.0], [np.cos(heading), np.sin(heading), 0.0]])
    return np.stack([down[0], down[1], np.cross(*down)], axis=1) @ first


def loose(
    beads: Sequence[Bead], *, area: Area, bed_z: float, clump: float, rng: np.random.Generator
) -> Layout:
    """Scatter beads over an area, a share `clump` of them pushed against another bead."""
    layout = Layout()
    plans: list[Array] = []
    for bead in beads:
        turn = _resting(bead, rng)
        z = bed_z + (0.0 if bead.shape in SUNK else below(bead.solid, turn))
        plan = cv2.convexHull((bead.solid.cloud @ turn.T)[:, :2].astype(np.float32))[:, 0] * (1, -1)
        xy = _free_place(plan, plans, area=area, clump=clump, rng=rng)
        if xy is None:
            continue
        plans.append(plan + xy)
        centre = world(xy, z)
        layout.bodies.append(bead.body(turn, centre))
        layout.kinds.append((bead.shape, bead.look))
        widest, narrowest = ferets(bead.solid, turn)
        row = {"xy": [float(v) for v in xy], "z": float(z), "max_feret_mm": widest, "min_feret_mm": narrowest}
        layout.truth.append({**row, "design_mm": bead.size})
    return layout


def _free_place(
    plan: Array, taken: list[Array], *, area: Area, clump: float, rng: np.random.Generator
) -> Array | None:
    """Return a place where an outline overlaps no other, None where there is none.

    A share `clump` of the outlines touches another one.
    """
    reach = np.abs(plan).max()
    low, high = np.array(area[:2]) + reach, np.array(area[2:]) - reach
    if (low > high).any():
        return None

    def free(xy: Array) -> bool:
        mine = plan + xy
        near = (t for t in taken if np.hypot(*(t.mean(axis=0) - xy)) < 2.5 * reach + np.ptp(t, axis=0).max())
        return not any(_overlap(mine, t) for t in near)

    for _ in range(60):
        xy = rng.uniform(low, high)
        if taken and rng.random() < clump:
            xy = _pushed(xy, taken[rng.integers(len(taken))].mean(axis=0), free)
        if free(xy) and (low <= xy).all() and (xy <= high).all():
            return xy
    return None


def _overlap(one: Array, other: Array) -> bool:
    """Whether two convex polygons overlap: no line separates them (separating axes, after Minkowski)."""
    sides = np.vstack([np.roll(polygon, -1, axis=0) - polygon for polygon in (one, other)])
    normals = np.stack([-sides[:, 1], sides[:, 0]], axis=1)
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = normals[length[:, 0] > 0] / length[length > 0][:, None]
    a, b = one @ normals.T, other @ normals.T
    depth = np.minimum(a.max(axis=0) - b.min(axis=0), b.max(axis=0) - a.min(axis=0))
    return bool(depth.min() > TOUCH_MM)


def _pushed(start: Array, towards: Array, free: Callable[[Array], bool]) -> Array:
    """Move from a start straight towards a point until something is touched."""
    inside, outside = towards, start
    if not free(start):
        return start
    for _ in range(18):
        middle = (inside + outside) / 2
        inside, outside = (inside, middle) if free(middle) else (middle, outside)
    return outside
