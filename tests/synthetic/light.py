"""The light of a room: soft ceiling, darker walls, one or two windows. Linear RGB, white paper about 0.85."""

from dataclasses import dataclass

import numpy as np

from tests.synthetic.camera import Array


@dataclass(frozen=True, kw_only=True)
class Window:
    """A bright rectangle far away: its direction, half width and height (tangents), radiance."""

    towards: Array
    half: tuple[float, float]
    radiance: float

    def frame(self) -> Array:
        """Rows: across, up, towards."""
        across = np.cross((0.0, 0.0, 1.0), self.towards)
        across /= np.linalg.norm(across)
        return np.array([across, np.cross(self.towards, across), self.towards])

    def seen(self, rays: Array, soft: float = 0.02) -> Array:
        """Radiance along unit directions, edges softened by `soft` (tangent)."""
        u, v, w = self.frame() @ rays.T
        w = np.maximum(w, 1e-3)
        inside = np.minimum(self.half[0] - np.abs(u / w), self.half[1] - np.abs(v / w))
        bars = np.minimum(np.abs(u / w), np.abs(v / w)) < 0.04 * self.half[0]
        glow = np.clip(0.5 + inside / (2 * soft), 0.0, 1.0)
        return self.radiance * glow * np.where(bars & (soft < 0.1), 0.3, 1.0)

    def lights(self, normals: Array) -> Array:
        """Irradiance over pi at surfaces with these normals, horizon ignored."""
        solid_angle = 4 * self.half[0] * self.half[1] / (1 + sum(h * h for h in self.half)) ** 0.75
        return self.radiance * solid_angle / np.pi * np.maximum(normals @ self.towards, 0.0)

    def samples(self, number: int, rng: np.random.Generator) -> Array:
        """Draw unit directions spread over the window, shape (number, 3)."""
        grid = rng.uniform(-1, 1, (number, 2)) * self.half
        rays = np.c_[grid, np.ones(number)] @ self.frame()
        return rays / np.linalg.norm(rays, axis=1, keepdims=True)


@dataclass(frozen=True, kw_only=True)
class Room:
    """All light of a photo; `tint` is the colour of white paper in it."""

    windows: tuple[Window, ...]
    ceiling: float
    tint: Array

    @staticmethod
    def random(rng: np.random.Generator) -> "Room":
        """Draw a plausible room in which a level white sheet receives 1."""
        azimuth = rng.uniform(0, 2 * np.pi)
        windows = []
        for k in range(int(rng.integers(1, 3))):
            rise = np.radians(rng.uniform(38, 66))
            turn = azimuth + k * rng.uniform(1.8, 4.0)
            towards = np.array([np.cos(rise) * np.cos(turn), np.cos(rise) * np.sin(turn), np.sin(rise)])
            half = (float(rng.uniform(0.2, 0.4)), float(rng.uniform(0.2, 0.4)))
            windows.append(
                Window(towards=towards, half=half, radiance=float(rng.uniform(2.5, 6.0)) / (1 + k))
            )
        level = np.array([[0.0, 0.0, 1.0]])
        share = min(sum(float(w.lights(level)[0]) for w in windows), 0.75)
        warmth = rng.uniform(-0.05, 0.09)
        tint = np.array([1 + warmth, 1.0, 1 - 1.3 * warmth])
        return Room(windows=tuple(windows), ceiling=1.0 - share, tint=tint)

    def sky(self, rays: Array, soft: float = 0.02) -> Array:
        """Radiance, shape (N, 3), seen upwards along unit directions."""
        wall = 0.45 + 0.9 * np.clip(rays[:, 2], 0.0, 1.0) ** 0.7
        light = self.ceiling * wall
        for window in self.windows:
            light = light + window.seen(rays, soft)
        return light[:, None] * self.tint

    def on(self, normals: Array, bounce: Array) -> Array:
        """Irradiance over pi, shape (N, 3), of a convex body on a floor of radiance `bounce` (RGB)."""
        up = 0.5 + 0.5 * normals[:, 2:]
        direct = sum((w.lights(normals) for w in self.windows), np.zeros(len(normals)))
        return (self.ceiling * up + direct[:, None]) * self.tint + (1.0 - up) * 0.7 * bounce
