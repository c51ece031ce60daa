"""What may lie on a maker's table: beads of all shapes and looks, spacers, findings, stoppers, tools."""

from dataclasses import dataclass, field, replace

import numpy as np

from tests.rendering.meshes import (
    Array,
    Mesh,
    bored,
    box,
    capsule,
    helix,
    joined,
    lump,
    pressed,
    revolved,
    ring,
    superquadric,
    swept,
)
from tests.rendering.surfaces import Surface, any_surface, metal
from vision.topview.kinds import Kind


@dataclass(frozen=True, kw_only=True)
class Part:
    """One mesh with its surface and kind; parts with one owner (from 1) are one piece, 0 owns nothing."""

    mesh: Mesh
    surface: Surface
    kind: Kind
    owner: int = 0

    def moved(self, turn: Array, to: Array) -> "Part":
        """Return the part turned and moved."""
        return replace(self, mesh=self.mesh.moved(turn, to))


@dataclass(frozen=True, kw_only=True)
class Die:
    """What is pressed into beads: lines (M, 2, 2) over half their size; depth, width over their width."""

    marks: Array
    deep: float
    wide: float


@dataclass(frozen=True, kw_only=True)
class BeadKind:
    """What beads of one lot share: sizes in mm, along the hole and across."""

    shape: str
    across: float
    along: float
    hole: float
    surfaces: tuple[Surface, ...]
    spread: float
    power: float = 2.5
    sides: int = 8
    kind: Kind = Kind.BEAD
    order: tuple[int, ...] = field(default=(0,))
    die: Die | None = None


SHAPES = (
    "round",
    "oval",
    "rondelle",
    "bicone",
    "facetted",
    "tube",
    "heishi",
    "cube",
    "drop",
    "barrel",
    "melon",
)
SHAPES += ("nugget", "baroque", "tablet", "slab", "disc", "dome", "oblong")
FLAT = ("tablet", "slab", "disc", "dome")
"""These lie on a side."""
_LONG = {
    "round": (0.95, 1.0),
    "oval": (1.15, 1.9),
    "rondelle": (0.45, 0.85),
    "bicone": (0.75, 1.05),
    "facetted": (0.9, 1.05),
    "tube": (0.8, 3.5),
    "heishi": (0.15, 0.5),
    "cube": (0.9, 1.1),
    "drop": (1.2, 1.8),
    "barrel": (1.0, 1.8),
    "melon": (0.8, 1.0),
    "nugget": (0.8, 1.6),
    "baroque": (0.8, 1.5),
    "tablet": (1.0, 1.6),
    "slab": (0.8, 1.6),
    "disc": (0.9, 1.1),
    "dome": (0.9, 1.4),
    "oblong": (1.6, 3.0),
}
_PRESSED = 0.4
"""Share of flat and of oblong beads with something pressed into them."""


_LONGEST = 26.0  # mm; longer beads of the trade are rare


def any_bead_kind(rng: np.random.Generator, *, across: float | None = None) -> BeadKind:
    """Draw what the beads of one lot share."""
    wide = float(np.exp(rng.uniform(np.log(2.0), np.log(16.0)))) if across is None else across
    shape = "round" if rng.random() < 0.3 else str(rng.choice(SHAPES))
    low, high = _LONG[shape]
    uneven = shape in ("nugget", "baroque")
    die = any_die(rng) if shape in (*FLAT, "oblong") and rng.random() < _PRESSED else None
    colours = int(rng.choice([1, 1, 1, 2, 3]))
    look = any_surface(rng).look
    return BeadKind(
        shape=shape,
        across=wide,
        along=min(wide * float(rng.uniform(low, high)), _LONGEST),
        hole=float(np.clip(rng.uniform(0.06, 0.13) * wide, 0.2, 1.0)),
        surfaces=tuple(any_surface(rng, look) for _ in range(colours)),
        spread=float(rng.uniform(0.03, 0.18)) if uneven else float(rng.choice([0.004, 0.012, 0.03])),
        power=float(rng.uniform(2.2, 5.0)),
        sides=int(rng.integers(5, 13)),
        order=tuple(int(v) for v in rng.integers(0, colours, rng.integers(1, 6))),
        die=die,
    )


def any_die(rng: np.random.Generator) -> Die:
    """Draw what is pressed into beads: a line that halves them, a ring, strokes."""
    marks = []
    if rng.random() < 0.5:
        marks.append(
            np.array([[[0, -1.2], [0, 1.2]]]) if rng.random() < 0.6 else np.array([[[-1.2, 0], [1.2, 0]]])
        )
    if rng.random() < 0.3:
        turn = np.linspace(0, 2 * np.pi, 25)
        circle = rng.uniform(0.4, 0.8) * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        marks.append(np.stack([circle[:-1], circle[1:]], axis=1))
    if rng.random() < 0.5 or not marks:
        marks.append(rng.uniform(-0.55, 0.55, (int(rng.integers(2, 8)), 2, 2)))
    return Die(
        marks=np.concatenate(marks),
        deep=float(rng.uniform(0.01, 0.05) * rng.choice([-1, 1, 1])),
        wide=float(rng.uniform(0.02, 0.06)),
    )


