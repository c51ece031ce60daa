"""The surface under the beads: its colours, its grain, and how unlike it each cell of the top view is.

Light falls off over a bed and beads throw shadows on it; both scale the linear light of a surface
and leave its hue. A cell is therefore compared with the bed's colour at that place under any shading
from full light down to deep shadow, and with the bed's own noise: what remains is too colourful, too
bright, darker than a shadow, or changes more sharply than the bed's grain does.
"""

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.gradient import Band, bands, colour_gradient, summed_product
from vision.gradient import Image as Image  # noqa: PLC0414  (the maps' type, for all who use them)
from vision.orthophoto import Orthophoto
from vision.records import FloatArray
from vision.sheet import Sheet

Mask = NDArray[np.bool_]

_TILE_MM = 2.0
_BLUR_MM, _GRADIENT_MM = 0.1, 0.12
_HUE_NOISE, _LIGHT_NOISE = 1.6, 1.6
"""Codes: what the quantising of a JPEG leaves on a bare surface at the least."""
_SURFACE_STEP = 5.0
"""Neighbouring tiles of one surface differ by less than this many codes, or three times the usual step."""
_NEAR_TILES = 15
_SMALLEST_SURFACE = 0.04
_GRAIN_STEP = 0.35
_DEEPEST_SHADOW, _DEEP_SHADOW = 0.35, 0.62
"""Share of the full code value (of a tenth and of a third of the light) left in a contact shadow, and over
more than the width of `_EVEN_MM` in any."""
_EVEN_MM = 0.4
_SAMPLED_BANDS = 2
_SEAM_WEIGHT = 0.5
_BORDER_MM = 1.5
_TAG_MARGIN_MM = 0.7
_PAGE_EDGE_MM = 11.5
"""Outside the ring of tags the sheet carries its caption and its ruler line, and no beads."""
_TOP = 60.0
SHARP_WEIGHT = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """What the top view shows besides bare bed.

    Attributes
    ----------
    top : Orthophoto
    tinted : ndarray, shape (H, W)
        How far each cell's colour is from bare bed in any shading, in standard deviations, 0 to 60.
    unlike : ndarray, shape (H, W)
        The same with sharp edges counted too.
    gradient, sharp : ndarray, shape (H, W)
        Colour gradient in codes per cell, and over its 99th percentile on the bed.
    region : ndarray of bool, shape (H, W)
        Where beads may lie: seen, and no tag.
    """

    top: Orthophoto
    tinted: Image
    unlike: Image
    gradient: Image
    sharp: Image
    region: Mask


