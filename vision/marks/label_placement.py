"""Places short texts beside things in a picture so that they cover neither the things nor each other."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray, Mask

_ROWS = 4
"""Distances from its thing at which a label is tried."""
_ROW_PITCH, _GAP, _MARGIN = 1.15, 0.3, 0.1
"""Between these distances, from thing to label, and about a label; in heights of the label, chosen by eye."""
_CUT_OFF = 4
"""A label cut off by the picture's edge is as bad as one that touches so many things."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Things:
    """Round things to be labelled, or only kept free; all lengths in px.

    Attributes
    ----------
    centres : ndarray, shape (N, 2)
        (x, y).
    radii : ndarray, shape (N,)
        Largest distance of a thing's outline from its centre.
    picture_px : tuple of int
        (width, height) of the picture that they are in.
    """

    centres: FloatArray
    radii: FloatArray
    picture_px: tuple[int, int]


def place_labels(
    things: Things, *, sizes: FloatArray, directions: FloatArray, inside: Mask, else_inside: bool
) -> FloatArray:
    """Return the centre of each thing's label, shape (N, 2), (x, y).

    A label outside its thing is placed as near to it as possible without touching a thing, a label placed
    before or the picture's edge, and where no other thing lies between. If no place is free, it stands in the
    middle of its thing after all, or the place is taken that touches least.

    Parameters
    ----------
    things : Things
    sizes : ndarray, shape (N, 2)
        (width, height) of each label, px.
    directions : ndarray, shape (N, D, 2)
        Unit vectors in which each label may stand from its thing, best first.
    inside : ndarray, shape (N,), bool
        Which labels stand in the middle of their things.
    else_inside : bool
        Whether those that have no free place do so too.
    """
    centres, steps = np.empty_like(things.centres), np.arange(_ROWS) * _ROW_PITCH + _GAP
    placed = boxes_about(things.centres[inside], sizes[inside])
    for k, centre in enumerate(things.centres):
        if inside[k]:
            centres[k] = centre
        else:
            # row by row outwards, in all directions
            away_px = things.radii[k] + np.abs(directions[k]) @ sizes[k] / 2 + steps[:, None] * sizes[k][1]
            places = centre + directions[k] * away_px[..., None]
            places = places.reshape(-1, 2)
            bad = touched(places, things, size=sizes[k], placed=placed) + _led_over(places, things, k)
            centres[k] = centre if else_inside and bad.min() else places[np.argmin(bad)]
            placed = np.vstack((placed, boxes_about(centres[k][None], sizes[k])))
    return centres


def touched(places: FloatArray, things: Things, *, size: FloatArray, placed: FloatArray) -> NDArray[np.int64]:
    """Return how many things and labels a label touches at each place; its being cut off counts as some.

    Places are centres (P, 2); `placed` (L, 4) are (left, top, right, bottom) of labels already placed.
    """
    boxes = boxes_about(places, size + 2 * _MARGIN * size[1])
    leaves = (boxes[:, :2] < 0).any(axis=1) | (boxes[:, 2:] > np.array(things.picture_px)).any(axis=1)
    return _overlaps(boxes, placed) + _hits(boxes, things) + _CUT_OFF * leaves


def boxes_about(centres: FloatArray, size: FloatArray) -> FloatArray:
    """Return (left, top, right, bottom) of boxes of one size, or one each, shape (N, 4)."""
    return np.hstack((centres - size / 2, centres + size / 2))


def _led_over(places: FloatArray, things: Things, own: int) -> NDArray[np.int64]:
    """Return how many other things the straight line from one's own to a label at each place leads over."""
    ways = places - things.centres[own]
    off = things.centres - things.centres[own]
    along = np.clip((off @ ways.T) / np.maximum((ways**2).sum(axis=1), 1e-9), 0, 1)
    apart = np.linalg.norm(off[:, None] - along[..., None] * ways, axis=2)
    over = apart < things.radii[:, None]
    over[own] = False
    return over.sum(axis=0)


def _overlaps(boxes: FloatArray, placed: FloatArray) -> NDArray[np.int64]:
    """Return for each box how many of the placed ones it overlaps."""
    low = np.maximum(boxes[:, None, :2], placed[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], placed[None, :, 2:])
    return np.asarray((low < high).all(axis=2).sum(axis=1))


def _hits(boxes: FloatArray, things: Things) -> NDArray[np.int64]:
    """Return for each box how many things it overlaps, taken as circles."""
    away = things.centres[None].clip(boxes[:, None, :2], boxes[:, None, 2:]) - things.centres
    return np.asarray((np.linalg.norm(away, axis=2) < things.radii).sum(axis=1))
