"""Beads of every shape and look, of one kind or mixed; also nuggets, coins, stoppers and stray wires."""

from dataclasses import dataclass, replace

import numpy as np

from tests.synthetic.layout import Bead, standing, world
from tests.synthetic.looks import GOLD, LOOKS, SILVER, Body
from tests.synthetic.scene import PAINTS, PEARLS
from tests.synthetic.shapes import SHAPES, make, recipe, revolved, tube
from tests.synthetic.solids import Polyhedron, Revolved, Solid

LOOSE_ONLY = ("disc", "dome", "tablet")
LUMPS = ("nugget", "baroque")
_COINS = ((0.7, 0.4, 0.25), (0.75, 0.6, 0.3), (0.6, 0.6, 0.62))


@dataclass(frozen=True, kw_only=True)
class Kind:
    """What beads of one kind share."""

    shape: str
    look: str
    size: float
    spread: float
    proportions: dict
    colours: tuple[tuple[float, float, float], ...]
    veins: float
    relief: float


def _lump(size: float, along: float, rng: np.random.Generator, *, rough: float, count: int) -> Solid:
    """Return a convex lump: planes about an ellipsoid at uneven distances."""
    normals = rng.normal(size=(count, 3))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    waves = rng.normal(0, 1, (3, 3)) * 1.6
    bulge = 1 + rough * np.sin(normals @ waves.T + rng.uniform(0, 6, 3)).sum(axis=1) / 2
    half = np.array([along, size, size * rng.uniform(0.7, 1.0)]) / 2
    offsets = np.linalg.norm(normals * half, axis=1) * bulge
    box = np.vstack([np.eye(3), -np.eye(3)])
    return Polyhedron(
        facets=np.vstack([normals, box]), offsets=np.r_[offsets, np.tile(half * 1.25, 2)], hole=0.12 * size
    )


def solid_of(kind: Kind, rng: np.random.Generator) -> tuple[Solid, float]:
    """Return one bead of a kind and its nominal size."""
    size = kind.size * float(np.clip(rng.normal(1, kind.spread), 0.6, 1.5))
    hole = float(np.clip(rng.uniform(0.13, 0.22) * size, 0.3, 2.0))
    if kind.shape == "nugget":
        return _lump(
            size, size * rng.uniform(0.8, 1.5), rng, rough=0.22, count=int(rng.integers(14, 60))
        ), size
    if kind.shape == "baroque":
        return _lump(size, size * rng.uniform(0.9, 1.4), rng, rough=0.12, count=140), size
    if kind.shape == "disc":
        return revolved(size, size * kind.proportions["flat"], hole=1e-3, power=14.0), size
    if kind.shape == "tablet":
        long = size * kind.proportions["long"]
        return Revolved(
            radius=size / 2, half_axis=long / 2, length=long, power=kind.proportions["power"] * 1.4
        ), size
    if kind.shape == "dome":
        return revolved(size, size * kind.proportions["dome"], hole=1e-3), size
    return make(kind.shape, size, hole=min(hole, 0.3 * size), proportions=kind.proportions), size


def any_colour(look: str, rng: np.random.Generator) -> tuple[float, float, float]:
    """Return a colour that suits a look: a usual one, or any."""
    if look == "metal":
        base = np.array([SILVER, GOLD, (0.8, 0.5, 0.4), *_COINS][rng.integers(6)])
    elif look == "clear":
        base = np.full(3, 0.97)
    elif look == "pearl" and rng.random() < 0.6:
        base = np.array(PEARLS[rng.integers(len(PEARLS))])
    elif rng.random() < 0.4:
        base = np.array(PAINTS[rng.integers(len(PAINTS))])
    else:
        level = float(np.exp(rng.uniform(np.log(0.02), np.log(0.85))))
        base = level * np.exp(rng.normal(0, rng.choice([0.05, 0.5]), 3))
    if look == "tinted":
        base = 0.25 + 0.75 * base / base.max()
    return tuple(float(v) for v in np.clip(base, 0.01, 0.97))


