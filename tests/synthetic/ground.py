"""Draws table, printed sheet and felt as planes in perspective, with the beads' shadows on them."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from tests.synthetic.camera import Array
from tests.synthetic.light import Room
from vision.sheet.geometry import SHEETS, Sheet

Image = NDArray[np.float32]
TEXELS_PER_MM = 12
PAPER, INK, GREY = 0.82, 0.03, 0.33
BEDS = {
    "white": (0.82, 0.82, 0.82),
    "grey": (GREY, GREY, GREY),
    "black-felt": (0.016, 0.015, 0.015),
    "cream-felt": (0.62, 0.5, 0.34),
    "grey-felt": (0.2, 0.18, 0.165),
}
FELT_MM = 1.2


def draw_sheet(sheet: Sheet, bed: str) -> Image:
    """Reflectance of the printed page, TEXELS_PER_MM, first texel's corner at the page's corner."""
    width, height = (round(side * TEXELS_PER_MM) for side in sheet.page_mm)
    page = np.full((height, width), PAPER, np.float32)
    if sheet.bed_mm and bed == "grey":
        left, top, right, bottom = (round(v * TEXELS_PER_MM) for v in sheet.bed_mm)
        page[top:bottom, left:right] = GREY
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    fine = 8  # a tag's edges are placed to an eighth of a texel, then averaged
    for tag_id in sheet.ids:
        low = sheet.corners_mm(tag_id)[0] * TEXELS_PER_MM
        first = np.floor(low).astype(int)
        side = round(sheet.tag_mm * TEXELS_PER_MM)
        patch = np.full(((side + 1) * fine,) * 2, PAPER, np.float32)
        x, y = np.rint((low - first) * fine).astype(int)
        marker = cv2.aruco.generateImageMarker(dictionary, tag_id, 8)
        big = cv2.resize(
            marker, None, fx=side * fine / 8, fy=side * fine / 8, interpolation=cv2.INTER_NEAREST
        )
        patch[y : y + big.shape[0], x : x + big.shape[1]] = np.where(big > 0, PAPER, INK)
        small = cv2.resize(patch, (side + 1, side + 1), interpolation=cv2.INTER_AREA)
        page[first[1] : first[1] + side + 1, first[0] : first[0] + side + 1] = small
    return page


def cloudy(
    rng: np.random.Generator, octaves: tuple[tuple[float, float], ...], *, stretch: float = 1.0
) -> Image:
    """Periodic noise tile, 1024 x 1024, mean 1: a sum of blurred white noises.

    Each octave is (sigma in texels, contrast); `stretch` lengthens all of them along x.
    """
    tile = np.ones((1024, 1024), np.float32)
    for sigma, contrast in octaves:
        wave = fft.rfft2(rng.standard_normal((1024, 1024), np.float32))
        along, down = (np.exp(-2 * (np.pi * s * fft.fftfreq(1024)) ** 2) for s in (sigma * stretch, sigma))
        grain = fft.irfft2(wave * down[:, None] * along[None, :513], s=(1024, 1024))
        tile += contrast * (grain / grain.std()).astype(np.float32)
    return np.clip(tile, 0.2, 1.8)


def tiled(tile: Image, u: Image, v: Image) -> Image:
    """Nearest texels of a periodic tile."""
    return tile[v.astype(np.int32) & 1023, u.astype(np.int32) & 1023]


def sampled(texture: Image, u: Image, v: Image, outside: float | None = None) -> Image:
    """Bilinear samples (u right, v down; an integer is a texel centre); `outside` None repeats the edge."""
    number = u.size
    rows = -(-number // 1024)
    maps = [np.resize(c.astype(np.float32).ravel(), (rows, 1024)) for c in (u, v)]
    border = cv2.BORDER_REPLICATE if outside is None else cv2.BORDER_CONSTANT
    found = cv2.remap(texture, *maps, cv2.INTER_LINEAR, borderMode=border, borderValue=(outside or 0.0,) * 4)
    return found.reshape(rows * 1024, *found.shape[2:])[:number].reshape(*u.shape, *found.shape[2:])


@dataclass(kw_only=True)
class Ground:
    """Everything flat under the beads. Points are world (x, y), y up the sheet."""

    sheet: Sheet
    bed: str
    print_scale: float
    room: Room
    rng: np.random.Generator
    felt: tuple[float, float, float, float, float] | None = None  # left, top, right, bottom (sheet mm), turn
    table: str = "wood"
    shadow: "Shadow | None" = None
    page_shown: bool = True
    page: Image = field(init=False)

    def __post_init__(self) -> None:
        self.page = draw_sheet(self.sheet, self.bed)
        self.fibre = cloudy(self.rng, ((0.8, 0.12), (3.0, 0.07), (30.0, 0.05)))
        if self.bed == "grey-felt":
            self.fibre = cloudy(self.rng, ((1.2, 0.14), (4.0, 0.07)))
        self.grain = cloudy(self.rng, ((1.5, 0.05), (6.0, 0.1), (22.0, 0.08)), stretch=8.0)
        self.table_colour = self._table_colour()
        self.fall = self.rng.uniform(-0.0006, 0.0006, 2)  # relative change of light per mm

    def _table_colour(self) -> Array:
        if self.table == "wood":
            return np.array([0.42, 0.29, 0.17]) * self.rng.uniform(0.7, 1.2)
        if self.table == "bed":
            return np.array(BEDS[self.bed])
        return np.clip(
            np.array([0.4, 0.33, 0.28]) * self.rng.uniform(0.5, 1.5) + self.rng.normal(0, 0.025, 3), 0.05, 0.9
        )

    @property
    def bed_z(self) -> float:
        """Height of the surface that the beads lie on."""
        return FELT_MM if self.felt else 0.0

    @property
    def bounce(self) -> Array:
        """Radiance that the bed throws back up at a bead, RGB."""
        return np.array(BEDS[self.bed]) * self.room.tint * 0.8

    def radiance(self, origins: Array, rays: Array) -> Image:
        """RGB along rays that go down, shape (..., 3); `origins` broadcasts against `rays`."""
        down = -rays[..., 2]
        sheet_xy = [origins[..., i] + rays[..., i] / down * origins[..., 2] for i in (0, 1)]
        colour = self._flat(*(c.astype(np.float32) for c in sheet_xy))
        at = sheet_xy
        if self.felt:
            for z, dark in ((0.0, 0.35), (0.6, 0.5), (FELT_MM, 1.0)):
                at = [origins[..., i] + rays[..., i] / down * (origins[..., 2] - z) for i in (0, 1)]
                self._lay_felt(colour, at, dark)
        light = 1.0 + self.fall[0] * (at[0] - 140) + self.fall[1] * (at[1] + 100)
        colour *= (np.clip(light, 0.75, 1.25))[..., None]
        if self.shadow is not None:
            colour *= self.shadow.at(*at)[..., None]
        return colour

    def _flat(self, x: Image, y: Image) -> Image:
        """Sheet on table, at z = 0, in full light."""
        wood = 1.0 if self.table != "wood" else tiled(self.grain, x * 2 + 4096, y * 2 + 4096)
        colour = np.asarray(wood)[..., None] * (self.table_colour * self.room.tint).astype(np.float32)
        colour = np.broadcast_to(colour, (*x.shape, 3)).copy()
        if not self.page_shown:
            return colour
        per_mm = TEXELS_PER_MM / self.print_scale
        u, v = x * per_mm, -y * per_mm
        on_page = (u > 0) & (u < self.page.shape[1]) & (v > 0) & (v < self.page.shape[0])
        grey = sampled(self.page, u - 0.5, v - 0.5)[..., None]
        return np.where(on_page[..., None], grey * self.room.tint.astype(np.float32), colour)

    def _lay_felt(self, colour: Image, at: list[Array], dark: float) -> None:
        left, top, right, bottom, turn = self.felt
        x, y = at[0], -at[1]
        middle = (left + right) / 2, bottom
        u = (x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn) + middle[0]
        v = (y - middle[1]) * np.cos(turn) - (x - middle[0]) * np.sin(turn) + middle[1]
        inside = (u > left) & (u < right) & (v > top) & (v < bottom)
        if inside.any():
            fibre = tiled(self.fibre, u[inside] * 7 + 7168, v[inside] * 9 + 9216)
            felt = np.array(BEDS[self.bed]) * self.room.tint * dark
            colour[inside] = fibre[:, None] * felt.astype(np.float32)


def ground_for(sheet: str, bed: str, print_scale: float, *, room: Room, rng: np.random.Generator) -> Ground:
    """Lay out a sheet, its bed and the table in the usual way."""
    plan = SHEETS[sheet]
    felt = None
    if bed.endswith("felt"):
        if plan.bed_mm:
            felt = (*(v * print_scale for v in plan.bed_mm), float(rng.uniform(-0.004, 0.004)))
        else:
            felt = (-400.0, -400.0, 500.0, float(rng.uniform(-7, -2.5)), float(rng.uniform(-0.06, 0.06)))
    table = "wood" if plan.bed_mm and rng.random() < 0.7 else "plain"
    if not plan.bed_mm and felt is None:
        table = "bed"
    return Ground(sheet=plan, bed=bed, print_scale=print_scale, room=room, rng=rng, felt=felt, table=table)


@dataclass(kw_only=True)
class Shadow:
    """Share of the light that reaches the bed, as a map over world (x, y)."""

    share: Image
    corner: tuple[float, float]  # world (x, y) of the first texel's centre; rows run towards -y
    per_mm: float

    def at(self, x: Array, y: Array) -> Image:
        """Return the share of light at world points, 1 beyond the map."""
        return sampled(
            self.share, (x - self.corner[0]) * self.per_mm, (self.corner[1] - y) * self.per_mm, 1.0
        )