def spacer_kind(beads: BeadKind, rng: np.random.Generator) -> BeadKind:
    """Draw thin metal spacers that suit beads."""
    wide = beads.across * float(rng.uniform(0.35, 0.9))
    shape = str(rng.choice(["rondelle", "heishi", "melon", "tube"]))
    thin = {"rondelle": 0.45, "heishi": 0.25, "melon": 0.6, "tube": 0.7}[shape]
    return BeadKind(
        shape=shape,
        across=max(wide, 1.5),
        along=max(wide * thin * float(rng.uniform(0.7, 1.2)), 0.5),
        hole=beads.hole,
        surfaces=(metal(rng),),
        spread=0.004,
        power=4.0,
        kind=Kind.SPACER,
    )


def cover_kind(rng: np.random.Generator) -> BeadKind:
    """Draw crimps or crimp covers."""
    wide = float(rng.uniform(1.6, 4.0))
    shape = str(rng.choice(["round", "tube", "melon"]))
    return BeadKind(
        shape=shape,
        across=wide,
        along=wide * float(rng.uniform(0.8, 1.2)),
        hole=0.35,
        surfaces=(metal(rng),),
        spread=0.004,
        kind=Kind.COVER,
    )


def bead_mesh(of: BeadKind, rng: np.random.Generator) -> Mesh:
    """Return one bead, its hole along x."""
    grown = float(np.clip(rng.normal(1, of.spread), 0.6, 1.5))
    wide, long = of.across * grown, of.along * grown
    if of.shape in ("nugget", "baroque"):
        rough = 0.12 if of.shape == "nugget" else 0.07
        half = (long / 2, wide / 2, wide / 2 * rng.uniform(0.6, 1.0))
        return lump(half, rough=rough, facets=of.shape == "nugget", rng=rng)
    if of.shape in (*FLAT, "cube"):
        return _stamped(_flat(of, long, wide), of.die, wide)
    t = np.linspace(-1, 1, 41)
    arc = np.sqrt(np.clip(1 - t**2, 0, 1))
    flat = (1 - np.abs(t) ** of.power) ** (1 / of.power)
    profiles = {
        "round": arc,
        "oval": arc,
        "melon": arc,
        "rondelle": flat,
        "barrel": 0.62 + 0.38 * (1 - t**2),
        "drop": arc * (1 + 0.35 * t) / 1.12,
        "tube": np.ones_like(t),
        "heishi": np.ones_like(t),
        "oblong": np.sqrt(
            1 - np.clip((np.abs(t) * long - long + min(long, wide)) / min(long, wide), 0, 1) ** 2
        ),
    }
    if of.shape == "bicone":
        x = np.array([-1, -0.12, 0.12, 1.0])
        r = np.array([0.28, 1, 1, 0.28])
        return bored(x * long / 2, r * wide / 2, hole=of.hole, sides=of.sides, smooth=False)
    if of.shape == "facetted":
        turn = np.linspace(-0.45 * np.pi, 0.45 * np.pi, 7)
        x, r = np.sin(turn) / np.sin(turn[-1]), np.cos(turn)
        return bored(x * long / 2, r * wide / 2, hole=of.hole, sides=of.sides + 4, smooth=False)
    sharp = of.shape in ("tube", "heishi")
    ribs = of.sides if of.shape == "melon" else 0
    turned = bored(
        t * long / 2, profiles[of.shape] * wide / 2, hole=of.hole, smooth=not sharp or of.sides > 8, ribs=ribs
    )
    return (
        _stamped(turned.scaled((1, 1, min(of.power / 4, 1))), of.die, wide)
        if of.shape == "oblong"
        else turned
    )


def _flat(of: BeadKind, long: float, wide: float) -> Mesh:
    """Return a bead that lies on a side, or a cube."""
    high = {"cube": 1.0, "tablet": 0.45, "slab": 0.3, "disc": 0.09 * of.power, "dome": 0.15 * of.power}[
        of.shape
    ]
    power = {"tablet": 2.2, "disc": 6.0, "dome": 2.0}.get(of.shape, 3.0 * of.power)
    plan = 2.0 if of.shape in ("disc", "dome") else None
    count = 72 if of.die else 40
    mesh = superquadric((long / 2, wide / 2, high * wide / 2), power, plan=plan, count=count)
    if of.shape != "dome":
        return mesh
    level = -0.3 * high * wide / 2
    return replace(mesh, points=np.c_[mesh.points[:, :2], np.maximum(mesh.points[:, 2], level)])


