"""Triangle meshes of simple bodies, in mm about their own origin; a string runs along x."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Mesh:
    """A triangle mesh.

    Attributes
    ----------
    points : ndarray, shape (V, 3)
    faces : ndarray, shape (F, 3), int
    smooth : bool
        Whether light sees it smooth; else every triangle is flat.
    made : ndarray, shape (V, 3), or None
        The points before they were moved, where they were.
    """

    points: Array
    faces: NDArray[np.int64]
    smooth: bool = True
    made: Array | None = None

    @property
    def at_rest(self) -> Array:
        """The points as they were made, about the body's own origin."""
        return self.points if self.made is None else self.made

    def moved(self, turn: Array, to: Sequence[float] | Array) -> "Mesh":
        """Return the mesh turned by a matrix (3, 3), then moved."""
        return replace(self, points=self.points @ np.asarray(turn).T + np.asarray(to), made=self.at_rest)

    def scaled(self, by: Sequence[float] | float) -> "Mesh":
        """Return the mesh stretched along its axes."""
        return replace(self, points=self.points * np.asarray(by))

    def twisted(self, angle: float) -> "Mesh":
        """Return the mesh turned about x, by an angle more for each unit along it, radians."""
        turn = angle * self.points[:, 0]
        y, z = self.points[:, 1], self.points[:, 2]
        turned = (self.points[:, 0], y * np.cos(turn) - z * np.sin(turn), y * np.sin(turn) + z * np.cos(turn))
        return replace(self, points=np.stack(turned, axis=1))

    @property
    def normals(self) -> Array:
        """Unit normals of the vertices, weighted by area, shape (V, 3)."""
        corners = self.points[self.faces]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        out = np.zeros_like(self.points)
        for k in range(3):
            np.add.at(out, self.faces[:, k], across)
        return out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-12)


def joined(*meshes: Mesh) -> Mesh:
    """Return several meshes as one."""
    offsets = np.cumsum([0, *(len(mesh.points) for mesh in meshes)])
    return Mesh(
        points=np.concatenate([mesh.points for mesh in meshes]),
        faces=np.concatenate([mesh.faces + at for mesh, at in zip(meshes, offsets, strict=False)]),
        smooth=meshes[0].smooth,
    )


def grid_mesh(points: Array, *, round_rows: bool = False, round_columns: bool = True) -> Mesh:
    """Return the mesh of a grid of points, shape (R, C, 3); a round side closes on itself.

    Faces look outwards where columns run anticlockwise about the way in which rows follow each other.
    """
    rows, columns = points.shape[:2]
    number = np.arange(rows * columns).reshape(rows, columns)
    number = np.concatenate([number, number[:1]]) if round_rows else number
    number = np.concatenate([number, number[:, :1]], axis=1) if round_columns else number
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    return Mesh(points=points.reshape(-1, 3), faces=faces)


def revolved(x: Array, radius: Array, *, sides: int = 48, ribs: int = 0, depth: float = 0.0) -> Mesh:
    """Return a profile (N,), (N,) turned about x; `ribs` grooves of a relative `depth` run along it."""
    angle = np.arange(sides) * 2 * np.pi / sides
    swell = 1 - depth * (0.5 + 0.5 * np.cos(ribs * angle)) ** 2 if ribs else np.ones(sides)
    reach = radius[:, None] * swell
    along = np.repeat(x[:, None], sides, axis=1)
    return grid_mesh(np.stack([along, reach * np.cos(angle), reach * np.sin(angle)], axis=-1))


def bored(
    x: Array, radius: Array, *, hole: float, sides: int = 48, smooth: bool = True, ribs: int = 0
) -> Mesh:
    """Return a turned body with a hole along x: its outside, and the wall of the hole."""
    radius = np.maximum(radius, hole)
    outside = revolved(np.r_[x[0], x, x[-1]], np.r_[hole, radius, hole], sides=sides, ribs=ribs, depth=0.12)
    wall = revolved(np.array([x[-1], x[0]]), np.array([hole, hole]), sides=sides)
    return replace(joined(outside, wall), smooth=smooth)


def swept(path: Array, radius: float | Array, *, sides: int = 10, closed: bool = False) -> Mesh:
    """Return a wire along a path, shape (N, 3)."""
    around = np.roll(path, -1, axis=0) - np.roll(path, 1, axis=0)
    tangent = around if closed else np.gradient(path, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    start = np.eye(3)[np.argmin(np.abs(tangent[0]))]
    aside = np.empty_like(path)
    for k, ahead in enumerate(tangent):  # a frame that does not twist
        start = start - (start @ ahead) * ahead
        start = start / np.linalg.norm(start)
        aside[k] = start
    other = np.cross(tangent, aside)
    angle = np.arange(sides) * 2 * np.pi / sides
    ring = np.cos(angle)[:, None] * aside[:, None] + np.sin(angle)[:, None] * other[:, None]
    reach = np.broadcast_to(np.asarray(radius, float).reshape(-1, 1, 1), (len(path), 1, 1))
    return grid_mesh(path[:, None] + reach * ring, round_rows=closed)


def ring(radius: float, thick: float, *, gap: float = 0.0, count: int = 48) -> Mesh:
    """Return a ring about z, of wire of a thickness; `gap` is the open part of its turn."""
    turn = np.linspace(gap / 2, 1 - gap / 2, count, endpoint=gap > 0) * 2 * np.pi
    path = radius * np.stack([np.cos(turn), np.sin(turn), np.zeros(count)], axis=1)
    return swept(path, thick / 2, closed=gap == 0)


def helix(radius: float, thick: float, length: float, turns: float) -> Mesh:
    """Return a coil of wire along x."""
    at = np.linspace(0, 1, max(24, int(turns * 18)))
    turn = 2 * np.pi * turns * at
    path = np.stack([(at - 0.5) * length, radius * np.cos(turn), radius * np.sin(turn)], axis=1)
    return swept(path, thick / 2, sides=8)


def box(x: float, y: float, z: float) -> Mesh:
    """Return a box with sharp edges about the origin."""
    corners = np.array([(i, j, k) for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)]) * (x / 2, y / 2, z / 2)
    squares = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    faces = np.array([t for a, b, c, d in squares for t in ((a, b, c), (a, c, d))])
    return Mesh(points=corners, faces=faces, smooth=False)


