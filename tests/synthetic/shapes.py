"""The usual shapes of beads as convex solids, sizes in mm."""

import numpy as np

from tests.synthetic.solids import Polyhedron, Revolved, Solid

SHAPES = ("round", "oval", "rondelle", "bicone", "cube", "tube", "faceted", "faceted-rondelle")


def revolved(across: float, along: float, *, hole: float, power: float = 2.0) -> Revolved:
    """Return a bead turned from an ellipse of across x along, cut flat where its drill hole opens."""
    kept = (1.0 - (hole / across) ** power) ** (1 / power)
    return Revolved(radius=across / 2, half_axis=along / 2, length=along * kept, power=power, hole=hole)


def tube(across: float, along: float, *, hole: float = 0.0) -> Revolved:
    """Return a straight cylinder; also rods, wires and stoppers."""
    return Revolved(radius=across / 2, half_axis=np.inf, length=along, hole=hole)


def cube(edge: float, *, hole: float, chamfer: float = 0.049) -> Polyhedron:
    """Return a cube with its twelve edges bevelled by `chamfer` of the diagonal."""
    faces = np.vstack([np.eye(3), -np.eye(3)])
    pairs = [(i, j) for i in range(6) for j in range(i + 1, 6) if abs(i - j) != 3]
    bevels = np.array([faces[i] + faces[j] for i, j in pairs]) / np.sqrt(2)
    reach = edge / np.sqrt(2) * (1 - chamfer)
    return Polyhedron(
        facets=np.vstack([faces, bevels]),
        offsets=np.r_[np.full(6, edge / 2), np.full(12, reach)],
        hole=hole,
    )


def bicone(across: float, along: float, *, hole: float, sides: int = 8) -> Polyhedron:
    """Return two pyramids base to base, `across` between opposite flats, cut flat just outside the hole."""
    tip = hole / 2 * 1.2
    rise, run = along / 2, across / 2 - tip
    angle = np.arange(sides) * 2 * np.pi / sides
    flank = np.stack([np.full(sides, run), rise * np.cos(angle), rise * np.sin(angle)], axis=1)
    facets = np.vstack([flank, flank * (-1, 1, 1), [[1, 0, 0], [-1, 0, 0]]])
    offsets = np.r_[np.full(2 * sides, rise * across / 2), [rise, rise]]
    return Polyhedron(facets=facets, offsets=offsets, hole=hole)


def faceted(across: float, along: float, *, hole: float, rings: tuple[tuple[float, int], ...]) -> Polyhedron:
    """Return a solid of planes that touch an ellipsoid at rings of (latitude in degrees, number).

    The ellipsoid measures across x along / 0.93.
    """
    normals = []
    for k, (latitude, number) in enumerate(rings):
        angle = (np.arange(number) + 0.5 * (k % 2)) * 2 * np.pi / number
        rise = np.radians(latitude)
        ring = np.stack([np.full(number, np.sin(rise)), *(np.cos(rise) * f(angle) for f in (np.cos, np.sin))])
        normals.append(ring.T)
    ball = np.vstack(normals) / (along / 0.93 / across, 1.0, 1.0)
    facets = np.vstack([ball, [[1, 0, 0], [-1, 0, 0]]])
    return Polyhedron(
        facets=facets, offsets=np.r_[np.full(len(ball), across / 2), [along / 2] * 2], hole=hole
    )


BALL_RINGS = (
    ((-52.0, 7), (-18.0, 9), (18.0, 9), (52.0, 7)),
    ((-45.0, 8), (0.0, 9), (45.0, 8)),
    ((-60.0, 6), (-30.0, 10), (0.0, 12), (30.0, 10), (60.0, 6)),
)
RONDELLE_RINGS = (((-48.0, 10), (-14.0, 10), (14.0, 10), (48.0, 10)), ((-50.0, 8), (0.0, 12), (50.0, 8)))


def recipe(shape: str, rng: np.random.Generator) -> dict[str, float | int | tuple[tuple[float, int], ...]]:
    """Draw the proportions that the beads of one lot share."""
    low, high = {
        "oval": (1.22, 1.42),
        "rondelle": (0.55, 0.74),
        "bicone": (0.8, 0.95),
        "tube": (1.4, 2.2),
        "faceted-rondelle": (0.52, 0.7),
    }.get(shape, (1.0, 1.0))
    return {
        "aspect": float(rng.uniform(low, high)),
        "power": float(rng.uniform(2.1, 2.7)),
        "sides": int(rng.choice([6, 8, 48])),
        "ball": BALL_RINGS[rng.integers(len(BALL_RINGS))],
        "rondelle": RONDELLE_RINGS[rng.integers(len(RONDELLE_RINGS))],
    }


def make(shape: str, size: float, *, hole: float, proportions: dict) -> Solid:
    """Return one bead of a shape; `size` is its diameter, edge or width across flats."""
    along = size * proportions["aspect"]
    builders = {
        "round": lambda: revolved(size, size, hole=hole),
        "oval": lambda: revolved(size, along, hole=hole),
        "rondelle": lambda: revolved(size, along, hole=hole, power=proportions["power"]),
        "bicone": lambda: bicone(size, along, hole=hole, sides=proportions["sides"]),
        "cube": lambda: cube(size, hole=hole),
        "tube": lambda: revolved(size, along, hole=hole, power=30.0),  # its rims slightly rounded
        "faceted": lambda: faceted(size, 0.93 * size, hole=hole, rings=proportions["ball"]),
        "faceted-rondelle": lambda: faceted(size, along, hole=hole, rings=proportions["rondelle"]),
    }
    return builders[shape]()
