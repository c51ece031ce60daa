"""Rims found by summing edges along the outline of a ball."""

import numpy as np
import pytest

from vision.ring import outermost_ring, sphere_line
from vision.solid import ellipsoid_outline

CAMERA = np.array([20.0, -30.0, 260.0])
COUNT = 144


def ball_outline(diameter: float) -> np.ndarray:
    """Return a ball's outline on the plane h = 0, (COUNT, 2)."""
    centre = np.array([95.0, 40.0, diameter / 2])
    world = ellipsoid_outline(centre, np.eye(3) * diameter / 2, CAMERA, points=COUNT)
    rays = world - CAMERA
    return CAMERA[:2] - CAMERA[2] / rays[:, 2:] * rays[:, :2]


def test_sphere_line_runs_through_a_balls_outline() -> None:
    outline = ball_outline(9.0)
    line = sphere_line(outline, CAMERA, count=2000)
    miss = np.min(np.linalg.norm(outline[:, None] - line[None], axis=2), axis=1)
    assert miss.max() < 0.02


def test_sphere_line_bears_an_eighth_of_wrong_points() -> None:
    outline = ball_outline(9.0)
    outline[:18] = outline.mean(axis=0) + 0.8 * (outline[:18] - outline.mean(axis=0))
    line = sphere_line(outline, CAMERA, count=2000)
    miss = np.min(np.linalg.norm(outline[18:, None] - line[None], axis=2), axis=1)
    assert np.median(miss) < 0.05


@pytest.fixture
def band() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return faint grain, shape (COUNT, 64), normals and offsets of a band round a circle of radius 20."""
    angle = np.linspace(0, 2 * np.pi, COUNT, endpoint=False)
    normal = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    offsets = np.linspace(-7, 9, 64)
    grain = np.abs(np.random.default_rng(4).normal(0, 0.3, (COUNT, 64)))
    return grain, normal, offsets


def place(edge: np.ndarray, normal: np.ndarray, offsets: np.ndarray, how: tuple[float, float, float]) -> None:
    """Draw a circle's edge into a band: growth in radius, shift of its middle."""
    grown, x, y = how
    at = grown + normal @ np.array([x, y])
    column = np.round((at - offsets[0]) / (offsets[1] - offsets[0])).astype(int)
    edge[np.arange(COUNT), column] = 1.6


def test_a_faint_rim_outside_strong_highlights_is_taken(band: tuple) -> None:
    edge, normal, offsets = band
    place(edge, normal, offsets, (4.0, 1.0, 0.0))
    edge[:90, 15] = 12.0
    found = outermost_ring(edge, normal, offsets, radius=20.0)
    assert found is not None
    assert found == pytest.approx(4.0 + normal[:, 0], abs=0.6)


def test_grain_alone_is_no_rim(band: tuple) -> None:
    edge, normal, offsets = band
    assert outermost_ring(edge, normal, offsets, radius=20.0) is None
