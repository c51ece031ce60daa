"""Beds and tables of any colour and pattern, in light that may be harsh."""

from functools import cached_property

import cv2
import numpy as np

from tests.synthetic.camera import Array
from tests.synthetic.ground import Ground, Image, cloudy, tiled
from tests.synthetic.light import Room, Window
from vision.sheet.geometry import SHEETS

_TILE = 1024
_TEXELS_PER_MM = 8.0
_PLAIN = ("white", "white", "grey", "black-felt", "cream-felt", "grey-felt")


def _waves(rng: np.random.Generator, period_mm: tuple[float, float]) -> Image:
    """Return stripes across a tile, -1 to 1, at any angle, soft or hard."""
    angle = rng.uniform(0, np.pi)
    at = np.arange(_TILE) / _TEXELS_PER_MM
    x, y = np.meshgrid(at, at)
    period = float(np.exp(rng.uniform(*np.log(period_mm))))
    wave = np.sin(2 * np.pi * (x * np.cos(angle) + y * np.sin(angle)) / period)
    return np.clip(wave * np.exp(rng.uniform(0, 2.5)), -1, 1).astype(np.float32)


def _lines(rng: np.random.Generator) -> Image:
    """Return squared or ruled paper, -1 to 1."""
    page = np.full((_TILE, _TILE), -1.0, np.float32)
    step = round(rng.choice([4.0, 5.0, 7.0, 10.0]) * _TEXELS_PER_MM)
    for k in range(0, _TILE, step):
        cv2.line(page, (0, k), (_TILE, k), 1.0, int(rng.integers(1, 5)))
        if rng.random() < 0.7:
            cv2.line(page, (k, 0), (k, _TILE), 1.0, int(rng.integers(1, 5)))
    return cv2.GaussianBlur(page, None, float(rng.uniform(0.5, 1.5)))


def _share(rng: np.random.Generator) -> Image:
    """Return the share of a tile's second colour, 0 to 1."""
    kind = rng.integers(6)
    if kind == 0:
        wave = _waves(rng, (2.0, 30.0))
    elif kind == 1:
        wave = _waves(rng, (0.4, 8.0)) * _waves(rng, (0.4, 8.0))
    elif kind == 2:
        wave = 4 * (
            cloudy(rng, ((1.5, 0.06), (7.0, 0.12), (26.0, 0.1)), stretch=float(rng.uniform(4, 12))) - 1
        )
    elif kind == 3:
        wave = _lines(rng)
    elif kind == 4:
        sigma = float(np.exp(rng.uniform(0, 4)))
        wave = 3 * (cloudy(rng, ((sigma, 0.3),)) - 1)
    else:
        wave = np.full((_TILE, _TILE), -1.0, np.float32)
    return np.clip(0.5 + 0.5 * wave, 0, 1)


def _colour(rng: np.random.Generator) -> Array:
    """Return a reflectance: greys and muted tones more often than strong colours."""
    level = float(np.exp(rng.uniform(np.log(0.012), np.log(0.85))))
    return np.clip(level * np.exp(rng.normal(0, rng.choice([0.02, 0.1, 0.35]), 3)), 0.008, 0.9)


def pattern(rng: np.random.Generator) -> Image:
    """Return a periodic tile of reflectance, shape (1024, 1024, 3), eight texels a millimetre."""
    one, other = _colour(rng), _colour(rng)
    other = one + (other - one) * rng.uniform(0.1, 1.0)
    share = _share(rng)[..., None]
    grain = cloudy(rng, ((float(rng.uniform(0.6, 2.0)), float(rng.uniform(0.0, 0.16))), (5.0, 0.05)))
    return ((one * (1 - share) + other * share) * grain[..., None]).astype(np.float32)


class AnyGround(Ground):
    """A ground whose bed has a pattern, or whose whole table where the sheet is a card."""

    cloth: Image | None = None
    table_cloth: Image | None = None

    @cached_property
    def bounce(self) -> Array:
        """Radiance that the bed throws back up at a bead, RGB."""
        if self.cloth is None:
            return super().bounce
        return self.cloth.mean(axis=(0, 1)) * self.room.tint * 0.8

    def _flat(self, x: Image, y: Image) -> Image:
        colour = super()._flat(x, y)
        u, v = x / self.print_scale, -y / self.print_scale
        width, height = self.sheet.page_mm
        off = (u < 0) | (u > width) | (v < 0) | (v > height)
        if self.table_cloth is not None:
            self._lay(colour, off, x, y, self.table_cloth)
        if self.cloth is not None and self.felt is None:
            if self.sheet.bed_mm:
                left, top, right, bottom = self.sheet.bed_mm
                self._lay(colour, (u > left) & (u < right) & (v > top) & (v < bottom), x, y, self.cloth)
            else:
                self._lay(colour, off, x, y, self.cloth)
        return colour

    def _lay(self, colour: Image, where: Image, x: Image, y: Image, tile: Image) -> None:
        found = tiled(tile, x[where] * 8 + 8192, y[where] * 8 + 8192)
        colour[where] = found * self.room.tint.astype(np.float32)

    def _lay_felt(self, colour: Image, at: list[Array], dark: float) -> None:
        if self.cloth is None:
            super()._lay_felt(colour, at, dark)
            return
        left, top, right, bottom, _ = self.felt
        inside = (at[0] > left) & (at[0] < right) & (-at[1] > top) & (-at[1] < bottom)
        self._lay(colour, inside, at[0], at[1], self.cloth * np.float32(dark))


def any_room(rng: np.random.Generator) -> Room:
    """Return the light of a room, one time in four of a bare lamp or the sun."""
    if rng.random() > 0.25:
        return Room.random(rng)
    rise, turn = np.radians(rng.uniform(30, 75)), rng.uniform(0, 2 * np.pi)
    towards = np.array([np.cos(rise) * np.cos(turn), np.cos(rise) * np.sin(turn), np.sin(rise)])
    half = float(np.exp(rng.uniform(np.log(0.03), np.log(0.2))))
    lamp = Window(towards=towards, half=(half, half), radiance=1.0)
    direct = float(lamp.lights(np.array([[0.0, 0.0, 1.0]]))[0])
    share = rng.uniform(0.4, 0.8)
    lamp = Window(towards=towards, half=(half, half), radiance=float(min(share / direct, 60.0)))
    return Room(windows=(lamp,), ceiling=1 - share, tint=np.exp(rng.normal(0, 0.08, 3)))


def any_ground(sheet: str, print_scale: float, *, room: Room, rng: np.random.Generator) -> AnyGround:
    """Return a usual bed, or one of any pattern, flat or raised as a felt is."""
    plan = SHEETS[sheet]
    usual = rng.random() < 0.55
    bed = str(rng.choice(_PLAIN)) if usual else "white"
    cloth = None if usual else pattern(rng)
    felt = None
    if bed.endswith("felt") or (not usual and rng.random() < 0.4):
        if plan.bed_mm:
            felt = (*(v * print_scale for v in plan.bed_mm), float(rng.uniform(-0.004, 0.004)))
        else:
            felt = (-400.0, -400.0, 500.0, float(rng.uniform(-7, -2.5)), float(rng.uniform(-0.06, 0.06)))
    table = "wood" if plan.bed_mm and rng.random() < 0.5 else "plain"
    if not plan.bed_mm and felt is None:
        table = "bed"
    ground = AnyGround(
        sheet=plan, bed=bed, print_scale=print_scale, room=room, rng=rng, felt=felt, table=table
    )
    ground.cloth = cloth
    if rng.random() < 0.4 and table != "bed":
        ground.table_cloth = pattern(rng)
    return ground