def study_bed(top: Orthophoto, sheet: Sheet, *, scale: float) -> Bed:
    """Learn the bed's colour and grain, and compare every cell with them."""
    codes = cv2.GaussianBlur(top.rgb, (0, 0), max(0.6, _BLUR_MM * top.cells_per_mm)).astype(np.float32)
    gradient = colour_gradient(top.rgb, sigma_cells=_GRADIENT_MM * top.cells_per_mm)
    region = _region(top, sheet, scale)
    tiles = _Tiles.of(codes, gradient, region, max(2, round(_TILE_MM * top.cells_per_mm)))
    labels = _mat_surfaces(tiles, top, sheet, scale) if sheet.bed_mm else _free_surfaces(tiles)
    seam = _seam(top, sheet, scale, labels)
    tinted, sharp = np.full(region.shape, _TOP, np.float32), np.zeros(region.shape, np.float32)
    for k in range(1, labels.max() + 1):
        zone = _zone(top, sheet, scale, labels, k)
        near = zone | seam
        if not near.any():
            continue
        surface = _Surface.of(_smooth_colour(tiles, labels == k), tiles.size, top.cells_per_mm)
        mine, grain = surface.compare(codes, gradient, zone & region, near)
        np.minimum(tinted, mine, out=tinted, where=near)
        np.multiply(gradient, np.float32(1 / grain), out=sharp, where=zone & ~seam)
    tinted[seam] *= _SEAM_WEIGHT
    tinted[~region], sharp[~region] = 0, 0
    unlike = np.hypot(tinted, np.minimum(SHARP_WEIGHT * sharp, _TOP))
    return Bed(top=top, tinted=tinted, unlike=unlike, gradient=gradient, sharp=sharp, region=region)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tiles:
    """Square tiles of the top view: median colour, typical gradient, share inside the region."""

    size: int
    colour: FloatArray
    gradient: FloatArray
    usable: Mask

    @classmethod
    def of(cls, codes: Image, gradient: Image, region: Mask, size: int) -> "_Tiles":
        rows, columns = codes.shape[0] // size, codes.shape[1] // size
        step = max(1, size // 6)

        def cut(image: NDArray[Any]) -> NDArray[Any]:
            whole = image[: rows * size, : columns * size].reshape(rows, size, columns, size, -1)
            some = whole[:, ::step, :, ::step].transpose(0, 2, 1, 3, 4)
            return some.reshape(rows, columns, -1, some.shape[-1])

        inside = cut(region).all(axis=(2, 3))
        return cls(
            size=size,
            colour=np.median(cut(codes), axis=2).astype(float),
            gradient=np.median(cut(gradient), axis=2)[..., 0].astype(float),
            usable=np.asarray(inside, dtype=bool),
        )

    def quiet(self, among: Mask) -> Mask:
        """Return which of some tiles show nothing but grain, compared with the tiles near by."""
        if not among.any():
            return among
        known = np.where(among, self.gradient, np.median(self.gradient[among]))
        near_by = ndimage.percentile_filter(known, 40, size=_NEAR_TILES, mode="nearest")
        return among & (self.gradient < 2.0 * near_by)


def _region(top: Orthophoto, sheet: Sheet, scale: float) -> Mask:
    """Return where beads may lie, in cells."""
    mask = cv2.erode(top.seen.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0)
    if sheet.bed_mm is not None:  # the table beyond the page is no place for beads
        a = np.round(top.to_cells(np.full(2, _PAGE_EDGE_MM))).astype(int)
        b = np.round(top.to_cells(np.array(sheet.page_mm) * scale - _PAGE_EDGE_MM)).astype(int)
        mask[: a[1]], mask[b[1] :], mask[:, : a[0]], mask[:, b[0] :] = 0, 0, 0, 0

    def blank(low: FloatArray, high: FloatArray) -> None:
        a, b = (np.round(top.to_cells(v)).astype(int) for v in (low, high))
        cv2.rectangle(mask, (int(a[0]), int(a[1])), (int(b[0]), int(b[1])), 0, cv2.FILLED)

    if sheet.bed_mm is None:
        blank(np.zeros(2) - _BORDER_MM, np.array(sheet.page_mm) * scale + _BORDER_MM)
        return mask > 0
    for tag_id in sheet.ids:
        square = sheet.corners_mm(tag_id) * scale
        blank(square.min(axis=0) - _TAG_MARGIN_MM, square.max(axis=0) + _TAG_MARGIN_MM)
    return mask > 0


def _mat_surfaces(tiles: _Tiles, top: Orthophoto, sheet: Sheet, scale: float) -> NDArray[np.int32]:
    """Label tiles of the bed 1 and those of the paper around it 2."""
    rows, columns = tiles.usable.shape
    x, y = ((np.arange(n) + 0.5) * tiles.size for n in (columns, rows))
    (left, up), (right, down) = _bed_corners(top, sheet, scale)
    inside = ((x > left) & (x < right))[None] & ((y > up) & (y < down))[:, None]
    return np.where(inside, 1, 2).astype(np.int32)


def _free_surfaces(tiles: _Tiles) -> NDArray[np.int32]:
    """Label tiles by the surface that they belong to or are nearest to: evenly coloured stretches."""
    quiet = tiles.quiet(tiles.usable)
    right = np.linalg.norm(np.diff(tiles.colour, axis=1), axis=2)
    down = np.linalg.norm(np.diff(tiles.colour, axis=0), axis=2)
    both_right, both_down = quiet[:, 1:] & quiet[:, :-1], quiet[1:] & quiet[:-1]
    grain = np.log(np.maximum(cv2.medianBlur(tiles.gradient.astype(np.float32), 3), 0.3))
    both_right &= np.abs(np.diff(grain, axis=1)) < _GRAIN_STEP
    both_down &= np.abs(np.diff(grain, axis=0)) < _GRAIN_STEP
    fine = np.zeros((2 * quiet.shape[0] - 1, 2 * quiet.shape[1] - 1), dtype=bool)
    fine[::2, ::2] = quiet
    fine[::2, 1::2] = both_right & (right < _largest_step(right))
    fine[1::2, ::2] = both_down & (down < _largest_step(down))
    labels = ndimage.label(fine)[0][::2, ::2]
    area = np.bincount(labels.ravel())
    area[0] = 0
    large = np.flatnonzero(area > _SMALLEST_SURFACE * tiles.usable.sum())
    large = large if len(large) else np.array([int(np.argmax(area))])
    kept = np.where(np.isin(labels, large), labels, 0)
    nearest = ndimage.distance_transform_edt(kept == 0, return_distances=False, return_indices=True)
    return np.unique(kept[tuple(nearest)], return_inverse=True)[1].reshape(kept.shape).astype(np.int32) + 1


def _largest_step(steps: FloatArray) -> FloatArray:
    """Return by how much neighbouring tiles of one surface may differ: felt varies more than paper."""
    usual = ndimage.median_filter(steps, size=_NEAR_TILES, mode="nearest")
    return np.maximum(_SURFACE_STEP, 3 * usual)


def _powers(x: FloatArray, y: FloatArray) -> FloatArray:
    """Monomials up to the third degree, shape (..., 10); x and y within -1 to 1."""
    return np.stack([x**i * y**j for i in range(4) for j in range(4 - i)], axis=-1)


def _smooth_colour(tiles: _Tiles, mine: Mask) -> FloatArray:
    """Fit a surface's colour by a cubic in x and y, robustly; shape (rows, columns, 3)."""
    rows, columns = mine.shape
    y, x = np.mgrid[0:rows, 0:columns] / np.array([rows, columns])[:, None, None] * 2 - 1
    basis = _powers(x, y)
    use = tiles.quiet(mine & tiles.usable)
    if use.sum() < 40:
        use = mine
    A, b = basis[use], tiles.colour[use]
    fitted = np.broadcast_to(_mode(b), b.shape)
    ridge = 0.02 * len(A) * np.diag([0.0] + [1.0] * 9)
    coefficients = np.zeros((10, 3))
    for _ in range(12):
        miss = np.linalg.norm(b - fitted, axis=1)
        width = 4 * max(_LIGHT_NOISE, float(np.median(np.minimum(miss, 3 * np.median(miss) + 1))))
        weight = np.maximum(0, 1 - (miss / width) ** 2) ** 2 + 1e-6
        W = A * weight[:, None]
        coefficients = np.linalg.solve(W.T @ A + ridge * weight.mean() * 0.01, W.T @ b)
        fitted = A @ coefficients
    return basis @ coefficients


def _mode(colours: FloatArray) -> FloatArray:
    """Return the commonest colour: the densest place among up to 400 of them."""
    some = colours[:: max(1, len(colours) // 400)]
    apart = np.linalg.norm(some[:, None] - some[None], axis=2)
    near = np.exp(-((apart / 10.0) ** 2)).sum(axis=1)
    return np.asarray(some[int(np.argmax(near))])


def _bed_corners(top: Orthophoto, sheet: Sheet, scale: float) -> FloatArray:
    """Return the top-left and bottom-right corners of a mat's bed in cells, shape (2, 2)."""
    return top.to_cells(np.array(sheet.bed_mm, dtype=float).reshape(2, 2) * scale)


def _bed_rectangle(top: Orthophoto, sheet: Sheet, scale: float) -> NDArray[np.uint8]:
    mask = np.zeros(top.seen.shape, np.uint8)
    a, b = np.round(_bed_corners(top, sheet, scale)).astype(int)
    cv2.rectangle(mask, (int(a[0]), int(a[1])), (int(b[0]), int(b[1])), 1, cv2.FILLED)
    return mask


def _zone(top: Orthophoto, sheet: Sheet, scale: float, labels: NDArray[np.int32], k: int) -> Mask:
    """Return the cells of surface k."""
    if sheet.bed_mm is not None:
        return (_bed_rectangle(top, sheet, scale) > 0) == (k == 1)
    size = top.seen.shape[::-1]
    return cv2.resize((labels == k).astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0


def _seam(top: Orthophoto, sheet: Sheet, scale: float, labels: NDArray[np.int32]) -> Mask:
    """Return the cells near where two surfaces meet, and the cut edge of a felt with its shadow."""
    if sheet.bed_mm is not None:
        image = _bed_rectangle(top, sheet, scale)
        reach = _BORDER_MM
    else:
        size = top.seen.shape[::-1]
        image = np.asarray(
            cv2.resize(labels.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST), np.uint8
        )
        reach = _BORDER_MM + _TILE_MM
    kernel = np.ones((2 * round(reach * top.cells_per_mm) + 1,) * 2, np.uint8)
    return np.asarray(cv2.dilate(image, kernel) != cv2.erode(image, kernel))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Noise:
    """What a surface's own cells scatter by: hue and light (codes), light evened out, gradient."""

    hue: float
    light: float
    even: float
    gradient: float

    @classmethod
    def of(cls, sampled: FloatArray) -> "_Noise":
        """Learn it from cells (N, 5): colour's length, squared hue, over, evened over, gradient."""
        near = np.abs(sampled[:, 2]) < 0.25 * sampled[:, 0] + 10
        _, hue_squared, over, even, gradient = (sampled[near] if near.any() else sampled).T
        if not len(sampled):
            return cls(hue=_HUE_NOISE, light=_LIGHT_NOISE, even=_LIGHT_NOISE / 2, gradient=2.0)
        return cls(
            hue=max(_HUE_NOISE, float(np.sqrt(max(np.median(hue_squared), 0.0)))),
            light=max(_LIGHT_NOISE, 1.4826 * float(np.median(np.abs(over)))),
            even=max(_LIGHT_NOISE / 2, 1.4826 * float(np.median(np.abs(even)))),
            gradient=max(2.0, 2.2 * float(np.percentile(gradient, 55))),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Surface:
    """A surface's colour in the middle of each tile: its length and its direction, (rows, columns, 4)."""

    tiles: Image
    tile_size: int
    cells_per_mm: float

    @classmethod
    def of(cls, colour: FloatArray, tile_size: int, cells_per_mm: float) -> "_Surface":
        """Take it from a surface's smooth colour, shape (rows, columns, 3)."""
        length = np.maximum(np.linalg.norm(colour, axis=2, keepdims=True), 1.0)
        tiles = np.concatenate([length, colour / length], axis=2).astype(np.float32)
        return cls(tiles=tiles, tile_size=tile_size, cells_per_mm=cells_per_mm)

    def compare(self, codes: Image, gradient: Image, zone: Mask, near: Mask) -> tuple[Image, float]:
        """Return how unlike it cells are, in its standard deviations, and its largest gradient.

        Parameters
        ----------
        codes, gradient : ndarray, shapes (H, W, 3) and (H, W)
        zone, near : ndarray of bool, shape (H, W)
            Where it alone lies, to learn its noise from, and where else it is compared.
        """
        parts = list(bands(len(codes), halo=math.ceil(4 * _EVEN_MM * self.cells_per_mm)))
        samples = np.empty((0, 5))
        for band in [b for b in parts if zone[b.rows].any()][::_SAMPLED_BANDS]:
            maps = (*self._apart(codes, band), gradient[band.rows])
            chosen = zone[band.rows][::5, ::5]
            samples = np.append(samples, np.stack([m[::5, ::5][chosen] for m in maps], axis=-1), axis=0)
        noise = _Noise.of(samples)
        unlike = np.full(zone.shape, _TOP, dtype=np.float32)
        for band in parts:
            if near[band.rows].any():
                unlike[band.rows] = _unlike(*self._apart(codes, band), noise)
        return unlike, noise.gradient

    def _apart(self, codes: Image, band: Band) -> tuple[Image, Image, Image, Image]:
        """Return the rows of a band: colour's length, squared distance in hue, excess of light, evened."""
        seen = codes[band.seen]
        first = (band.seen.start + 0.5) / self.tile_size - 0.5  # a pixel's middle is its coordinate
        scale, edge = 1 / self.tile_size, 0.5 / self.tile_size - 0.5
        colour = cv2.warpAffine(
            self.tiles,
            np.array([[scale, 0, edge], [0, scale, first]]),
            seen.shape[1::-1],
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        length = np.ascontiguousarray(colour[..., 0], dtype=np.float32)
        along = summed_product(seen, np.ascontiguousarray(colour[..., 1:], dtype=np.float32))
        over: Image = along - length
        even = np.asarray(cv2.GaussianBlur(over, (0, 0), _EVEN_MM * self.cells_per_mm), dtype=np.float32)
        hue_squared: Image = summed_product(seen, seen) - along * along
        return length[band.inner], hue_squared[band.inner], over[band.inner], even[band.inner]


def _unlike(length: Image, hue_squared: Image, over: Image, even: Image, noise: _Noise) -> Image:
    """Return how unlike a surface cells are by hue, by too much light, and by less than in any shadow."""
    bright = np.maximum(over, 0) / noise.light
    dark = (_DEEPEST_SHADOW - 1) / noise.light * length - over / noise.light - 2
    shade = (_DEEP_SHADOW - 1) / noise.even * length - even / noise.even - 2
    darker = np.maximum(np.maximum(dark, shade), 0)
    squared = np.maximum(hue_squared, 0) / noise.hue**2 + bright**2 + darker**2
    return np.asarray(np.minimum(np.sqrt(squared), _TOP))