def _stamped(mesh: Mesh, die: Die | None, wide: float) -> Mesh:
    return mesh if die is None else pressed(mesh, die.marks, deep=die.deep * wide, wide=die.wide * wide)


def swirl(within: Mesh, rng: np.random.Generator) -> Mesh:
    """Return a twisted flake in the middle of a body."""
    low, high = within.points.min(axis=0), within.points.max(axis=0)
    flake = superquadric((1.0, 1.0, float(rng.uniform(0.1, 0.5))), 2.0, count=24).twisted(
        float(rng.normal(0, 1.5))
    )
    turn, _ = np.linalg.qr(rng.normal(0, 1, (3, 3)))
    turn = turn * np.sign(np.linalg.det(turn))
    reach = float((high - low).min()) / 2 * float(rng.uniform(0.45, 0.8))
    return flake.scaled(reach).moved(turn, (low + high) / 2)


def _clip(plain: Surface, rng: np.random.Generator) -> tuple[tuple[Part, ...], float]:
    """Draw a block of two jaws with a wire handle."""
    length, wide, reach = (float(rng.uniform(*r)) for r in ((7, 14), (7, 13), (5, 12)))
    body = metal(rng, rough=0.3) if rng.random() < 0.3 else plain
    jaws = box(length, wide, float(rng.uniform(4, 7))).moved(np.eye(3), (length / 2, 0, 0))
    handle = _arch(reach, wide * 0.6).moved(np.eye(3), (length, 0, 0))
    pairs = ((jaws, body), (handle, metal(rng)))
    return tuple(Part(mesh=m, surface=s, kind=Kind.STOPPER) for m, s in pairs), length + reach


def _fold(plain: Surface, rng: np.random.Generator) -> tuple[tuple[Part, ...], float]:
    """Draw a clip of folded steel, a wedge whose edge bites, with two wire handles."""
    wide, radius, reach = (float(rng.uniform(*r)) for r in ((8, 20), (3, 7), (6, 14)))
    across = np.array([-0.5, -0.5, 0.5, 0.5]) * wide
    wedge = revolved(across, np.array([0.02, 1, 1, 0.02]) * radius, sides=3)
    wedge = replace(wedge.moved(_ASIDE, np.zeros(3)), smooth=False)
    first = -float(wedge.points[:, 0].min())
    length = first + float(wedge.points[:, 0].max())
    pieces = [Part(mesh=wedge.moved(np.eye(3), (first, 0, 0)), surface=plain, kind=Kind.STOPPER)]
    shiny = metal(rng)
    for high in (0.5, -0.5):
        bow = _arch(reach, wide * 0.4).moved(np.eye(3), (length * 0.9, 0, high * radius))
        pieces.append(Part(mesh=bow, surface=shiny, kind=Kind.STOPPER))
    return tuple(pieces), length + reach


def _peg(plain: Surface, rng: np.random.Generator) -> tuple[tuple[Part, ...], float]:
    """Draw a peg: two long jaws, and the spring between them."""
    length, wide, high = (float(rng.uniform(*r)) for r in ((18, 45), (3, 10), (2, 5)))
    body = metal(rng, rough=0.2) if rng.random() < 0.5 else plain
    jaws = [
        box(length, wide, high).moved(np.eye(3), (length / 2, s * wide * 0.1, s * high * 0.55))
        for s in (-1, 1)
    ]
    turns = helix(high, 0.7, wide * 1.2, 5).moved(_ASIDE, (length * rng.uniform(0.4, 0.7), 0, 0))
    surfaces = (body, body, metal(rng))
    pairs = zip((*jaws, turns), surfaces, strict=True)
    return tuple(Part(mesh=m, surface=s, kind=Kind.STOPPER) for m, s in pairs), length


_ASIDE = np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1.0]])
_CLAMPS = {"clip": _clip, "fold": _fold, "peg": _peg}


