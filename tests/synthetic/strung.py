"""Places beads on a rod or along a wire. Bed coordinates are sheet (x, y), y down."""

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from tests.synthetic.camera import Array
from tests.synthetic.layout import Area, Bead, Layout, below, standing, world
from tests.synthetic.looks import SILVER, Body
from tests.synthetic.shapes import tube
from tests.synthetic.solids import span

STEEL = {"look": "metal", "colour": SILVER}
RUBBER = {"look": "opaque", "colour": (0.03, 0.03, 0.035)}


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
    """Return bead centres along the string, from the outer end of the first bead."""
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
    """Place beads on a straight rod, at the height of the thickest bead or stopper; a stopper at each end."""
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
    """Points on a course, each at a given straight-line distance from the one before, shape (N + 1, 2)."""
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
    """Place beads along a wire, each on the bed; the wire ends on the bed a little beyond them."""
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
    """Return straight pieces of wire from point to point."""
    bodies = []
    for a, b in pairwise(path):
        length = float(np.linalg.norm(b - a))
        solid = tube(thick, length + 0.4 * thick)
        bodies.append(Body(solid=solid, turn=standing(b - a, 0.0), centre=(a + b) / 2, **STEEL))
    return bodies
