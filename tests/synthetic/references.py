"""Draws photos of a printed sheet with flat things of exactly known size on it: cards, coins, slips.

A thing is a plate with upright sides, so its picture is exact in closed form: the ground is resampled, the
sides that face the camera and the upper face are filled as polygons, finely.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image as PilImage

from tests.synthetic.camera import Array, Camera
from tests.synthetic.ground import TEXELS_PER_MM, Ground, Image, ground_for, tiled
from tests.synthetic.light import Room
from tests.synthetic.looks import Body
from tests.synthetic.photos import aim
from tests.synthetic.render import cast_shadow, expose
from tests.synthetic.scene import Scene
from tests.synthetic.solids import Polyhedron
from vision.common.records import Photo
from vision.sheet.geometry import SHEETS

Colour = tuple[float, float, float]
CARD_MM, CARD_THICK_MM, CORNER_MM = (85.60, 53.98), 0.76, 3.18  # ISO/IEC 7810, ID-1
FINE = 8  # polygons are filled at so many points a pixel, each way
GROUND_FINE = 2
GRID_PX = 8  # the ground is projected exactly every so many of its points
LIGHT_CELLS = 2  # light and shadow are computed every so many of the ground's cells
MARGIN_MM, TABLE_MM = 25.0, 110.0  # of the table that shows round a mat, round a card


@dataclass(frozen=True, kw_only=True)
class Thing:
    """A plate on the sheet, mm: (width, height) or (diameter,), centre (x, y) on the sheet, y down.

    `side` is the colour of its upright sides where it differs from the face's, `prints` are polygons on the
    face (own mm, y down) with their colours.
    """

    size_mm: tuple[float, ...] = CARD_MM
    thickness_mm: float = CARD_THICK_MM
    at_mm: tuple[float, float] = (148.0, 105.0)
    turn_deg: float = 0.0
    colour: Colour = (0.2, 0.25, 0.5)
    side: Colour | None = None
    prints: tuple[tuple[Array, Colour], ...] = ()
    corner_mm: float = CORNER_MM

    @property
    def outline_mm(self) -> Array:
        """Outline in its own frame, anticlockwise as y points up, shape (N, 2)."""
        if len(self.size_mm) == 1:
            angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
            return self.size_mm[0] / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        inner = np.array(self.size_mm) / 2 - self.corner_mm
        ways = ((1, 1, 0), (-1, 1, 90), (-1, -1, 180), (1, -1, 270))
        return np.vstack([_arc(self.corner_mm, start) + inner * (sx, sy) for sx, sy, start in ways])

    def on_sheet(self, own_mm: Array, height_mm: float) -> Array:
        """Points of its own frame in the world of the drawing (y up), shape (N, 3)."""
        turn = np.radians(self.turn_deg)
        spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        x, y = (own_mm @ spin + np.multiply(self.at_mm, (1, -1))).T
        return np.column_stack([x, y, np.full(len(own_mm), height_mm)])


def _arc(radius: float, start_deg: float) -> Array:
    angle = np.radians(np.linspace(start_deg, start_deg + 90, 24))
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


@dataclass(frozen=True, kw_only=True)
class DrawnThings:
    """A photo of things on a sheet, the camera that took it, and the length of the printed top row."""

    photo: Photo
    camera: Camera
    check_length_mm: float


def draw_things(scene: Scene, things: Sequence[Thing], *, camera: Camera | None = None) -> DrawnThings:
    """Draw things on the sheet of a scene."""
    rng = np.random.default_rng([scene.seed, 4])
    room = Room.random(rng)
    ground = ground_for(scene.sheet, scene.bed, scene.print_scale, room=room, rng=rng)
    camera = camera or aim(scene, rng)
    if things:
        ground.shadow = cast_shadow([_body(thing) for thing in things], ground, rng)
    image = _draw_ground(camera, ground)
    for thing in things:
        _draw_thing(image, thing, camera=camera, room=room)
    rgb = expose(image, scene.sensor, rng)
    return DrawnThings(
        photo=Photo(
            name="thing.jpg",
            rgb=_stored(rgb, scene.sensor.jpeg),
            focal_35mm=scene.focal_35mm if scene.exif else None,
        ),
        camera=camera,
        check_length_mm=SHEETS[scene.sheet].check_length_mm * scene.print_scale,
    )


def _stored(rgb: Array, quality: int) -> Array:
    stored = io.BytesIO()
    PilImage.fromarray(rgb).save(stored, "JPEG", quality=quality)
    return np.asarray(PilImage.open(stored).convert("RGB"))


def _body(thing: Thing) -> Body:
    """Return a solid that casts the thing's shadow."""
    outline = thing.outline_mm[:: max(len(thing.outline_mm) // 64, 1)]
    along = np.roll(outline, -1, axis=0) - outline
    sides = np.column_stack([along[:, 1], -along[:, 0], np.zeros(len(along))])
    sides /= np.linalg.norm(sides, axis=1, keepdims=True)
    facets = np.vstack([sides, [[0, 0, 1], [0, 0, -1]]])
    reach = np.r_[np.sum(sides[:, :2] * outline, axis=1), [thing.thickness_mm / 2] * 2]
    turn = thing.on_sheet(np.eye(2), 0.0) - thing.on_sheet(np.zeros((1, 2)), 0.0)
    return Body(
        solid=Polyhedron(facets=facets, offsets=reach),
        turn=np.column_stack([turn.T, [0.0, 0.0, 1.0]]),
        centre=thing.on_sheet(np.zeros((1, 2)), thing.thickness_mm / 2)[0],
        look="opaque",
        colour=thing.colour,
    )


def _draw_ground(camera: Camera, ground: Ground) -> Image:
    """Linear RGB, shape (H, W, 3), of the ground, each pixel the mean of a few points."""
    texture, corner, per_mm = _texture(ground)
    inner = (np.arange(GROUND_FINE) + 0.5) / GROUND_FINE - 0.5
    image = np.zeros((*camera.size_px[::-1], 3), np.float32)
    for shift in ((dx, dy) for dx in inner for dy in inner):
        cells = (_ground_under(camera, shift) - corner) * per_mm * (1, -1)
        u, v = cv2.split(_spread(cells.astype(np.float32), camera.size_px))
        image += cv2.remap(texture, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return image / GROUND_FINE**2


def _texture(ground: Ground) -> tuple[Image, Array, float]:
    """Radiance of the ground from straight above, world (x, y) of its first cell, cells per mm."""
    per_mm = TEXELS_PER_MM / ground.print_scale
    pad = round(per_mm * (TABLE_MM if ground.sheet.bed_mm is None else MARGIN_MM))
    page = np.pad(ground.page, pad, constant_values=np.nan)
    corner = np.array([0.5 - pad, pad - 0.5]) / per_mm
    coarse = [np.arange(0, n + LIGHT_CELLS, LIGHT_CELLS) / per_mm for n in page.shape[::-1]]
    x, y = np.meshgrid(corner[0] + coarse[0], corner[1] - coarse[1])
    light = 1.0 + ground.fall[0] * (x - 140) + ground.fall[1] * (y + 100)
    light = np.clip(light, 0.75, 1.25) * (1.0 if ground.shadow is None else ground.shadow.at(x, y))
    table = light if ground.table != "wood" else light * tiled(ground.grain, x * 2 + 4096, y * 2 + 4096)
    shades = cv2.merge([light.astype(np.float32), table.astype(np.float32)])
    lit, beside = cv2.split(_spread(shades, page.shape[::-1], LIGHT_CELLS))
    bare = np.isnan(page)
    tint = ground.room.tint.astype(np.float32)
    colour = (np.where(bare, 0, page) * lit)[..., None] * tint
    colour[bare] = beside[bare][:, None] * (ground.table_colour * tint).astype(np.float32)
    return colour, corner, per_mm


def _ground_under(camera: Camera, shift: tuple[float, float]) -> Array:
    """World (x, y), shape (H', W', 2), of the ground in every eighth pixel, shifted by parts of a pixel."""
    width, height = camera.size_px
    x = np.arange(0, width + GRID_PX, GRID_PX) + shift[0]
    y = np.arange(0, height + GRID_PX, GRID_PX) + shift[1]
    rays = camera.rays(*np.meshgrid(x, y))
    return np.array(camera.origin)[:2] - camera.origin[2] * rays[..., :2] / rays[..., 2:]


def _spread(coarse: Image, size: tuple[int, int], step: int = GRID_PX) -> Image:
    """Interpolate values known at every `step`-th cell, from cell 0 on, to all cells of (width, height)."""
    shrink = np.array([[1 / step, 0, 0], [0, 1 / step, 0]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(coarse, shrink, size, flags=how, borderMode=cv2.BORDER_REPLICATE)


def _draw_thing(image: Image, thing: Thing, *, camera: Camera, room: Room) -> None:
    """Lay a thing's sides and its face over the ground."""
    own = thing.outline_mm
    top = camera.project(thing.on_sheet(own, thing.thickness_mm))
    base = camera.project(thing.on_sheet(own, 0.0))
    low = np.floor(np.minimum(top, base).min(axis=0)).astype(int) - 2
    high = np.ceil(np.maximum(top, base).max(axis=0)).astype(int) + 3
    low, high = np.maximum(low, 0), np.minimum(high, camera.size_px)
    fine = cv2.resize(image[low[1] : high[1], low[0] : high[0]], None, fx=FINE, fy=FINE, interpolation=0)
    _fill_sides(fine, (top - low, base - low), thing=thing, room=room)
    level = np.array([[0.0, 0.0, 1.0]])
    light = room.on(level, np.zeros(3))[0]
    _fill(fine, top - low, light * thing.colour)
    for polygon, colour in thing.prints:
        at = camera.project(thing.on_sheet(polygon * (1, -1), thing.thickness_mm))
        _fill(fine, at - low, light * colour)
    size = tuple(int(n) for n in high - low)
    image[low[1] : high[1], low[0] : high[0]] = cv2.resize(fine, size, interpolation=cv2.INTER_AREA)


def _fill_sides(fine: Image, rims: tuple[Array, Array], *, thing: Thing, room: Room) -> None:
    """Fill the upright sides, in the light that comes from their direction; the face hides the far ones."""
    world = thing.on_sheet(thing.outline_mm, 0.0)
    along = np.roll(world, -1, axis=0) - world
    outwards = np.column_stack([along[:, 1], -along[:, 0], np.zeros(len(along))])
    outwards /= np.linalg.norm(outwards, axis=1, keepdims=True)
    light = room.on(outwards, np.full(3, 0.5)) * np.array(thing.side or thing.colour)
    for k, colour in enumerate(light):
        one, other = k, (k + 1) % len(light)
        _fill(fine, np.array([rims[0][one], rims[0][other], rims[1][other], rims[1][one]]), colour)


def _fill(fine: Image, polygon_px: Array, colour: Array) -> None:
    """Fill a polygon given in pixels on an image of finer cells."""
    cells = (polygon_px + 0.5) * FINE - 0.5
    cv2.fillPoly(fine, [np.rint(cells * 256).astype(np.int32)], [float(c) for c in colour], shift=8)
