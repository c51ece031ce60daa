"""Solids that lie on a bed, as a camera sees their outlines: what sizes and bodies are tested on."""

import cv2
import numpy as np

from tests.helpers.ellipsoid import ellipsoid_outline
from vision.lot.feret import Section

CAMERA = np.array([0.0, 0.0, 300.0])
OVAL_MM = (10.0, 8.0)


def on_bed(points: np.ndarray) -> np.ndarray:
    """Return the convex outline of world points (x, y, h), seen from `CAMERA`, on the plane h = 0."""
    rays = points - CAMERA
    ground = CAMERA[:2] - CAMERA[2] / rays[:, 2:] * rays[:, :2]
    return cv2.convexHull(ground.astype(np.float32))[:, 0].astype(float)


def ball(diameter: float, x: float, y: float = 0.0) -> Section:
    centre = np.array([x, y, diameter / 2])
    outline = ellipsoid_outline(centre, np.eye(3) * diameter / 2, CAMERA, points=1440)
    return Section.of(on_bed(outline), CAMERA, bed_height_mm=0.0)


def oval(turn: float, x: float, y: float, *, longer: float = 1.25) -> Section:
    """Return a bead of `OVAL_MM`, or so much longer than wide, lying along a direction of its own."""
    axis = np.array([np.cos(turn), np.sin(turn), 0.0])
    axes = np.array([longer * axis, np.cross((0, 0, 1), axis), (0, 0, 1)]) * 4
    outline = ellipsoid_outline(np.array([x, y, 4.0]), axes, CAMERA, points=1440)
    return Section.of(on_bed(outline), CAMERA, bed_height_mm=0.0)


def coin(diameter: float, x: float, y: float = 0.0, *, thickness: float = 1.5) -> Section:
    angle = np.linspace(0, 2 * np.pi, 1440, endpoint=False)
    rim = np.stack([x + diameter / 2 * np.cos(angle), y + diameter / 2 * np.sin(angle)], axis=1)
    rims = [np.column_stack([rim, np.full(len(rim), h)]) for h in (0.0, thickness)]
    return Section.of(on_bed(np.vstack(rims)), CAMERA, bed_height_mm=0.0)


def drop(diameter: float, x: float, y: float, *, height: float) -> Section:
    """Return a drop of glass, flat below: the upper half of an ellipsoid."""
    angle = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    rise = np.linspace(0, np.pi / 2, 60)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * diameter / 2
    level = [np.column_stack([ring * np.cos(r) + (x, y), np.full(180, height * np.sin(r))]) for r in rise]
    return Section.of(on_bed(np.vstack(level)), CAMERA, bed_height_mm=0.0)


def turned(points: np.ndarray, angle: float, x: float) -> Section:
    c, s = np.cos(angle), np.sin(angle)
    plan = points[:, :2] @ np.array([[c, s], [-s, c]]) + (x, 0.0)
    return Section.of(on_bed(np.column_stack([plan, points[:, 2]])), CAMERA, bed_height_mm=0.0)


def places(count: int = 24) -> np.ndarray:
    """Return places over a bed, (N, 2), in a spiral out to X / H = 0.45."""
    k = np.arange(1, count + 1)
    return 135 * np.sqrt(k / count)[:, None] * np.stack([np.cos(2.4 * k), np.sin(2.4 * k)], axis=1)
