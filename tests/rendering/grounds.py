"""What lies under the beads: table, printed sheet, cloth, as pictures of light that they return."""

import math
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.quilting import quilted
from vision.sheet.geometry import SHEETS, TAG_FAMILY

PER_MM = 4.0
MARGIN_MM = 60.0
"""Pictures reach so far beyond the table's half sizes."""
BEDS = ("fabric", "carpet", "paper", "cork", "plaster", "wallpaper", "fabric", "fabric")


@dataclass(frozen=True, kw_only=True)
class Ground:
    """The table with its sheet, and the bed on it: linear RGB, row 0 is the largest y.

    Attributes
    ----------
    below, bed : ndarray, shape (H, W, 3), float32
        Light returned by what lies at the foot of the bed, and by the bed.
    cloth : tuple of float or None
        (left, bottom, right, top) of a bed that lies on the sheet, mm; None where beads lie on the sheet.
    thick : float
        Height of the bed, mm.
    """

    below: NDArray[np.float32]
    bed: NDArray[np.float32]
    cloth: tuple[float, float, float, float] | None
    thick: float


def any_ground(assets: Path, half: tuple[float, float], rng: np.random.Generator) -> Ground:
    """Draw a ground from photographed surfaces and a sheet."""
    reach = np.array(half) + MARGIN_MM
    size = tuple(int(v) for v in 2 * reach * PER_MM)
    below = surface(assets, size, rng)
    sheet = str(rng.choice(["mat-a4", "mat-letter", "card", "none"], p=[0.35, 0.25, 0.3, 0.1]))
    if sheet != "none":
        _print_sheet(below, sheet, half, reach, rng)
    covered = rng.random() < (0.55 if sheet.startswith("mat") else 0.6)
    cloth = None
    if covered:
        wide, tall = rng.uniform(0.75, 1.3, 2) * half
        x, y = rng.normal(0, 8, 2)
        cloth = (float(x - wide), float(y - tall), float(x + wide), float(y + tall))
    bed = surface(assets, size, rng, kinds=BEDS, plain=0.35)
    for picture in (below, bed):
        _mark(picture, rng)
    return Ground(below=below, bed=bed, cloth=cloth, thick=float(rng.uniform(0.4, 3.0)) if covered else 0.0)


def surface(
    assets: Path,
    size: tuple[int, ...],
    rng: np.random.Generator,
    *,
    kinds: tuple[str, ...] = (),
    plain: float = 0.15,
    per_mm: float = PER_MM,
) -> NDArray[np.float32]:
    """Return a picture of a surface of `size` (width, height), linear RGB."""
    if rng.random() < plain:
        picture = np.full((size[1], size[0], 3), rng.choice([0.85, 0.4, 0.18, 0.04]), np.float32)
        grain = rng.normal(0, rng.uniform(0, 0.06), picture.shape[:2])
        picture *= np.exp(cv2.GaussianBlur(grain, (0, 0), float(rng.uniform(0.6, 2.0))))[..., None].astype(
            np.float32
        )
    else:
        kind = str(rng.choice(kinds)) if kinds else "*"
        files = sorted((assets / "surface").glob(f"{kind}-*.jpg")) or sorted(
            (assets / "surface").glob("*.jpg")
        )
        tile = cv2.imread(str(files[rng.integers(len(files))])).astype(np.float32)[..., ::-1] / 255
        tile = tile**2.2
        times = float(np.exp(rng.uniform(np.log(25), np.log(110)))) * per_mm / len(tile)
        whole = quilted(tile, (math.ceil(size[0] / times), math.ceil(size[1] / times)), rng)
        picture = cv2.resize(whole, size, interpolation=cv2.INTER_CUBIC).clip(0.003, 1)
    if rng.random() < 0.5:  # another colour: the pattern stays
        grey = picture.mean(axis=2, keepdims=True)
        picture = grey + (picture - grey) * rng.uniform(0, 1)
        tint = np.exp(rng.normal(0, 0.35, 3)).astype(np.float32)
        picture = picture * tint / tint.max()
    level = float(np.exp(rng.uniform(np.log(0.03), np.log(0.75)))) if rng.random() < 0.5 else picture.mean()
    return np.clip(picture * level / picture.mean(), 0.004, 0.93).astype(np.float32)