def stopper(rod: float, rng: np.random.Generator) -> tuple[tuple[Part, ...], float]:
    """Draw what holds beads on a string along x, from x = 0 on, and its length; mm."""
    sort = str(
        rng.choice(["rubber", "cone", "ball", "spring", "clip", "fold", "peg", "clutch", "knot", "tape"])
    )
    plain = any_surface(rng, str(rng.choice(["opaque", "gloss"])))
    length, wide = float(rng.uniform(3, 9)), float(np.clip(rod * rng.uniform(2.5, 7), 2.0, 9.0))
    t = np.linspace(-1, 1, 15)
    if sort == "rubber":
        meshes = (bored(t * length / 2, (1 - 0.1 * t**6) * wide / 2, hole=rod / 2),)
    elif sort == "cone":
        meshes = (bored(t * length / 2, (0.65 + 0.35 * np.sign(rng.normal()) * t) * wide / 2, hole=rod / 2),)
        plain = metal(rng) if rng.random() < 0.5 else plain
    elif sort == "ball":
        length = wide
        meshes = (revolved(t * wide / 2, np.sqrt(np.clip(1 - t**2, 1e-4, 1)) * wide / 2),)
    elif sort == "spring":
        meshes = (helix(wide / 2, 0.6, length, length / 0.9),)
        plain = metal(rng)
        if rng.random() < 0.6:
            loops = [ring(wide * 0.5, 0.7).moved(np.eye(3), (s * length / 2, 0, wide * 0.6)) for s in (-1, 1)]
            meshes += tuple(loops)
    elif sort in _CLAMPS:
        return _CLAMPS[sort](plain, rng)
    elif sort == "clutch":
        meshes = (bored(t * length / 2, np.full(15, wide / 2), hole=rod / 2), ring(wide * 0.6, 0.8))
        plain = metal(rng)
    elif sort == "knot":
        length = float(rng.uniform(1.2, 3))
        meshes = (lump((length / 2, 0.7, 0.6), rough=0.2, facets=False, rng=rng),)
    else:
        length = float(rng.uniform(8, 18))
        meshes = (box(length, float(rng.uniform(4, 9)), 0.3),)
    part = Part(mesh=replace(joined(*meshes), smooth=meshes[0].smooth), surface=plain, kind=Kind.STOPPER)
    return (part.moved(np.eye(3), np.array([length / 2, 0, 0])),), length


def _arch(reach: float, wide: float) -> Mesh:
    """Return a wire handle in the plane of x and y, from x = 0 to `reach`."""
    turn = np.linspace(-np.pi / 2, np.pi / 2, 24)
    bow = np.stack([reach * np.cos(turn) ** 0.6, wide / 2 * np.sin(turn), np.zeros(24)], axis=1)
    return swept(bow, 0.5)


def clasp(rng: np.random.Generator) -> tuple[tuple[Part, ...], float]:
    """Draw a clasp along x, from x = 0 to its length; mm."""
    shiny = metal(rng)
    size = float(rng.uniform(4, 9))
    sort = str(rng.choice(["lobster", "ring", "toggle", "barrel", "box"]))
    lie = np.eye(3)
    if sort == "lobster":
        turn = np.linspace(0, 2 * np.pi, 40)[:-1]
        loop = np.stack(
            [-size * np.cos(turn), size * 0.42 * np.sin(turn) * (1 - 0.3 * np.cos(turn)), 0 * turn], axis=1
        )
        meshes = [
            swept(loop, size * 0.12, closed=True),
            capsule(size * 0.2, size * 0.9).moved(lie, (size * 0.6, 0.1, 0)),
        ]
        length = 2 * size
    elif sort == "ring":
        meshes, length = [ring(size / 2, size * 0.18)], size
    elif sort == "toggle":
        meshes = [ring(size * 0.7, size * 0.2)]
        bar = capsule(size * 0.12, size * 1.9).moved(
            np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1.0]]), (0.2 * size, 0, 0.3)
        )
        meshes.append(bar)
        length = size * 1.5
    elif sort == "barrel":
        t = np.linspace(-1, 1, 21)
        meshes = [revolved(t * size, np.maximum((1 - t**6), 0.05) ** 0.5 * size * 0.35)]
        length = 2 * size
    else:
        meshes, length = [box(size * 1.6, size, size * 0.5)], size * 1.6
    middle = np.array([length / 2, 0, 0])
    return tuple(Part(mesh=m.moved(lie, middle), surface=shiny, kind=Kind.FINDING) for m in meshes), length


def chain(length: float, rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a chain along x, from x = 0 on: links that lie flat and stand by turns."""
    shiny, link = metal(rng), float(rng.uniform(2.0, 4.5))
    thick = link * 0.18
    parts = []
    upright = np.array([[1, 0, 0], [0, 0.5, -0.87], [0, 0.87, 0.5]])
    for k, at in enumerate(np.arange(0, length, link - 1.6 * thick)):
        loop = ring(link / 2, thick, count=24).scaled((1, 0.75, 1))
        mesh = loop.moved(upright if k % 2 else np.eye(3), (at + link / 2, 0, 0))
        parts.append(Part(mesh=mesh, surface=shiny, kind=Kind.CHAIN))
    return tuple(parts)
