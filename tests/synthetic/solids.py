"""Convex solids of exactly known size, for drawing test photographs: ray intersection, normals, extents.

In its own frame a solid's centre is the origin and its drill hole runs along x.
"""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from scipy.spatial import ConvexHull, HalfspaceIntersection

from tests.synthetic.camera import Array

EDGE_TOLERANCE_MM = 1e-6
NEWTON_STEPS = 16


@dataclass(frozen=True, kw_only=True)
class Revolved:
    """A superellipsoid of revolution about x, cut off flat at both ends.

    (|x| / half_axis)^power + (rho / radius)^power <= 1 and |x| <= length / 2. Power 2 is a sphere or
    ellipsoid; an infinite half axis is a cylinder.
    """

    radius: float
    half_axis: float
    length: float
    power: float = 2.0
    hole: float = 0.0

    def interval(self, origins: Array, rays: Array) -> tuple[Array, Array]:
        """Return where rays enter and leave the solid, in lengths of `rays`; entry > exit where they miss."""
        scale = np.array([1.0 / self.half_axis, 1.0 / self.radius, 1.0 / self.radius])
        o, d = origins * scale, rays * scale
        near, far = _sphere_interval(o, d) if self.power == 2 else _norm_interval(o, d, self.power)
        with np.errstate(divide="ignore", invalid="ignore"):
            ends = (np.array([[-0.5], [0.5]]) * self.length - origins[:, 0]) / rays[:, 0]
        return np.fmax(near, ends.min(axis=0)), np.fmin(far, ends.max(axis=0))

    def normals(self, points: Array) -> Array:
        """Outward unit normals at surface points, shape (N, 3)."""
        scale = np.array([1.0 / self.half_axis, 1.0 / self.radius, 1.0 / self.radius])
        bulge = points * scale
        rho = np.maximum(np.hypot(bulge[:, 1], bulge[:, 2]), 1e-9)
        normals = bulge * scale
        normals[:, 0] *= np.abs(bulge[:, 0]) ** (self.power - 2) if self.power != 2 else 1.0
        normals[:, 1:] *= (rho ** (self.power - 2))[:, None] if self.power != 2 else 1.0
        flat = np.abs(points[:, 0]) > self.length / 2 - EDGE_TOLERANCE_MM
        normals[flat] = np.sign(points[flat]) * (1.0, 0.0, 0.0)
        return normals / np.linalg.norm(normals, axis=1, keepdims=True)

    @cached_property
    def profile(self) -> Array:
        """Points (x, rho) of the outline, shape (M, 2)."""
        x = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 721)) * self.length / 2
        rho = self.radius * (1.0 - np.abs(x / self.half_axis) ** self.power) ** (1 / self.power)
        return np.stack([x, rho], axis=1)

    def support(self, directions: Array) -> Array:
        """How far the solid reaches in each unit direction, shape (N,)."""
        sideways = np.sqrt(np.maximum(1.0 - directions[:, 0] ** 2, 0.0))
        plane = np.stack([directions[:, 0], sideways], axis=1)
        return (plane @ self.profile.T).max(axis=1)

    @cached_property
    def cloud(self) -> Array:
        """Surface points whose hull is nearly the solid, shape (N, 3); for shadows and boxes only."""
        angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
        x, rho = self.profile[::24, :, None].transpose(1, 0, 2)
        ring = rho * np.cos(angle), rho * np.sin(angle)
        return np.stack([np.broadcast_to(x, ring[0].shape), *ring], axis=-1).reshape(-1, 3)


@dataclass(frozen=True, kw_only=True)
class Polyhedron:
    """A convex solid bounded by planes: normals @ p <= offsets."""

    facets: Array
    offsets: Array
    hole: float = 0.0
    cloud: Array = field(init=False)

    def __post_init__(self) -> None:
        unit = self.facets / np.linalg.norm(self.facets, axis=1, keepdims=True)
        object.__setattr__(self, "offsets", self.offsets / np.linalg.norm(self.facets, axis=1))
        object.__setattr__(self, "facets", unit)
        corners = HalfspaceIntersection(np.c_[unit, -self.offsets], np.zeros(3)).intersections
        object.__setattr__(self, "cloud", corners[ConvexHull(corners).vertices])

    @property
    def length(self) -> float:
        """Extent along the drill hole."""
        return float(np.ptp(self.cloud[:, 0]))

    def interval(self, origins: Array, rays: Array) -> tuple[Array, Array]:
        """Return where rays enter and leave the solid, in lengths of `rays`; entry > exit where they miss."""
        room = self.offsets - origins @ self.facets.T
        rate = rays @ self.facets.T
        with np.errstate(divide="ignore", invalid="ignore"):
            at = room / rate
        near = np.where(rate < 0, at, -np.inf).max(axis=1)
        far = np.where(rate > 0, at, np.inf).min(axis=1)
        return near, np.where(((rate == 0) & (room < 0)).any(axis=1), -np.inf, far)

    def normals(self, points: Array) -> Array:
        """Outward unit normals at surface points, shape (N, 3)."""
        return self.facets[(points @ self.facets.T - self.offsets).argmax(axis=1)]

    def support(self, directions: Array) -> Array:
        """How far the solid reaches in each unit direction, shape (N,)."""
        return (directions @ self.cloud.T).max(axis=1)


