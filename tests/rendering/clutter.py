"""Tools and odds and ends that lie about on a maker's table, each resting on z = 0."""

import numpy as np

from tests.rendering.meshes import Mesh, bored, box, capsule, lump, revolved, ring, superquadric, swept
from tests.rendering.surfaces import Surface, any_colour, any_surface, metal
from tests.rendering.things import Part
from vision.topview.kinds import Kind

_SKIN = ((0.72, 0.45, 0.34), (0.55, 0.32, 0.22), (0.3, 0.16, 0.1), (0.8, 0.55, 0.45))
_UP = np.eye(3)
_STANDING = np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0.0]])


def _other(mesh: Mesh, surface: Surface, kind: Kind = Kind.OTHER) -> Part:
    low = float(mesh.points[:, 2].min())
    return Part(mesh=mesh.moved(_UP, (0, 0, -low)), surface=surface, kind=kind)


def coin(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a coin with a rim."""
    radius, thick = float(rng.uniform(8, 14)), float(rng.uniform(1.2, 2.4))
    r = np.array([0.02, 0.6, 0.62, 0.86, 0.88, 1.0, 1.0]) * radius
    x = np.array([0.42, 0.42, 0.36, 0.36, 0.5, 0.5, -0.5]) * thick
    return (_other(revolved(x, r, sides=72).moved(_STANDING, (0, 0, 0)), metal(rng, rough=0.25)),)


def coil(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a coil of wire."""
    radius, thick = float(rng.uniform(10, 26)), float(rng.uniform(0.3, 0.9))
    turns = int(rng.integers(2, 8))
    at = np.linspace(0, 1, 60 * turns)
    turn = 2 * np.pi * turns * at
    reach = radius + np.cumsum(rng.normal(0, 0.05, len(at))) + 0.8 * np.sin(turn * 0.37)
    path = np.stack([reach * np.cos(turn), reach * np.sin(turn), thick * (0.6 + turns * at)], axis=1)
    return (_other(swept(path, thick / 2, sides=8), metal(rng)),)


def thread(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a piece of thread or wire that lies about."""
    steps = np.cumsum(rng.normal(0, 0.12, 60))
    path = np.cumsum(np.stack([np.cos(steps), np.sin(steps), np.zeros(60)], axis=1), axis=0) * rng.uniform(
        0.4, 1.2
    )
    surface = metal(rng) if rng.random() < 0.5 else any_surface(rng, "opaque")
    return (
        _other(swept(path - path.mean(axis=0), float(rng.uniform(0.1, 0.4)), sides=6), surface, Kind.STRING),
    )


def pencil(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a pencil or a pen."""
    length, wide = float(rng.uniform(60, 150)), float(rng.uniform(6.5, 9))
    sides = 6 if rng.random() < 0.7 else 24
    shaft = revolved(np.array([-length / 2, length / 2 - 18]), np.array([wide / 2] * 2), sides=sides)
    tip = revolved(np.array([length / 2 - 18, length / 2 - 4]), np.array([wide / 2, 1.0]), sides=24)
    lead = revolved(np.array([length / 2 - 4, length / 2]), np.array([1.0, 0.2]), sides=12)
    low = wide / 2
    wood = Surface(look="opaque", colour=(0.75, 0.55, 0.35), rough=0.6)
    dark = Surface(look="opaque", colour=(0.03, 0.03, 0.03), rough=0.4)
    return tuple(
        Part(mesh=m.moved(_UP, (0, 0, low)), surface=s, kind=Kind.OTHER)
        for m, s in ((shaft, any_surface(rng, "gloss")), (tip, wood), (lead, dark))
    )


def scissors(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw scissors or pliers: two rings, two blades."""
    grip = any_surface(rng, "gloss")
    rings = [ring(12, 5.5).scaled((1.3, 1, 1)).moved(_UP, (-30, s * 14, 2.8)) for s in (-1, 1)]
    arms = [capsule(2.6, 34).moved(_turn(-s * 0.35), (-6, s * 6, 2.8)) for s in (-1, 1)]
    blades = [box(60, 7, 1.5).moved(_turn(s * 0.12), (38, -s * 1.5, 2.5 + s * 0.8)) for s in (-1, 1)]
    steel = metal(rng, rough=0.2)
    parts = [(m, grip) for m in rings + arms] + [(m, steel) for m in blades]
    return tuple(Part(mesh=m, surface=s, kind=Kind.OTHER) for m, s in parts)


def spool(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a standing or lying spool of thread."""
    radius, tall = float(rng.uniform(7, 15)), float(rng.uniform(12, 30))
    x = np.array([-0.5, -0.5, -0.42, -0.42, 0.42, 0.42, 0.5, 0.5, 0.5]) * tall
    r = np.array([0.05, 1, 1, 0.75, 0.75, 1, 1, 0.3, 0.05]) * radius
    turn = _STANDING if rng.random() < 0.6 else _UP
    return (_other(revolved(x, r, sides=48).moved(turn, (0, 0, 0)), any_surface(rng, "gloss")),)


def eraser(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a block of two colours: an eraser, a box."""
    x, y, z = rng.uniform(12, 40), rng.uniform(10, 22), rng.uniform(5, 13)
    share = rng.uniform(0.4, 0.8)
    first = box(x * share, y, z).moved(_UP, (x * share / 2, 0, z / 2))
    second = box(x * (1 - share), y * 0.96, z * 0.96).moved(_UP, (x * (1 + share) / 2, 0, z / 2))
    pairs = ((first, any_surface(rng, "opaque")), (second, any_surface(rng, "opaque")))
    return tuple(Part(mesh=m, surface=s, kind=Kind.OTHER) for m, s in pairs)


def finger(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a finger with its nail."""
    red, green, blue = np.array(_SKIN[rng.integers(len(_SKIN))]) * rng.uniform(0.8, 1.15)
    radius = float(rng.uniform(6.5, 10))
    skin = Surface(look="opaque", colour=(red, green, blue), rough=0.45)
    nail = Surface(look="gloss", colour=(min(red * 1.2, 0.95), green * 1.1, blue * 1.1), rough=0.2)
    body = capsule(radius, 90).moved(_UP, (0, 0, radius))
    plate = superquadric((radius * 0.75, radius * 0.6, 0.8), 3.0, count=16).moved(
        _UP, (45 - radius, 0, 1.85 * radius)
    )
    return Part(mesh=body, surface=skin, kind=Kind.OTHER), Part(mesh=plate, surface=nail, kind=Kind.OTHER)


def findings(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a few jump rings or crimps that lie together or scattered."""
    shiny, parts = metal(rng), []
    is_ring = rng.random() < 0.6
    size = float(rng.uniform(2.5, 6)) if is_ring else float(rng.uniform(1.2, 2.2))
    spread = float(rng.choice([1.2, 1.2, 8.0])) * size
    for _ in range(int(rng.integers(2, 8))):
        x, y = rng.normal(0, spread, 2)
        tube = bored(np.linspace(-1, 1, 5) * size / 2, np.full(5, size / 2), hole=size * 0.3)
        mesh = ring(size / 2, size * 0.14, gap=0.02) if is_ring else tube
        low = float(mesh.points[:, 2].min())
        moved = mesh.moved(_turn(rng.uniform(0, 6)), (x, y, -low))
        parts.append(Part(mesh=moved, surface=shiny, kind=Kind.FINDING))
    return tuple(parts)


def scrap(rng: np.random.Generator) -> tuple[Part, ...]:
    """Draw a scrap of paper or felt, a label, a crumb."""
    if rng.random() < 0.5:
        sheet = box(rng.uniform(4, 30), rng.uniform(4, 20), 0.3)
        return (_other(sheet, Surface(look="opaque", colour=any_colour(rng), rough=0.8)),)
    half = rng.uniform(0.3, 1.4, 3)
    return (_other(lump(half, rough=0.25, facets=True, rng=rng), any_surface(rng, "opaque")),)


def _turn(angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])


SMALL = (coin, coil, thread, findings, findings, scrap, eraser, spool)
LARGE = (pencil, scissors, finger, coil, spool, eraser)
