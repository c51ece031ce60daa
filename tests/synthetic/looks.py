"""The light that beads of paint, pearl, metal, coating and glass send to the camera. Linear RGB."""

from dataclasses import dataclass

import numpy as np

from tests.synthetic.camera import Array
from tests.synthetic.ground import Ground
from tests.synthetic.shapes import tube
from tests.synthetic.solids import Solid

LOOKS = ("gloss", "opaque", "pearl", "metal", "coated", "tinted", "clear", "frosted")
GLASSY = ("coated", "tinted", "clear", "frosted")
GLASS_INDEX = 1.5
GOLD, SILVER = (0.93, 0.72, 0.32), (0.88, 0.88, 0.9)


@dataclass(frozen=True, kw_only=True)
class Body:
    """A solid in its place: world = turn @ own + centre."""

    solid: Solid
    turn: Array
    centre: Array
    look: str
    colour: tuple[float, float, float]
    core: float = 0.0  # diameter of the rod or wire through it
    strung: bool = False
    seed: int = 0
    veins: float = 0.0  # contrast of the pattern in its colour
    relief: float = 0.0  # slope of an embossed surface

    def cloud(self) -> Array:
        """Surface points in the world, shape (N, 3)."""
        return self.solid.cloud @ self.turn.T + self.centre


@dataclass(kw_only=True)
class Hits:
    """Where rays meet a body: own-frame origins and rays, entry and exit lengths, world normals."""

    body: Body
    origins: Array
    rays: Array
    near: Array
    far: Array

    @property
    def points(self) -> Array:
        """Entry points in the body's own frame."""
        return self.origins + self.near[:, None] * self.rays

    def world(self, points: Array) -> Array:
        """Own-frame points in the world."""
        return points @ self.body.turn.T + self.body.centre


def mirrored(rays: Array, normals: Array) -> Array:
    """Directions after reflection."""
    return rays - 2 * np.einsum("ij,ij->i", rays, normals)[:, None] * normals


def fresnel(rays: Array, normals: Array) -> Array:
    """Reflected share of glass and lacquer (Schlick's formula), shape (N, 1)."""
    facing = np.clip(-np.einsum("ij,ij->i", rays, normals), 0, 1)[:, None]
    return 0.04 + 0.96 * (1 - facing) ** 5


def around(ground: Ground, points: Array, rays: Array, soft: float = 0.02) -> Array:
    """Radiance that arrives at world points along (reversed) unit directions: floor below, room above."""
    level = np.array([0.0, 0.0, ground.bed_z])
    light = ground.room.sky(rays, soft)
    down = rays[:, 2] < -0.02
    if down.any():
        above = np.maximum(points[down] - level, (-np.inf, -np.inf, 1e-3)) + level
        near = np.clip(-rays[down, 2:] / 0.3, 0.0, 1.0)  # the distant floor fades into the walls
        light[down] = near * ground.radiance(above, rays[down]) + (1 - near) * light[down]
    return light


def crowded(hits: Hits, rays: Array) -> Array:
    """Share of light that neighbours on the string do not block, shape (N, 1)."""
    if not hits.body.strung:
        return np.ones((len(rays), 1))
    length = hits.body.solid.length
    ahead = np.abs(rays @ hits.body.turn[:, 0]) * (np.abs(hits.points[:, 0]) / (length / 2)) ** 2
    return (1 - 0.75 * np.clip(ahead, 0, 1) ** 2)[:, None]


def shade(hits: Hits, ground: Ground) -> Array:
    """Radiance, shape (N, 3), of a body where rays meet it."""
    body = hits.body
    own = body.solid.normals(hits.points)
    rng = np.random.default_rng(body.seed)
    if body.look == "frosted":
        own = own + rng.normal(0, 0.09, own.shape)
        own /= np.linalg.norm(own, axis=1, keepdims=True)
    if body.relief:
        own = own + body.relief * np.stack([_waves(hits, channel=k) for k in range(3)], axis=1)
        own /= np.linalg.norm(own, axis=1, keepdims=True)
    normals = own @ body.turn.T
    if body.look in GLASSY:
        colour = _glass(hits, own, ground)
        colour = _coat(hits, normals, ground, under=colour) if body.look == "coated" else colour
    else:
        painter = {"metal": _metal, "pearl": _pearl, "gloss": _gloss}.get(body.look, _opaque)
        colour = painter(hits, normals, ground)
    if body.solid.hole:
        at = hits.points
        mouth = (np.hypot(at[:, 1], at[:, 2]) < body.solid.hole / 2) & (
            np.abs(at[:, 0]) > body.solid.length / 2 - 1e-4
        )
        colour[mouth] *= 0.25
    if body.look == "frosted":
        lit = ground.room.on(normals, ground.bounce) * np.array(body.colour) * crowded(hits, normals)
        colour = 0.55 * colour + 0.36 * lit
    return np.maximum(colour, 0.0)


