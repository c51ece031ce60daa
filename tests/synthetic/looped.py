"""Places a finished piece on the bed: beads, spacers and covers in a closed loop, its clasp, its extender.

Bed coordinates are sheet (x, y), y down. What a clasp is made of lies along the course of the string.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from tests.synthetic.camera import Array
from tests.synthetic.layout import Bead, Layout, below, standing, world
from tests.synthetic.looks import GOLD, SILVER, Body
from tests.synthetic.shapes import revolved, tube
from tests.synthetic.solids import span

CLASPS = ("lobster", "ring", "toggle", "barrel", "box")
_SIDES = 14  # straight pieces of a ring
_STEP = 0.02  # between points of a course, mm
_STRING = 0.4
_AHEAD = np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True, kw_only=True)
class Finding:
    """A metal thing on the string: how long it is along it, and its bodies about its middle, x along."""

    length: float
    bodies: Sequence[Body]


@dataclass(frozen=True, kw_only=True)
class Piece:
    """What hangs on a closed string, and how it is closed; `end` hangs from a chain, if that has a length."""

    parts: Sequence[tuple[Bead, str]]  # with its kind: bead, spacer, cover
    gap: float
    clasp: Sequence[Finding]
    chain_mm: float
    end: Bead

    @property
    def length(self) -> float:
        """Length of the string all round."""
        parts = sum(bead.solid.length + self.gap for bead, _ in self.parts)
        return parts + sum(finding.length for finding in self.clasp) + 2.0


def finished(beads: Sequence[Bead], rng: np.random.Generator) -> Piece:
    """Draw a piece of as many of the beads as go round a wrist or an ankle, with or without spacers."""
    finish = {"look": "metal", "colour": (GOLD, SILVER, (0.8, 0.5, 0.4))[rng.integers(3)]}
    clasp = _clasp(str(rng.choice(CLASPS)), finish, rng)
    room = float(rng.uniform(150, 215)) - sum(finding.length for finding in clasp)
    every = int(rng.choice([0, 0, 1, 2, 4]))
    spacer, cover = (_small(kind, beads[0].size, finish, rng) for kind in ("spacer", "cover"))
    parts: list[tuple[Bead, str]] = []
    for k, bead in enumerate(beads, 1):
        room -= bead.solid.length + (spacer.solid.length if every and k % every == 0 else 0.0)
        if room < 0:
            break
        parts += [(bead, "bead"), (spacer, "spacer")] if every and k % every == 0 else [(bead, "bead")]
    if rng.random() < 0.7:
        parts = [(cover, "cover"), *parts, (cover, "cover")]
    return Piece(
        parts=parts,
        gap=float(rng.uniform(0, 0.25)),
        clasp=clasp,
        chain_mm=float(rng.choice([0.0, rng.uniform(18, 40)])),
        end=beads[-1],
    )


def _small(kind: str, size: float, finish: dict, rng: np.random.Generator) -> Bead:
    """Return a cover, which is a ball, or a spacer, which is a disc, for beads of a size."""
    if kind == "cover":
        wide = float(rng.uniform(2.4, 3.4))
        return Bead(solid=revolved(wide, wide, hole=_STRING), size=wide, seed=0, **finish)
    wide = float(rng.uniform(0.55, 0.85)) * size
    return Bead(solid=tube(wide, float(rng.uniform(1, 2)), hole=0.8), size=wide, seed=0, **finish)


def _wire(a: Array, b: Array, thick: float, finish: dict) -> Body:
    solid = tube(thick, float(np.linalg.norm(b - a)) + 0.4 * thick)
    return Body(solid=solid, turn=standing(b - a, 0.0), centre=(a + b) / 2, **finish)


def _ring(wide: float, thick: float, finish: dict, *, at: float = 0.0, upright: bool = False) -> list[Body]:
    """Return a ring about (at, 0, 0) that lies flat, or stands with its hole across the string."""
    turn = np.linspace(0, 2 * np.pi, _SIDES + 1)
    x, aside = (wide - thick) / 2 * np.stack([np.cos(turn), np.sin(turn)])
    points = np.stack([x + at, *((0 * x, aside) if upright else (aside, 0 * x))], axis=1)
    return [_wire(a, b, thick, finish) for a, b in pairwise(points)]


def _clasp(sort: str, finish: dict, rng: np.random.Generator) -> list[Finding]:
    """Return a clasp between two rings, in order along the string."""
    wide, size = float(rng.uniform(4, 6)), float(rng.uniform(5, 9))
    ring = Finding(length=wide, bodies=_ring(wide, 0.8, finish))
    if sort == "lobster":
        ball = revolved(0.55 * size, 0.8 * size, hole=0.3)
        knob = Body(solid=ball, turn=standing(_AHEAD, 0), centre=0.4 * size * _AHEAD, **finish)
        hook = [*_ring(size, 1.2, finish, at=-0.3 * size), knob, *_ring(2.4, 0.6, finish, at=0.85 * size)]
        return [ring, Finding(length=1.9 * size, bodies=hook), ring]
    if sort == "ring":
        return [ring, Finding(length=size, bodies=_ring(size, 1.6, finish)), ring]
    if sort == "toggle":
        side = np.array([0.0, 0.9 * size, 0.0])
        bar = _wire(1.5 * _AHEAD[::-1] - side, 1.5 * _AHEAD[::-1] + side, 1.6, finish)
        return [ring, Finding(length=1.3 * size, bodies=[*_ring(1.3 * size, 1.6, finish), bar]), ring]
    across = 0.7 * size
    solid = revolved(across, 1.6 * size, hole=0.8) if sort == "barrel" else tube(across, 1.4 * size)
    body = Body(solid=solid, turn=standing(_AHEAD, 0), centre=np.zeros(3), **finish)
    return [ring, Finding(length=solid.length, bodies=[body]), ring]


def round_course(length: float, middle: Array, rng: np.random.Generator) -> Array:
    """Draw a closed course about a place, shape (N, 2); it ends where it begins."""
    turn = np.linspace(0, 2 * np.pi, 4001) + rng.uniform(0, 2 * np.pi)
    reach = 1 + sum(rng.normal(0, 0.05 / k) * np.cos(k * turn + rng.uniform(0, 6)) for k in (2, 3, 4))
    points = np.stack([reach * np.cos(turn) * rng.uniform(0.88, 1.14), reach * np.sin(turn)], axis=1)
    points[-1] = points[0]
    points *= length / np.hypot(*np.diff(points, axis=0).T).sum()
    return points - (points.min(axis=0) + points.max(axis=0)) / 2 + middle


def on_loop(piece: Piece, *, course: Array, bed_z: float, rng: np.random.Generator) -> Layout:
    """Place a piece along a closed course (N, 2), its clasp before the end of that."""
    layout = Layout()
    travel = np.r_[0.0, np.cumsum(np.hypot(*np.diff(course, axis=0).T))]
    fine = np.arange(0, travel[-1], _STEP)
    points = np.stack([np.interp(fine, travel, column) for column in course.T], axis=1)
    at = _walk(points, [bead.solid.length for bead, _ in piece.parts], piece.gap)
    nodes = _put(layout, piece, points, at, bed_z=bed_z, rng=rng)
    lengths = [row["along_mm"] for row in layout.truth]
    span_mm = at[-1] * _STEP + lengths[-1] / 2, travel[-1] - lengths[0] / 2
    hooks = _close(layout, piece, points, span_mm, bed_z=bed_z)
    string = {"look": "metal", "colour": SILVER}
    joints = [(nodes[-1], hooks[0]), (hooks[1], nodes[0]), *zip(nodes[1:-1:2], nodes[2:-1:2], strict=True)]
    layout.bodies += [_wire(a, b, _STRING, string) for a, b in joints if np.linalg.norm(b - a) > _STEP]
    if piece.chain_mm:
        _hang(layout, piece, hooks[1], course.mean(axis=0), bed_z=bed_z, rng=rng)
    polygon = float(np.hypot(*np.diff(points[at], axis=0).T).sum())
    around = polygon + float(travel[-1]) - at[-1] * _STEP
    across = float(np.average([row["across_mm"] for row in layout.truth], weights=lengths))
    layout.strand_mm, layout.closed_up_mm = polygon + (lengths[0] + lengths[-1]) / 2, sum(lengths)
    layout.loop = {"axis_mm": around, "strung_mm": layout.strand_mm, "mean_half_across_mm": across / 2}
    layout.loop |= {"inner_girth_mm": around - np.pi * across, "extender_mm": piece.chain_mm}
    return layout


def _walk(points: Array, lengths: Sequence[float], gap: float) -> list[int]:
    """Return at which points the middles of parts lie, each straight ahead of the last one."""
    at = [0]
    for one, other in pairwise(lengths):
        away = np.hypot(*(points[at[-1] :] - points[at[-1]]).T)
        at.append(at[-1] + int(np.argmax(away >= (one + other) / 2 + gap)))
    return at


def _put(
    layout: Layout, piece: Piece, points: Array, at: list[int], *, bed_z: float, rng: np.random.Generator
) -> list[Array]:
    """Put the parts in their places, beads on the bed and others as high; return the ends of their holes."""
    ways = [points[min(k + 20, len(points) - 1)] - points[max(k - 20, 0)] for k in at]
    turns = [standing(np.array([way[0], -way[1], 0.0]), rng.uniform(0, 2 * np.pi)) for way in ways]
    rest = np.array([below(bead.solid, turn) for (bead, _), turn in zip(piece.parts, turns, strict=True)])
    beads = np.array([kind == "bead" for _, kind in piece.parts])
    held = np.interp(np.arange(len(rest)), np.flatnonzero(beads), rest[beads])
    nodes = []
    for k, (bead, kind) in enumerate(piece.parts):
        centre = world(points[at[k]], bed_z + max(rest[k], held[k]))
        layout.bodies.append(bead.body(turns[k], centre, core=_STRING, strung=True))
        across = np.cross((0.0, 0.0, 1.0), turns[k][:, 0])
        row = {"xy": [float(v) for v in points[at[k]]], "z": float(centre[2]), "kind": kind}
        row |= {"across_mm": span(bead.solid, across @ turns[k]), "along_mm": bead.solid.length}
        layout.truth.append(row | {"design_mm": bead.size})
        nodes += [centre + side * bead.solid.length / 2 * turns[k][:, 0] for side in (-1, 1)]
    return nodes


def _moved(body: Body, turn: Array, centre: Array) -> Body:
    return replace(body, turn=turn @ body.turn, centre=centre + turn @ body.centre)


def _close(
    layout: Layout, piece: Piece, points: Array, span_mm: tuple[float, float], *, bed_z: float
) -> tuple[Array, Array]:
    """Lay the clasp between two places of the course; return where the string is tied to it."""
    along = (sum(span_mm) - sum(finding.length for finding in piece.clasp)) / 2
    ties = []
    for finding in piece.clasp:
        ends = [points[min(round(s / _STEP), len(points) - 1)] for s in (along, along + finding.length)]
        way = ends[1] - ends[0]
        turn = standing(np.array([way[0], -way[1], 0.0]), 0.0)
        z = bed_z - min(float(body.cloud()[:, 2].min()) for body in finding.bodies)
        layout.bodies += [_moved(body, turn, world(sum(ends) / 2, z)) for body in finding.bodies]
        ties += [world(end, z) for end in ends]
        along += finding.length
    return ties[0], ties[-1]


def _hang(
    layout: Layout, piece: Piece, hook: Array, middle: Array, *, bed_z: float, rng: np.random.Generator
) -> None:
    """Lay a chain that leads outwards from a place, and the bead at its end."""
    out = hook[:2] - np.array([middle[0], -middle[1]])
    angle = float(np.arctan2(*out[::-1])) + float(rng.normal(0, 0.3))
    way, foot = np.array([np.cos(angle), np.sin(angle), 0.0]), np.array([*hook[:2], bed_z])
    link, finish, turn = float(rng.uniform(2.6, 4.2)), {"look": "metal", "colour": SILVER}, standing(way, 0.0)
    for k, along in enumerate(np.arange(0.0, piece.chain_mm - link / 2, link - 1.2)):
        up = np.array([0.0, 0.0, link / 2 if k % 2 else 0.3])
        links = _ring(link, 0.6, finish, upright=bool(k % 2))
        layout.bodies += [_moved(body, turn, foot + up + (along + link / 2) * way) for body in links]
    centre = foot + (piece.chain_mm + piece.end.solid.length / 2 + 0.6) * way
    centre[2] += below(piece.end.solid, turn)
    pin = foot + (piece.chain_mm - 1) * way + np.array([0.0, 0.0, 0.4])
    layout.bodies += [piece.end.body(turn, centre), _wire(pin, centre, 0.4, finish)]