Solid = Revolved | Polyhedron


def _sphere_interval(o: Array, d: Array) -> tuple[Array, Array]:
    """Intersect rays with the unit sphere, or with the unit cylinder where x was scaled to zero."""
    a = np.einsum("ij,ij->i", d, d)
    nearest = -np.einsum("ij,ij->i", o, d) / np.maximum(a, 1e-300)
    at = o + nearest[:, None] * d
    room = (1.0 - np.einsum("ij,ij->i", at, at)) / np.maximum(a, 1e-300)
    half = np.sqrt(np.maximum(room, 0.0))
    return np.where(room > 0, nearest - half, np.inf), np.where(room > 0, nearest + half, -np.inf)


def _norm(points: Array, rays: Array, power: float) -> tuple[Array, Array]:
    """Return the power norm of (x, rho) and its rate of change along the ray."""
    rho = np.maximum(np.hypot(points[:, 1], points[:, 2]), 1e-12)
    x = np.abs(points[:, 0])
    larger = np.maximum(x, rho)  # factored out: far from the solid the powers would overflow
    value = larger * ((x / larger) ** power + (rho / larger) ** power) ** (1 / power)
    rho_rate = (points[:, 1] * rays[:, 1] + points[:, 2] * rays[:, 2]) / rho
    x_rate = np.sign(points[:, 0]) * rays[:, 0]
    return value, (x / value) ** (power - 1) * x_rate + (rho / value) ** (power - 1) * rho_rate


def _norm_interval(o: Array, d: Array, power: float) -> tuple[Array, Array]:
    """Intersect rays with the unit ball of the power norm.

    Newton's method from both sides; it converges without oscillation, as a norm is convex.
    """
    near, far = _sphere_interval(o / 2 ** max(0.5 - 1 / power, 0.0), d / 2 ** max(0.5 - 1 / power, 0.0))
    met = far > near
    ends = []
    for start, sense in ((near, 1.0), (far, -1.0)):
        t = np.where(met, start, 0.0)
        crossed = ~met
        for _ in range(NEWTON_STEPS):
            value, rate = _norm(o + t[:, None] * d, d, power)
            crossed |= (rate * sense >= 0) & (value > 1)
            t -= np.where(crossed, 0.0, (value - 1) / np.where(rate * sense < 0, rate, -sense))
        ends.append(np.where(crossed, sense * np.inf, t))
    return ends[0], ends[1]


def span(solid: Solid, direction: Array) -> float:
    """Caliper size of a solid along a direction of its own frame."""
    unit = np.asarray(direction, dtype=float) / np.linalg.norm(direction)
    return float(solid.support(np.array([unit, -unit])).sum())


def ferets(solid: Solid, turn: Array) -> tuple[float, float]:
    """Largest and smallest caliper size in plan of a solid turned by `turn` (world = turn @ own)."""
    angles = np.linspace(0, np.pi, 1440, endpoint=False)
    if isinstance(solid, Polyhedron):
        plan = (solid.cloud @ turn.T)[:, :2]
        edges = np.diff(plan[np.r_[hull := ConvexHull(plan).vertices, hull[:1]]], axis=0)
        # a polygon is narrowest at right angles to one of its edges, widest between two of its corners
        angles = np.arctan2(edges[:, 0], -edges[:, 1])
        widest = np.linalg.norm(plan[:, None] - plan[None], axis=2).max()
    level = np.stack([np.cos(angles), np.sin(angles), np.zeros_like(angles)], axis=1) @ turn
    widths = solid.support(level) + solid.support(-level)
    return float(widest if isinstance(solid, Polyhedron) else widths.max()), float(widths.min())