def _waves(hits: Hits, *, channel: int) -> Array:
    """Return a few waves through the solid, shape (N,), about -1 to 1: veins of stone, relief of a coin."""
    rng = np.random.default_rng([hits.body.seed, channel])
    size = float(np.ptp(hits.body.solid.cloud, axis=0).max())
    at, ways = hits.points / size, rng.normal(0, 1, (4, 3)) * rng.uniform(4, 30)
    bend = 2.0 * np.sin(at @ rng.normal(0, 6, 3))[:, None]
    return np.sin(at @ ways.T + bend + rng.uniform(0, 2 * np.pi, 4)).sum(axis=1) / 2.5


def _tone(hits: Hits) -> Array:
    """Return the colour of the body where it is hit, shape (3,) or (N, 3)."""
    colour = np.array(hits.body.colour)
    if not hits.body.veins:
        return colour
    other = np.random.default_rng([hits.body.seed, 9]).uniform(0.02, 0.9, 3)
    share = np.clip(0.5 + 1.5 * _waves(hits, channel=7), 0, 1)[:, None] * hits.body.veins
    return (1 - share) * colour + share * other


def _lit(hits: Hits, normals: Array, ground: Ground) -> Array:
    return ground.room.on(normals, ground.bounce) * _tone(hits) * crowded(hits, normals)


def _opaque(hits: Hits, normals: Array, ground: Ground) -> Array:
    rays = hits.rays @ hits.body.turn.T
    sheen = ground.room.sky(mirrored(rays, normals), 0.5)
    return _lit(hits, normals, ground) + 0.4 * fresnel(rays, normals) * sheen * crowded(hits, normals)


def _gloss(hits: Hits, normals: Array, ground: Ground) -> Array:
    rays = hits.rays @ hits.body.turn.T
    bounced = mirrored(rays, normals)
    share = fresnel(rays, normals)
    seen = around(ground, hits.world(hits.points), bounced) * crowded(hits, bounced)
    return (1 - share) * _lit(hits, normals, ground) + share * seen


def _pearl(hits: Hits, normals: Array, ground: Ground) -> Array:
    rays = hits.rays @ hits.body.turn.T
    bounced = mirrored(rays, normals)
    glow = sum(
        0.9 * w.lights(w.towards[None]) * np.exp(22 * (np.clip(bounced @ w.towards, -1, 1) - 1))
        for w in ground.room.windows
    )
    facing = np.clip(-np.einsum("ij,ij->i", rays, normals), 0, 1)[:, None]
    blush = np.array([0.03, -0.01, 0.02]) * (1 - facing)
    return _lit(hits, normals, ground) * (0.9 + blush) + glow[:, None] * ground.room.tint * 0.8


def _metal(hits: Hits, normals: Array, ground: Ground) -> Array:
    rays = hits.rays @ hits.body.turn.T
    bounced = mirrored(rays, normals)
    tone = np.array(hits.body.colour)
    seen = around(ground, hits.world(hits.points), bounced, 0.08)
    left = crowded(hits, bounced)
    neighbour = 0.55 * tone * ground.room.tint
    facing = np.clip(-np.einsum("ij,ij->i", rays, normals), 0, 1)[:, None]
    tone = tone + (1 - tone) * (1 - facing) ** 5
    return tone * (left * np.minimum(seen, 2.5) + (1 - left) * neighbour)