def superquadric(half: Sequence[float], power: float, *, plan: float | None = None, count: int = 40) -> Mesh:
    """Return |x/a|^p + |y/b|^p + |z/c|^p = 1: an ellipsoid for p = 2, nearly a box for p = 10.

    With another power `plan` q from above it is (|x/a|^q + |y/b|^q)^(p/q) + |z/c|^p = 1: a disc for q = 2.
    """
    plan = plan or power
    up = np.linspace(-np.pi / 2, np.pi / 2, count)[:, None]
    turn = (np.arange(2 * count) * np.pi / count)[None]
    way = np.stack(
        np.broadcast_arrays(np.cos(up) * np.cos(turn), np.cos(up) * np.sin(turn), np.sin(up)), axis=-1
    )
    way = np.sign(way) * np.abs(way) ** (2 / power) if power < 2 else way
    level = (np.abs(way[..., :2]) ** plan).sum(axis=-1) ** (power / plan)
    reach = (level + np.abs(way[..., 2]) ** power)[..., None] ** (-1 / power)
    return grid_mesh(way * reach * np.asarray(half))


def sphere_points(levels: int) -> Mesh:
    """Return a unit sphere of triangles of about one size."""
    g = (1 + 5**0.5) / 2
    points = np.array([(-1, g, 0), (1, g, 0), (-1, -g, 0), (1, -g, 0)], float)
    points = np.concatenate([points, points[:, [2, 0, 1]], points[:, [1, 2, 0]]])
    faces = np.array(
        [
            (0, 11, 5),
            (0, 5, 1),
            (0, 1, 7),
            (0, 7, 10),
            (0, 10, 11),
            (1, 5, 9),
            (5, 11, 4),
            (11, 10, 2),
            (10, 7, 6),
            (7, 1, 8),
            (3, 9, 4),
            (3, 4, 2),
            (3, 2, 6),
            (3, 6, 8),
            (3, 8, 9),
            (4, 9, 5),
            (2, 4, 11),
            (6, 2, 10),
            (8, 6, 7),
            (9, 8, 1),
        ]
    )
    for _ in range(levels):
        edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
        unique, inverse = np.unique(edges, axis=0, return_inverse=True)
        middle = len(points) + inverse.reshape(3, -1)
        points = np.concatenate([points, points[unique].mean(axis=1)])
        a, b, c = faces.T
        ab, bc, ca = middle
        faces = np.concatenate(
            [np.stack(t, axis=1) for t in ((a, ab, ca), (b, bc, ab), (c, ca, bc), (ab, bc, ca))]
        )
    return Mesh(points=points / np.linalg.norm(points, axis=1, keepdims=True), faces=faces)


def lump(half: Sequence[float], *, rough: float, facets: bool, rng: np.random.Generator) -> Mesh:
    """Return an uneven body about as large as an ellipsoid of these half axes; flat facets or rounded."""
    base = sphere_points(1 if facets else 4)
    waves = rng.normal(0, 1.7, (4, 3))
    swell = 1 + rough * np.sin(base.points @ waves.T + rng.uniform(0, 6, 4)).sum(axis=1) / 2
    if facets:
        swell = swell * rng.uniform(1 - rough, 1 + rough, len(swell))
    return replace(base, points=base.points * swell[:, None] * np.asarray(half), smooth=not facets)


def pressed(mesh: Mesh, marks: Array, *, deep: float, wide: float) -> Mesh:
    """Return a body with marks pressed into its top and its bottom, or raised on them.

    `marks` (M, 2, 2) are straight lines from above, over half of the body's length and width.
    """
    plan = mesh.points[:, :2] / np.abs(mesh.points[:, :2]).max(axis=0)
    start, way = marks[:, 0], marks[:, 1] - marks[:, 0]
    share = np.einsum("vmk,mk->vm", plan[:, None] - start, way) / np.maximum((way**2).sum(axis=1), 1e-9)
    nearest = start + np.clip(share, 0, 1)[:, :, None] * way
    off = np.linalg.norm(plan[:, None] - nearest, axis=2).min(axis=1) * np.abs(mesh.points[:, 0]).max()
    level = np.clip(2 * mesh.normals[:, 2], -1, 1)
    points = mesh.points.copy()
    points[:, 2] -= level * deep * np.exp(-((off / wide) ** 2))
    return replace(mesh, points=points)


def capsule(radius: float, length: float) -> Mesh:
    """Return a rod with round ends along x, `length` all over."""
    turn = np.linspace(-np.pi / 2, np.pi / 2, 17)
    x = np.sin(turn) * radius + np.where(turn < 0, -1, 1) * (length / 2 - radius)
    return revolved(x, np.maximum(np.cos(turn), 1e-3) * radius, sides=32)
