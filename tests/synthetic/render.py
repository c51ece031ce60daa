"""Casts rays into a scene, tile by tile; then adds the camera's blur, noise and sharpening."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.synthetic.camera import Array, Camera
from tests.synthetic.ground import Ground, Image, Shadow
from tests.synthetic.looks import GLASSY, Body, Hits, shade

TILE_PX = 80
GROUND_GRID, BODY_GRID = 2, 3  # rays a pixel, each way
COARSE = 6  # pixels a ray, each way, in tiles that may be coarse
SHADOW_PER_MM = 5.0
SHADOW_RAYS = 80  # fewer leave visible steps in half shadows


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """What a phone does to a picture: blur (px), noise (sRGB levels), sharpening, exposure, JPEG quality."""

    blur_px: float = 0.55
    noise: float = 0.9
    sharpen: float = 0.4
    exposure: float = 1.0
    jpeg: int = 90


def cast_shadow(bodies: Sequence[Body], ground: Ground, rng: np.random.Generator) -> Shadow:
    """Share of light that reaches the bed: windows by sampled directions, the ceiling by blurred shadows."""
    clouds = [body.cloud() - (0, 0, ground.bed_z) for body in bodies]
    plan = np.vstack(clouds)[:, :2]
    margin = 25.0
    corner = (float(plan[:, 0].min() - margin), float(plan[:, 1].max() + margin))
    size = np.ceil((np.ptp(plan, axis=0) + 2 * margin) * SHADOW_PER_MM).astype(int)[::-1]
    total = np.ones(size, np.float32) * ground.room.ceiling
    glass = [body.look in GLASSY for body in bodies]
    for window in ground.room.windows:
        part = float(window.lights(np.array([[0.0, 0.0, 1.0]]))[0]) / SHADOW_RAYS
        for towards in window.samples(SHADOW_RAYS, rng):
            total += part * _lit_by(clouds, glass, towards, (corner, size))
    above = _lit_by(clouds, glass, np.array([0.0, 0.0, 1.0]), (corner, size))
    height = float(np.median([np.ptp(c[:, 2]) for c in clouds]))
    for share, reach in ((0.45, 0.18), (0.35, 0.5)):
        wide = cv2.GaussianBlur(above, None, reach * height * SHADOW_PER_MM)
        total -= ground.room.ceiling * share * (1 - wide)
    full = ground.room.ceiling + sum(
        float(w.lights(np.array([[0.0, 0.0, 1.0]]))[0]) for w in ground.room.windows
    )
    soft = cv2.GaussianBlur(np.clip(total / full, 0.05, None), None, 0.12 * SHADOW_PER_MM)
    return Shadow(share=soft, corner=corner, per_mm=SHADOW_PER_MM)


def _lit_by(
    clouds: Sequence[Array], glass: Sequence[bool], towards: Array, frame: tuple[tuple[float, float], Array]
) -> Image:
    """Share of a distant point light that reaches the bed; glass focuses some of it."""
    corner, size = frame
    left = np.ones(size, np.float32)
    for cloud, clear in zip(clouds, glass, strict=True):
        shadow = cloud[:, :2] - cloud[:, 2:] * towards[:2] / towards[2]
        at = np.stack([shadow[:, 0] - corner[0], corner[1] - shadow[:, 1]], axis=1) * SHADOW_PER_MM
        hull = cv2.convexHull(at.astype(np.float32))[:, 0]
        _fill(left, hull, 0.45 if clear else 0.0)
        if clear:
            _fill(left, hull.mean(axis=0) + 0.4 * (hull - hull.mean(axis=0)), 1.25)
    return left


def _fill(image: Image, polygon: Array, value: float) -> None:
    cv2.fillConvexPoly(image, np.rint(polygon * 16).astype(np.int32), value, shift=4)


def render(
    camera: Camera,
    ground: Ground,
    bodies: Sequence[Body],
    *,
    only: Sequence["Box"] | None = None,
    grid: int = BODY_GRID,
) -> Image:
    """Linear RGB, shape (H, W, 3), averaged over each pixel.

    A pixel near a body is sampled by `grid` x `grid` rays. With `only`, tiles that meet none of these boxes
    are drawn coarsely.
    """
    width, height = camera.size_px
    image = np.zeros((height, width, 3), np.float32)
    boxes = [_box(camera, body) for body in bodies]
    for top in range(0, height, TILE_PX):
        for left in range(0, width, TILE_PX):
            tile = (left, top, min(left + TILE_PX, width), min(top + TILE_PX, height))
            if only is not None and not any(_meet(box, tile) for box in only):
                image[top : tile[3], left : tile[2]] = _draw_coarse(camera, ground, tile)
                continue
            near = [(body, box) for body, box in zip(bodies, boxes, strict=True) if _meet(box, tile)]
            drawn = _draw_tile(camera, ground, near, tile, grid) if near else _draw_bare(camera, ground, tile)
            image[top : tile[3], left : tile[2]] = drawn
    return image


Box = tuple[int, int, int, int]


def _draw_bare(camera: Camera, ground: Ground, tile: Box) -> Image:
    """Draw a tile without bodies."""
    rays = _grid(camera, tile, GROUND_GRID)
    return _averaged(ground.radiance(np.array(camera.origin), rays), GROUND_GRID)


def _draw_coarse(camera: Camera, ground: Ground, tile: Box) -> Image:
    """Draw a tile without bodies, one ray a block of pixels."""
    x, y = (np.arange(tile[k] + (COARSE - 1) / 2, tile[k + 2], COARSE) for k in (0, 1))
    seen = ground.radiance(np.array(camera.origin), camera.rays(*np.meshgrid(x, y)))
    whole = np.repeat(np.repeat(seen, COARSE, axis=0), COARSE, axis=1)
    rows, columns = tile[3] - tile[1], tile[2] - tile[0]
    return np.pad(whole, ((0, COARSE), (0, COARSE), (0, 0)), mode="edge")[:rows, :columns]


def _grid(camera: Camera, box: Box, grid: int) -> Array:
    """Rays of `grid` x `grid` points in each pixel of a box."""
    inner = (np.arange(grid) + 0.5) / grid - 0.5
    x = (np.arange(box[0], box[2])[:, None] + inner).ravel()
    y = (np.arange(box[1], box[3])[:, None] + inner).ravel()
    return camera.rays(*np.meshgrid(x, y))


def _averaged(fine: Image, grid: int) -> Image:
    size = fine.shape[1] // grid, fine.shape[0] // grid
    return cv2.resize(fine, size, interpolation=cv2.INTER_AREA)


def _box(camera: Camera, body: Body) -> Box:
    """Box of pixels that a body may cover, with a margin."""
    seen = camera.project(body.cloud())
    low, high = np.floor(seen.min(axis=0)) - 4, np.ceil(seen.max(axis=0)) + 5
    return (int(low[0]), int(low[1]), int(high[0]), int(high[1]))


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _draw_tile(camera: Camera, ground: Ground, near: list[tuple[Body, Box]], tile: Box, grid: int) -> Image:
    """Draw the nearest surface that each ray of a tile meets."""
    rays = _grid(camera, tile, grid)
    colour = ground.radiance(np.array(camera.origin), rays).astype(float)
    depth = np.full(rays.shape[:2], np.inf)
    winner = np.full(rays.shape[:2], -1)
    spans = []
    for k, (body, box) in enumerate(near):
        rows, cols = (
            slice(
                (max(box[i], tile[i]) - tile[i]) * grid,
                (min(box[i + 2], tile[i + 2]) - tile[i]) * grid,
            )
            for i in (1, 0)
        )
        there = rays[rows, cols]
        own_rays = there.reshape(-1, 3) @ body.turn
        offset = (np.array(camera.origin) - body.centre) @ body.turn
        start, far = body.solid.interval(np.broadcast_to(offset, own_rays.shape), own_rays)
        start, far = start.reshape(there.shape[:2]), far.reshape(there.shape[:2])
        ahead = (far > start) & (start < depth[rows, cols])
        depth[rows, cols][ahead] = start[ahead]
        winner[rows, cols][ahead] = k
        spans.append((offset, far, rows, cols))
    for k, (body, _) in enumerate(near):
        offset, far, rows, cols = spans[k]
        mine = winner[rows, cols] == k
        if mine.any():
            own_rays = rays[rows, cols][mine] @ body.turn
            origins = np.broadcast_to(offset, own_rays.shape)
            hits = Hits(
                body=body, origins=origins, rays=own_rays, near=depth[rows, cols][mine], far=far[mine]
            )
            colour[rows, cols][mine] = shade(hits, ground)
    return _averaged(np.minimum(colour, 4.0).astype(np.float32), grid)


def expose(image: Image, sensor: Sensor, rng: np.random.Generator) -> NDArray[np.uint8]:
    """sRGB, shape (H, W, 3), of linear light after a phone's lens and processing."""
    soft = cv2.GaussianBlur(image * sensor.exposure, None, sensor.blur_px)
    level = np.clip(soft, 0.0, 1.0)
    coded = np.where(level <= 0.0031308, 12.92 * level, 1.055 * level ** (1 / 2.4) - 0.055) * 255.0
    # shot noise is about the same in sRGB levels everywhere; most of it is common to the three colours
    noise = rng.standard_normal(coded.shape[:2], np.float32)[..., None] * 0.9
    noise = noise + rng.standard_normal(coded.shape, np.float32) * 0.45
    coded = coded + sensor.noise * noise
    if sensor.sharpen:
        coded += sensor.sharpen * (coded - cv2.GaussianBlur(coded, None, 1.2))
    return np.clip(np.rint(coded), 0, 255).astype(np.uint8)