def _coat(hits: Hits, normals: Array, ground: Ground, *, under: Array) -> Array:
    """Thin film: its colour runs through the spectrum with slope and thickness."""
    body = hits.body
    rays = hits.rays @ body.turn.T
    rng = np.random.default_rng(body.seed)
    facing = np.clip(-np.einsum("ij,ij->i", rays, normals), 0, 1)
    lean = normals @ rng.normal(0, 0.5, 3)
    phase = 2 * np.pi * (rng.uniform(0, 1) + 1.2 * facing + lean)[:, None]
    film = 0.55 + 0.45 * np.cos(phase - 2 * np.pi * np.array([0.0, 1 / 3, 2 / 3]))
    bounced = mirrored(rays, normals)
    seen = around(ground, hits.world(hits.points), bounced) * crowded(hits, bounced)
    share = 0.32 + 0.6 * (1 - facing[:, None]) ** 4
    body_colour = 0.25 * _lit(hits, normals, ground)
    return film * share * np.minimum(seen + 0.35, 2.5) + (1 - share) * (0.45 * under + body_colour)


def _refracted(rays: Array, normals: Array, ratio: float) -> tuple[Array, Array]:
    """Directions behind a surface whose normals face the rays, and where reflection is total."""
    facing = -np.einsum("ij,ij->i", rays, normals)
    root = 1 - ratio**2 * (1 - facing**2)
    along = ratio * rays + (ratio * facing - np.sqrt(np.maximum(root, 0)))[:, None] * normals
    return np.where(root[:, None] > 0, along, mirrored(rays, normals)), root <= 0


def _glass(hits: Hits, own: Array, ground: Ground) -> Array:
    """Two refractions, one inner reflection at most, absorption, the rod inside, reflection outside."""
    body, at = hits.body, hits.points
    thickness = body.solid.support(np.array([[0.0, 1.0, 0.0]]))[0] * 2
    share = fresnel(hits.rays, own)
    inside, _ = _refracted(hits.rays, own, 1 / GLASS_INDEX)
    travelled = np.zeros(len(at))
    colour = np.zeros_like(at)
    open_ = np.ones(len(at), bool)
    start = at + 1e-4 * inside
    soft = 0.5 if body.look == "frosted" else 0.02
    for last in (False, True):
        _, far = body.solid.interval(start, inside)
        far = np.maximum(far, 0.0)
        cored = _core_hit(body, start, inside, far) & open_
        if cored.any():
            colour[cored], reached = _core_colour(body, start[cored], inside[cored], ground)
            travelled[cored] += 2 * reached
        open_ &= ~cored
        travelled += np.where(open_, far, 0)
        end = start + far[:, None] * inside
        back = -body.solid.normals(end)
        out, total = _refracted(inside, back, GLASS_INDEX)
        leaves = open_ & (~total | last)
        away = np.where(total[:, None], inside, out)
        seen = around(ground, hits.world(end), away @ body.turn.T, soft) * (0.96 if not last else 0.8)
        colour[leaves] = (seen * crowded(hits, away @ body.turn.T))[leaves]
        open_ &= ~leaves
        start, inside = end + 1e-4 * back, mirrored(inside, back)
    clearness = np.array(body.colour) ** (1.6 * travelled / thickness)[:, None]
    bounced = mirrored(hits.rays, own) @ body.turn.T
    outer = around(ground, hits.world(at), bounced, soft) * crowded(hits, bounced)
    return (1 - share) * colour * clearness + share * outer


def _core_hit(body: Body, start: Array, rays: Array, far: Array) -> Array:
    """Whether each inner ray meets the rod or wire before it leaves."""
    if not body.core:
        return np.zeros(len(start), bool)
    near, out = tube(body.core, body.solid.length).interval(start, rays)
    return (near < out) & (near > 0) & (near < far)


def _core_colour(body: Body, start: Array, rays: Array, ground: Ground) -> tuple[Array, Array]:
    """Return the colour of steel where inner rays meet it, and how far they travel to it."""
    near, _ = tube(body.core, body.solid.length).interval(start, rays)
    normals = (start + near[:, None] * rays) * (0, 1, 1) / (body.core / 2)
    bounced = mirrored(rays, normals) @ body.turn.T
    tone = 0.25 if body.look == "frosted" else 0.55
    return tone * np.minimum(ground.room.sky(bounced, 0.3), 1.5) * (1 - 0.4 * (bounced[:, 2:] < 0)), near
