"""Where beads lie: on a rod, along a wire, loose in clumps. Bed coordinates are sheet (x, y), y down."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import cv2
import numpy as np

from tests.synthetic.camera import Array
from tests.synthetic.looks import SILVER, Body
from tests.synthetic.shapes import tube
from tests.synthetic.solids import Revolved, Solid, ferets, span

Area = tuple[float, float, float, float]  # left, top, right, bottom
STEEL = {"look": "metal", "colour": SILVER}
LYING = ("rondelle", "faceted-rondelle", "disc", "dome")  # on a flat side, their axis upright
TOUCH_MM = 1e-3
SUNK = ("dome",)  # an ellipsoid of which the upper half is seen
RUBBER = {"look": "opaque", "colour": (0.03, 0.03, 0.035)}


@dataclass(kw_only=True)
class Layout:
    """Bodies put on the bed, the beads first; each bead with its row of truth."""

    bodies: list[Body] = field(default_factory=list)
    truth: list[dict] = field(default_factory=list)
    kinds: list[tuple[str, str]] = field(default_factory=list)  # shape and look of each loose bead
    strand_mm: float | None = None
    closed_up_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Bead:
    """A bead yet to be put somewhere."""

    solid: Solid
    size: float
    look: str
    colour: tuple[float, float, float]
    seed: int
    shape: str = "round"
    veins: float = 0.0
    relief: float = 0.0

    def body(self, turn: Array, centre: Array, *, core: float = 0.0, strung: bool = False) -> Body:
        """Put the bead somewhere."""
        return Body(
            solid=self.solid,
            turn=turn,
            centre=centre,
            look=self.look,
            colour=self.colour,
            core=core,
            strung=strung,
            seed=self.seed,
            veins=self.veins,
            relief=self.relief,
        )


def standing(axis: Array, roll: float) -> Array:
    """Return the turn that takes a bead's own x to a world axis, rolled about it; columns are its axes."""
    x = axis / np.linalg.norm(axis)
    helper = np.array([0.0, 0.0, 1.0]) if abs(x[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    y = np.cross(helper, x)
    y /= np.linalg.norm(y)
    z = np.cross(x, y)
    return np.stack([x, np.cos(roll) * y + np.sin(roll) * z, np.cos(roll) * z - np.sin(roll) * y], axis=1)


def below(solid: Solid, turn: Array) -> float:
    """How far a turned solid reaches down from its centre."""
    return float(solid.support(np.array([[0.0, 0.0, -1.0]]) @ turn)[0])


def world(xy: Array, z: float) -> Array:
    """World point of a sheet point (y down) at a height."""
    return np.array([xy[0], -xy[1], z])


def _strung_row(bead: Bead, turn: Array, centre: Array) -> dict:
    across = np.cross((0.0, 0.0, 1.0), turn[:, 0])
    return {
        "xy": [float(centre[0]), float(-centre[1])],
        "z": float(centre[2]),
        "across_mm": span(bead.solid, across @ turn),
        "along_mm": bead.solid.length,
        "design_mm": bead.size,
    }


def _put(layout: Layout, bead: Bead, turn: Array, centre: Array, core: float) -> None:
    layout.bodies.append(bead.body(turn, centre, core=core, strung=True))
    layout.truth.append(_strung_row(bead, turn, centre))


def _stations(beads: Sequence[Bead], gaps: Array) -> Array:
    """Place bead centres along the string, from the outer end of the first bead."""
    lengths = np.array([bead.solid.length for bead in beads])
    return np.cumsum(lengths) - lengths / 2 + np.r_[0.0, np.cumsum(gaps)]


def _lengths(layout: Layout, gaps: Array) -> None:
    layout.closed_up_mm = sum(row["along_mm"] for row in layout.truth)
    layout.strand_mm = layout.closed_up_mm + float(gaps.sum())


def plain_stopper(rod: float, rng: np.random.Generator) -> Bead:
    """Return a piece of steel or rubber tube that holds beads on a rod."""
    thick, reach = rng.uniform(1.7, 4.0) * rod, float(rng.uniform(4, 7))
    make = STEEL if rng.random() < 0.5 else RUBBER
    return Bead(solid=tube(thick, reach), size=thick, seed=0, **make)


def on_rod(
    beads: Sequence[Bead],
    gaps: Array,
    *,
    middle: Array,
    angle: float,
    bed_z: float,
    rng: np.random.Generator,
    stopper: Callable[[float, np.random.Generator], Bead] = plain_stopper,
) -> Layout:
    """Beads on a straight rod at one height, that of the thickest bead or stopper; a stopper at each end."""
    layout = Layout()
    hole = min(bead.solid.hole for bead in beads)
    rod, stations = rng.uniform(0.6, 0.85) * hole, _stations(beads, gaps)
    direction = np.array([np.cos(angle), np.sin(angle)])
    axis = np.array([direction[0], -direction[1], 0.0])
    turns = [standing(axis, rng.uniform(0, 2 * np.pi)) for _ in beads]
    stoppers = [stopper(rod, rng) for _ in range(2)]
    z = bed_z + max(
        *(below(b.solid, t) for b, t in zip(beads, turns, strict=True)), *(s.size / 2 for s in stoppers)
    )
    length = stations[-1] + beads[-1].solid.length / 2
    for bead, turn, s in zip(beads, turns, stations, strict=True):
        _put(layout, bead, turn, world(middle + (s - length / 2) * direction, z), rod)
    _lengths(layout, gaps)
    tails = rng.uniform(12, 32, 2)
    run = np.array([-length / 2 - tails[0], length / 2 + tails[1]])
    bare = Bead(solid=tube(rod, float(np.ptp(run))), size=rod, seed=0, **STEEL)
    extras = [(bare, float(run.mean()))]
    for sign, end in zip((-1, 1), stoppers, strict=True):
        extras.append((end, sign * (length + end.solid.length + 0.1) / 2))
    for extra, s in extras:
        layout.bodies.append(extra.body(standing(axis, 0.0), world(middle + s * direction, z)))
    return layout


def curve(area: Area, rng: np.random.Generator) -> Array:
    """Draw a smooth course across an area, densely sampled, shape (N, 2)."""
    left, top, right, bottom = area
    x = np.linspace(left, right, 4000)
    phase = rng.uniform(0, 2 * np.pi, 2)
    waves = rng.uniform(0.5, 1.5), rng.uniform(1.5, 2.2)
    u = (x - left) / (right - left) * 2 * np.pi
    y = np.sin(waves[0] * u + phase[0]) + rng.uniform(0, 0.25) * np.sin(waves[1] * u + phase[1])
    y = (y - y.min()) / np.ptp(y)
    depth = rng.uniform(0.25, 0.8)
    return np.stack([x, top + (bottom - top) * (rng.uniform(0, 1 - depth) + depth * y)], axis=1)


def _walk(course: Array, steps: Array) -> Array:
    """Points on a course at given straight-line distances one from the next, shape (N + 1, 2)."""
    points, k = [course[0]], 0
    for step in steps:
        away = np.hypot(*(course[k:] - points[-1]).T)
        beyond = np.flatnonzero(away >= step)
        if not len(beyond):
            break
        j = k + beyond[0]
        a, b = away[j - k - 1], away[j - k]
        points.append(course[j - 1] + (step - a) / (b - a) * (course[j] - course[j - 1]))
        k = j
    return np.array(points)


def on_wire(
    beads: Sequence[Bead], gaps: Array, *, course: Array, bed_z: float, rng: np.random.Generator
) -> Layout:
    """Beads along a wire, each lying on the bed; the wire ends a little beyond them on the bed."""
    layout = Layout()
    wire = rng.uniform(0.3, 0.6) * min(bead.solid.hole for bead in beads)
    lengths = np.array([bead.solid.length for bead in beads])
    tail = int(rng.uniform(100, 260))
    at = _walk(course[tail:-tail], (lengths[1:] + lengths[:-1]) / 2 + gaps)
    beads, gaps = beads[: len(at)], gaps[: len(at) - 1]
    ahead = np.vstack([at[1:2] - at[:1], at[2:] - at[:-2], at[-1:] - at[-2:-1]])
    nodes = []
    for bead, xy, way in zip(beads, at, ahead, strict=True):
        turn = standing(np.array([way[0], -way[1], 0.0]), rng.uniform(0, 2 * np.pi))
        centre = world(xy, bed_z + below(bead.solid, turn))
        _put(layout, bead, turn, centre, wire)
        nodes += [centre + side * bead.solid.length / 2 * turn[:, 0] for side in (-1, 1)]
    _lengths(layout, gaps)
    reach = np.linspace(0, 1, 6)[1:, None]
    for node, side, fall in ((nodes[0], -1, layout.bodies[0]), (nodes[-1], 1, layout.bodies[-1])):
        way = side * fall.turn[:, 0] * rng.uniform(8, 20)
        bend = side * np.cross((0, 0, 1), way) * rng.uniform(-0.3, 0.3)
        drop = np.array([0.0, 0.0, bed_z + wire / 2 - node[2]])
        path = [node, *(node + reach * way + reach**2 * bend + np.minimum(reach * 2, 1) * drop)]
        layout.bodies += _segments(path, wire)
    layout.bodies += [
        body
        for k in range(1, len(nodes) - 1, 2)
        if np.linalg.norm(nodes[k + 1] - nodes[k]) > 0.02
        for body in _segments(nodes[k : k + 2], wire)
    ]
    return layout


def _segments(path: Sequence[Array], thick: float) -> list[Body]:
    """Straight pieces of wire from point to point."""
    bodies = []
    for a, b in pairwise(path):
        length = float(np.linalg.norm(b - a))
        solid = tube(thick, length + 0.4 * thick)
        bodies.append(Body(solid=solid, turn=standing(b - a, 0.0), centre=(a + b) / 2, **STEEL))
    return bodies


def _resting(bead: Bead, rng: np.random.Generator) -> Array:
    """Return a turn in which a loose bead lies still."""
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
    """Beads scattered over an area, a share `clump` of them pushed against another one."""
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
    """Return a place for an outline that overlaps no other, touching one where it is to clump."""
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
    """Return whether two convex polygons share more than their rims: no line parts them (Minkowski)."""
    sides = np.vstack([np.roll(polygon, -1, axis=0) - polygon for polygon in (one, other)])
    normals = np.stack([-sides[:, 1], sides[:, 0]], axis=1)
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = normals[length[:, 0] > 0] / length[length > 0][:, None]
    a, b = one @ normals.T, other @ normals.T
    depth = np.minimum(a.max(axis=0) - b.min(axis=0), b.max(axis=0) - a.min(axis=0))
    return bool(depth.min() > TOUCH_MM)


def _pushed(start: Array, towards: Array, free: Callable[[Array], bool]) -> Array:
    """Slide from a start straight towards a point until something is touched."""
    inside, outside = towards, start
    if not free(start):
        return start
    for _ in range(18):
        middle = (inside + outside) / 2
        inside, outside = (inside, middle) if free(middle) else (middle, outside)
    return outside