def any_kind(size: float, rng: np.random.Generator, *, loose: bool) -> Kind:
    """Draw what the beads of one lot share."""
    shapes = SHAPES + ("round",) * 3 + LUMPS + (LOOSE_ONLY if loose else ())
    shape = str(rng.choice(shapes))
    look = str(rng.choice((*LOOKS, "metal", "coated")))
    if shape == "disc" and rng.random() < 0.6:
        look = str(rng.choice(("metal", "opaque")))
    base = recipe(shape, rng)
    base |= {
        "flat": float(rng.uniform(0.07, 0.45)),
        "dome": float(rng.uniform(0.5, 1.0)),
        "long": float(rng.uniform(0.8, 2.6)),
    }
    number = int(rng.choice([1, 1, 2, 4]))
    lumpy = shape in LUMPS
    return Kind(
        shape=shape,
        look=look,
        size=size,
        spread=float(rng.uniform(0.03, 0.2)) if lumpy else float(rng.choice([0.004, 0.01, 0.03])),
        proportions=base,
        colours=tuple(any_colour(look, rng) for _ in range(number)),
        veins=float(rng.uniform(0.1, 1.0)) if rng.random() < 0.25 else 0.0,
        relief=float(rng.uniform(0.02, 0.25)) if rng.random() < (0.6 if shape == "disc" else 0.06) else 0.0,
    )


def many_beads(count: int, nominal_mm: float, kinds: int, rng: np.random.Generator) -> list[Bead]:
    """Draw a lot of so many kinds, each with its own size."""
    sizes = nominal_mm * np.exp(rng.uniform(-0.35, 0.35, kinds))
    drawn = [any_kind(float(size), rng, loose=True) for size in sizes]
    return [_one(drawn[k % kinds], rng, grown=1.0) for k in range(count)]


def any_beads(count: int, nominal_mm: float, rng: np.random.Generator, *, loose: bool) -> list[Bead]:
    """Draw a lot: of one kind, of one kind in several sizes, or of several kinds."""
    several = rng.random() < 0.35
    kinds = [any_kind(nominal_mm, rng, loose=loose) for _ in range(rng.integers(2, 6) if several else 1)]
    graded = rng.random() < 0.3
    beads = []
    for _k in range(count):
        kind = kinds[rng.integers(len(kinds))]
        beads.append(_one(kind, rng, grown=float(rng.choice([0.6, 0.8, 1.0, 1.3])) if graded else 1.0))
    return beads


def _one(kind: Kind, rng: np.random.Generator, *, grown: float) -> Bead:
    """Return one bead of a kind, `grown` times its size."""
    solid, size = solid_of(replace(kind, size=kind.size * grown), rng)
    tone = np.array(kind.colours[rng.integers(len(kind.colours))]) * rng.uniform(0.93, 1.05)
    return Bead(
        solid=solid,
        size=size,
        look=kind.look,
        colour=tuple(float(v) for v in np.clip(tone, 0, 0.98)),
        seed=int(rng.integers(2**31)),
        shape=kind.shape,
        veins=kind.veins,
        relief=kind.relief,
    )


def any_stopper(rod: float, rng: np.random.Generator) -> Bead:
    """Return a stopper, which holds beads on a rod: a tube or a rounded plug of any material."""
    thick = float(min(rod * np.exp(rng.uniform(np.log(1.6), np.log(7.0))), 9.0))
    reach = float(rng.uniform(2.0, 9.0))
    solid = (
        tube(thick, reach)
        if rng.random() < 0.4
        else Revolved(radius=thick / 2, half_axis=reach / 2, length=reach, power=float(rng.uniform(3, 16)))
    )
    look = str(rng.choice(("opaque", "opaque", "gloss", "metal", "frosted", "clear")))
    dark = rng.random() < 0.4
    colour = (0.03, 0.03, 0.035) if dark and look in ("opaque", "gloss") else any_colour(look, rng)
    return Bead(solid=solid, size=thick, look=look, colour=colour, seed=int(rng.integers(2**31)))


def clutter(area: tuple[float, float, float, float], bed_z: float, rng: np.random.Generator) -> list[Body]:
    """Return wires and rods that lie beside the beads."""
    bodies = []
    for _ in range(int(rng.integers(1, 4))):
        thick, length = float(np.exp(rng.uniform(np.log(0.25), np.log(3.5)))), float(rng.uniform(15, 90))
        heading = rng.uniform(0, np.pi)
        piece = Bead(
            solid=tube(thick, length),
            size=thick,
            look=str(rng.choice(("metal", "metal", "opaque", "gloss"))),
            colour=any_colour("metal", rng),
            seed=int(rng.integers(2**31)),
        )
        turn = standing(np.array([np.cos(heading), np.sin(heading), 0.0]), 0.0)
        at = rng.uniform(area[:2], area[2:])
        bodies.append(piece.body(turn, world(at, bed_z + thick / 2)))
    return bodies
