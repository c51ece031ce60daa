"""How light sees what lies on a table: colours, patterns, polish, and what glass holds."""

from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.meshes import Array, Mesh

LOOKS = ("opaque", "gloss", "metal", "clear", "tinted", "frosted", "pearl", "coated")
GLASS = ("clear", "tinted")
_GOLD, _SILVER, _COPPER = (1.0, 0.76, 0.34), (0.93, 0.92, 0.9), (0.93, 0.6, 0.45)
Colour = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Surface:
    """How light sees a surface.

    Attributes
    ----------
    look : str
        One of `LOOKS`.
    colour : tuple of float
        Linear RGB.
    rough : float
        0 polished, 1 dull.
    second : tuple of float or None
        Colour of the pattern.
    pattern : str
        `plain`, `bands`, `veins`, `patches`, `halves` or `sheen`.
    core : Surface or None
        Of a swirl that glass holds.
    """

    look: str
    colour: Colour
    rough: float = 0.2
    second: Colour | None = None
    pattern: str = "plain"
    core: "Surface | None" = None

    def colours(self, mesh: Mesh, seed: int) -> Array:
        """Return the colour of every vertex of a mesh, (V, 3); patterns lie in the mesh as made."""
        base = np.tile(np.asarray(self.colour, float), (len(mesh.points), 1))
        if self.second is None or self.pattern == "plain":
            return base
        rng = np.random.default_rng(seed)
        if self.pattern == "sheen":
            way = mesh.normals @ rng.normal(0, 1, (3, 3)).T
            return np.clip(base * (0.6 + 0.4 * np.cos(3 * way + rng.uniform(0, 6, 3))), 0.01, 0.98)
        share = _share(self.pattern, mesh.at_rest, rng)[:, None]
        return base * (1 - share) + np.asarray(self.second) * share


def _share(pattern: str, points: Array, rng: np.random.Generator) -> Array:
    """Return how much of the second colour points (V, 3) of a body have, 0 to 1, shape (V,)."""
    low, high = points.min(axis=0), points.max(axis=0)
    points = (points - (low + high) / 2) / ((high - low).max() / 2)
    if pattern == "bands":
        return (0.5 + 0.5 * np.sin(points[:, 0] * rng.uniform(3, 14) + rng.uniform(0, 6))) ** 2
    if pattern == "halves":  # most of them across the hole
        way = np.array([1.0, 0, 0]) if rng.random() < 0.7 else rng.normal(0, 1, 3)
        return (points @ way > rng.normal(0, 0.15)).astype(float)
    waves = rng.normal(0, 3.0, (3, 6))
    share = np.abs(np.sin(points @ waves + rng.uniform(0, 6, 6)).sum(axis=1)) / 3
    return (
        (share > rng.uniform(0.2, 0.8)).astype(float) if pattern == "patches" else np.clip(share, 0, 1) ** 2
    )


def any_colour(rng: np.random.Generator) -> Colour:
    """Draw a colour of the trade: from black to white, dull to vivid."""
    level = float(np.exp(rng.uniform(np.log(0.015), np.log(0.9))))
    tint = np.exp(rng.normal(0, rng.choice([0.06, 0.5, 1.2]), 3))
    red, green, blue = np.clip(level * tint / tint.max(), 0.008, 0.95)
    return float(red), float(green), float(blue)


def metal(rng: np.random.Generator, *, rough: float | None = None) -> Surface:
    """Draw the surface of a finding: silver, gold, copper, dark."""
    base = np.array([_GOLD, _SILVER, _SILVER, _COPPER, (0.35, 0.34, 0.33)][rng.integers(5)])
    red, green, blue = np.clip(base * rng.uniform(0.85, 1.02, 3), 0.05, 0.98)
    dull = float(rng.choice([0.05, 0.15, 0.35])) if rough is None else rough
    return Surface(look="metal", colour=(red, green, blue), rough=dull)


def any_surface(rng: np.random.Generator, look: str | None = None) -> Surface:
    """Draw the surface of a bead."""
    chosen = look or str(rng.choice(LOOKS, p=[0.14, 0.18, 0.13, 0.13, 0.12, 0.07, 0.1, 0.13]))
    if chosen == "metal":
        return metal(rng)
    if chosen == "coated":
        rough = float(rng.uniform(0.05, 0.25))
        return Surface(
            look=chosen, colour=any_colour(rng), second=any_colour(rng), rough=rough, pattern="sheen"
        )
    plain = _plain(chosen, rng)
    if chosen in GLASS and rng.random() < 0.3:
        inside = str(rng.choice(["opaque", "gloss", "coated"]))
        return replace(plain, core=any_surface(rng, inside))
    pattern = str(
        rng.choice(["plain", "veins", "bands", "patches", "halves"], p=[0.6, 0.12, 0.1, 0.06, 0.12])
    )
    second = None if pattern == "plain" else _plain(chosen, rng).colour
    return replace(plain, pattern=pattern, second=second)


def _plain(look: str, rng: np.random.Generator) -> Surface:
    """Draw a surface of one colour."""
    colour, rough = any_colour(rng), float(rng.uniform(0.05, 0.25))
    if look == "clear":
        return Surface(look=look, colour=(0.97, 0.98, 0.97), rough=0.0)
    if look in ("tinted", "frosted"):
        red, green, blue = 0.25 + 0.73 * np.asarray(colour) / max(colour)
        return Surface(look=look, colour=(red, green, blue), rough=float(rng.uniform(0.15, 0.45)))
    if look == "pearl":
        red, green, blue = np.clip(0.75 * np.exp(rng.normal(0, 0.12, 3)), 0.2, 0.93)
        return Surface(look=look, colour=(red, green, blue), rough=0.25)
    return Surface(look=look, colour=colour, rough=0.5 if look == "opaque" else rough)
