"""Puts short texts near things in a picture so that they hide neither the things nor each other."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.common.records import FloatArray

# In label heights.
_ROWS = 4
_ROW_PITCH = 1.15
_GAP = 0.3
_MARGIN = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Things:
    """Round things to be labelled, or only kept free; all lengths in px.

    Attributes
    ----------
    centres : ndarray, shape (N, 2)
        (x, y).
    radii : ndarray, shape (N,)
        Largest reach from the centre.
    picture_px : tuple of int
        (width, height) of the picture that they are in.
    """

    centres: FloatArray
    radii: FloatArray
    picture_px: tuple[int, int]


def place_labels(
    things: Things, sizes: FloatArray, directions: FloatArray, *, inside: NDArray[np.bool_]
) -> FloatArray:
    """Return the centre of each thing's label, shape (N, 2), (x, y).

    Labels that do not go inside their things stand beside them, as near as they can without touching
    a thing, a label placed before or the picture's edge; where no place is free, where least is touched.

    Parameters
    ----------
    sizes : ndarray, shape (N, 2)
        (width, height) of each label, px.
    directions : ndarray, shape (N, D, 2)
        Unit vectors in which each label may move off, best first.
    inside : ndarray, shape (N,), bool
        Which labels go to the middle of their things.
    """
    centres = np.empty_like(things.centres)
    placed = boxes_about(things.centres[inside], sizes[inside])
    for k, centre in enumerate(things.centres):
        if inside[k]:
            centres[k] = centre
        else:
            places = _places_beside(centre, things.radii[k], sizes[k], directions[k])
            centres[k] = freest(places, sizes[k], things, placed)
            placed = np.vstack((placed, boxes_about(centres[k][None], sizes[k])))
    return centres


def freest(places: FloatArray, size: FloatArray, things: Things, placed: FloatArray) -> FloatArray:
    """Return that place, shape (2,), where a label touches least; of equal ones the first.

    Parameters
    ----------
    places : ndarray, shape (P, 2)
        Possible centres of the label, best first.
    size : ndarray, shape (2,)
        (width, height) of the label, px.
    placed : ndarray, shape (L, 4)
        (left, top, right, bottom) of the labels that stand already.
    """
    boxes = boxes_about(places, size + 2 * _MARGIN * size[1])
    leaves = (boxes[:, :2] < 0).any(axis=1) | (boxes[:, 2:] > np.array(things.picture_px)).any(axis=1)
    # A label that is cut off is worse than one that touches a few others.
    touched = _overlaps(boxes, placed) + _hits(boxes, things) + 4 * leaves
    best: FloatArray = places[np.argmin(touched)]
    return best


def boxes_about(centres: FloatArray, size: FloatArray) -> FloatArray:
    """Return (left, top, right, bottom) of boxes of one size, or one each, shape (N, 4)."""
    return np.hstack((centres - size / 2, centres + size / 2))


def _places_beside(centre: FloatArray, radius: float, size: FloatArray, directions: FloatArray) -> FloatArray:
    """Return label centres beside one thing, row by row outwards, shape (rows * D, 2)."""
    support = np.abs(directions) @ size / 2
    steps = (np.arange(_ROWS) * _ROW_PITCH + _GAP) * size[1]
    distance = radius + support[None] + steps[:, None]
    places: FloatArray = centre + distance[..., None] * directions[None]
    return places.reshape(-1, 2)


def _overlaps(boxes: FloatArray, placed: FloatArray) -> NDArray[np.int64]:
    """Count for each box the placed ones that it overlaps."""
    low = np.maximum(boxes[:, None, :2], placed[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], placed[None, :, 2:])
    count: NDArray[np.int64] = (low < high).all(axis=2).sum(axis=1)
    return count


def _hits(boxes: FloatArray, things: Things) -> NDArray[np.int64]:
    """Count for each box the things whose circle it overlaps."""
    nearest = things.centres[None].clip(boxes[:, None, :2], boxes[:, None, 2:])
    away = nearest - things.centres
    count: NDArray[np.int64] = (np.hypot(away[..., 0], away[..., 1]) < things.radii).sum(axis=1)
    return count