def _print_sheet(
    picture: NDArray[np.float32],
    name: str,
    half: tuple[float, float],
    reach: NDArray[np.float64],
    rng: np.random.Generator,
) -> None:
    sheet = SHEETS[name]
    wide, tall = sheet.page_mm
    if sheet.bed_mm is not None:
        corner = np.array([-wide / 2, tall / 2]) + rng.uniform(-1, 1, 2) * (50, 35)
    else:
        corner = np.array([-wide / 2, tall / 2]) + rng.choice([-1, 1], 2) * rng.uniform(0.5, 1.1, 2) * half
    paper = np.float32(rng.uniform(0.65, 0.9)) * np.array(
        [1, rng.uniform(0.97, 1), rng.uniform(0.93, 1.0)], np.float32
    )

    def box(left: float, top: float, right: float, bottom: float) -> tuple[slice, slice]:
        columns = (corner[0] + np.array([left, right]) + reach[0]) * PER_MM
        rows = (reach[1] - corner[1] + np.array([top, bottom])) * PER_MM
        low = np.clip([columns[0], rows[0]], 0, picture.shape[1::-1])
        high = np.clip([columns[1], rows[1]], 0, picture.shape[1::-1])
        return slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))

    picture[box(0, 0, wide, tall)] = paper
    if sheet.bed_mm is not None and rng.random() < 0.5:
        picture[box(*sheet.bed_mm)] = paper * rng.uniform(0.15, 0.8)
    for tag in sheet.ids:
        (left, top), _, (right, bottom), _ = sheet.corners_mm(tag)
        rows, columns = box(left, top, right, bottom)
        pixels = TAG_FAMILY.generateImageMarker(tag, 8)
        where = picture[rows, columns]
        if min(where.shape[:2]) > 8:
            large = cv2.resize(pixels, where.shape[1::-1], interpolation=cv2.INTER_NEAREST)
            where[:] = np.where(large[..., None] > 0, paper, 0.04)


def _mark(picture: NDArray[np.float32], rng: np.random.Generator) -> None:
    """Print marks that look like beads and are none: dots, rings, writing, specks; most are faint."""
    if rng.random() < 0.35:
        layer = np.zeros(picture.shape[:2], np.uint8)
        sort = str(rng.choice(["dots", "ovals", "rings", "grid", "writing", "specks"]))
        height, width = layer.shape
        size = float(rng.uniform(1, 7)) * PER_MM
        if sort == "grid":
            pitch = size * rng.uniform(1.3, 4)
            for row in np.arange(0, height, pitch):
                for column in np.arange((row / pitch % 2) * pitch / 2, width, pitch):
                    cv2.circle(layer, (int(column), int(row)), int(size / 2), 255, -1, cv2.LINE_AA)
        else:
            for _ in range(int(rng.integers(3, 60))):
                at = (int(rng.integers(width)), int(rng.integers(height)))
                _print(layer, sort, at, size, rng)
        layer = cv2.GaussianBlur(layer.astype(np.float32) / 255, (0, 0), float(rng.uniform(0.4, 2.5)))
        faint = float(rng.choice([0.06, 0.15, 0.5, 1.5]))
        if rng.random() < 0.3:  # embossed: light on one side, dark on the other
            layer = np.roll(layer, 2, axis=0) - layer
        ink = rng.uniform(0.3, 1, 3) if rng.random() < 0.5 else np.ones(3)
        picture *= np.exp(-faint * rng.choice([-1, 1, 1]) * layer[..., None] * ink.astype(np.float32))
        np.clip(picture, 0.004, 0.95, out=picture)


def _print(
    layer: NDArray[np.uint8], sort: str, at: tuple[int, int], size: float, rng: np.random.Generator
) -> None:
    """Print one mark of a sort, about so many pixels large."""
    if sort == "dots":
        cv2.circle(layer, at, max(int(size * rng.uniform(0.3, 0.7)), 1), 255, -1, cv2.LINE_AA)
    elif sort == "ovals":
        axes = tuple(max(int(size * rng.uniform(*share)), 1) for share in ((0.5, 1.0), (0.3, 0.6)))
        cv2.ellipse(layer, at, axes, float(rng.uniform(0, 180)), 0, 360, 255, -1, cv2.LINE_AA)
    elif sort == "rings":
        cv2.circle(layer, at, max(int(size), 2), 255, max(int(size * 0.15), 1), cv2.LINE_AA)
    elif sort == "specks":
        cv2.circle(layer, at, max(int(rng.uniform(0.1, 0.6) * PER_MM), 1), 255, -1, cv2.LINE_AA)
    else:
        text = "".join(chr(int(v)) for v in rng.integers(65, 90, 4))
        cv2.putText(layer, text, at, cv2.FONT_HERSHEY_SIMPLEX, size / 14, 255, max(1, int(size / 6)))
