"""Something lies over or beside a bead: glare, a finger, a coin."""

from dataclasses import replace

import cv2
import numpy as np

from tests.perturbed.case import Case, Way
from vision.common.records import FloatArray

_FINGER_MM, _COIN_MM = 16.0, 21.0
_SKIN, _METAL = np.array([205.0, 150.0, 125.0]), np.array([150.0, 148.0, 140.0])
_CLEAR_BEADS = 0.6
"""What lies beside beads stays so many sizes of one from their centres."""
_EDGE_PX = 1.0
"""Softness of a pasted outline."""


def _grid(case: Case) -> FloatArray:
    """Return the coordinates (x, y) of every pixel, shape (H, W, 2)."""
    columns, rows = case.size_px
    return np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1).astype(float)


def _middle(case: Case) -> FloatArray:
    """Return the centre of the bead in the middle: of the strand, or nearest to the middle of the lot."""
    if case.command == "strand":
        return case.px[len(case.px) // 2]
    return case.px[np.argmin(np.linalg.norm(case.px - case.px.mean(axis=0), axis=1))]


def _pasted(case: Case, colour: FloatArray, inside_px: FloatArray) -> Case:
    """Paste a colour (H, W, 3) where the distance within its outline (H, W) is positive."""
    share = np.clip(inside_px / _EDGE_PX + 0.5, 0, 1)[..., None]
    rgb = case.rgb * (1 - share) + np.clip(colour, 0, 255) * share
    return replace(case, rgb=rgb.round().astype(np.uint8))


def glare(beads: float) -> Way:
    """Put a bright, soft spot over the middle bead, its standard deviation so many beads."""

    def way(case: Case) -> Case:
        away = np.linalg.norm(_grid(case) - _middle(case), axis=-1)
        light = 2 * 255 * np.exp(-0.5 * (away / (beads * case.bead_px)) ** 2)[..., None]
        return replace(case, rgb=np.clip(case.rgb + light, 0, 255).astype(np.uint8))

    return way


def finger(*, over: bool) -> Way:
    """Let a finger point at the middle bead from the nearest edge of the picture, or cover it."""

    def way(case: Case) -> Case:
        bead, half = _middle(case), _FINGER_MM / 2 * case.px_per_mm
        width, height = case.size_px
        edges = np.array([[0, bead[1]], [width, bead[1]], [bead[0], 0], [bead[0], height]], dtype=float)
        from_edge = edges[np.argmin(np.linalg.norm(edges - bead, axis=1))]
        towards = (bead - from_edge) / np.linalg.norm(bead - from_edge)

        def inside(points: FloatArray, back_px: float) -> FloatArray:
            from_tip = points - bead + back_px * towards
            along = np.minimum(from_tip @ towards, 0)[..., None]
            return half - np.linalg.norm(from_tip - along * towards, axis=-1)

        back_px = 0.0
        while not over and inside(case.px, back_px).max() > -_CLEAR_BEADS * case.bead_px:
            back_px += 1
        depth = inside(_grid(case), back_px)
        # Lambert's cosine over a cylinder.
        shade = np.sqrt(np.clip(1 - (1 - depth / half) ** 2, 0.0, 1))[..., None]
        return _pasted(case, _SKIN * (0.45 + 0.6 * shade), depth)

    return way


def coin(*, over: bool) -> Way:
    """Lay a coin over half of the middle bead, or as near to it as it covers no bead."""

    def way(case: Case) -> Case:
        half = _COIN_MM / 2 * case.px_per_mm
        away = _grid(case) - _beside(case, half if over else half + _CLEAR_BEADS * case.bead_px, over=over)
        depth = half - np.linalg.norm(away, axis=-1)
        slope = 0.2 * (away @ np.array([-0.6, -0.8]) / half)
        rim = 0.25 * np.exp(-0.5 * ((depth - 0.06 * half) / (0.03 * half)) ** 2)
        relief = cv2.GaussianBlur(np.random.default_rng(1).normal(0, 1, depth.shape), (0, 0), 0.06 * half)
        shade = 1 + slope + rim + 0.1 * relief / relief.std()
        return _pasted(case, _METAL * shade[..., None], depth)

    return way


def _beside(case: Case, reach_px: float, *, over: bool) -> FloatArray:
    """Return a place so far from the middle bead; unless `over` it, so far from every bead or farther."""
    turns = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    directions = np.column_stack([np.cos(turns), np.sin(turns)])
    for distance in np.arange(reach_px, max(case.size_px), 1 + reach_px / 10):
        places = _middle(case) + distance * directions
        # The second nearest where the nearest is the bead that is to be covered.
        nearest = np.sort(np.linalg.norm(places[:, None] - case.px, axis=-1), axis=1)[:, int(over)]
        if over or nearest.max() >= 0.999 * reach_px:
            return np.asarray(places[np.argmax(nearest)])
    return np.zeros(2)


COVERED: dict[str, Way] = {
    "glare of half a bead": glare(0.5),
    "glare of two beads": glare(2.0),
    "finger over a bead": finger(over=True),
    "finger beside a bead": finger(over=False),
    "coin over half a bead": coin(over=True),
    "coin beside a bead": coin(over=False),
}
