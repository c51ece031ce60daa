"""Where on a mat, or round a card, beads may lie."""

import cv2
import numpy as np

from vision.camera.scene import PAGE_EDGE_MM, printed_boxes
from vision.common.records import FloatArray, Mask
from vision.sheet.geometry import Sheet
from vision.topview.orthophoto import Orthophoto

_MARGIN_MM = 0.7
"""About a card, its cut edge and the shadow there; about a tag, its blurred edge. No difference at half and
at double; without it, beads of 2 of 4 cards change, and those of one mat of 17."""
_CHANGE, _CHANGE_MM = 0.03, 0.6
"""Share of full scale by which squares of this side differ from their neighbours where anything lies: the
noise of bare paper is a third of it. At double nothing changes but the time."""
_EDGE_MM = 2.0
"""Nearer to a tag or the edge of the view these themselves are seen in the squares."""
BESIDE_MM = 2 * _EDGE_MM
"""As far from what shows a part may lie that does not; half loses a few of its cells in 5 of 73 photos."""


def bed_region(top: Orthophoto, sheet: Sheet, *, scale: float) -> Mask:
    """Return in which cells beads may lie, bool, shape (H, W)."""
    free = cv2.erode(top.seen.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0)
    if sheet.bed_mm is not None:
        left, up = _cell(top, np.full(2, PAGE_EDGE_MM))
        right, down = _cell(top, np.array(sheet.page_mm) * scale - PAGE_EDGE_MM)
        free[:up], free[down:], free[:, :left], free[:, right:] = 0, 0, 0, 0
    for low, high in printed_boxes(sheet, scale, tags=sheet.ids):
        cv2.rectangle(free, _cell(top, low - _MARGIN_MM), _cell(top, high + _MARGIN_MM), 0, cv2.FILLED)
    return free > 0


def shows_anything(top: Orthophoto, bed: Mask) -> Mask:
    """Return which cells of a bed lie where the picture changes at all, bool, shape (H, W)."""
    side = max(1, round(_CHANGE_MM * top.cells_per_mm))
    squares = cv2.resize(top.rgb, None, fx=1 / side, fy=1 / side, interpolation=cv2.INTER_AREA)
    beside, edge = (np.ones((n, n), np.uint8) for n in (3, 2 * round(_EDGE_MM * top.cells_per_mm) + 1))
    change = cv2.subtract(cv2.dilate(squares, beside), cv2.erode(squares, beside)).max(axis=2)
    shown = cv2.resize(change, bed.shape[::-1], interpolation=cv2.INTER_NEAREST) > 255 * _CHANGE
    return (cv2.erode(bed.astype(np.uint8), edge, borderValue=0) > 0) & shown


def among_things(shown: Mask, *, empty_mm: float, cells_per_mm: float) -> Mask:
    """Return which cells lie between things that show, or beside them: not in a disc of bare bed.

    `empty_mm` is the radius of the smallest disc that counts as bare.
    """
    apart = cv2.distanceTransform((~shown).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
    between = (apart < empty_mm * cells_per_mm).astype(np.uint8)
    inward = cv2.distanceTransform(between, cv2.DIST_L2, cv2.DIST_MASK_5)
    return np.asarray(inward > (empty_mm - BESIDE_MM) * cells_per_mm)


def _cell(top: Orthophoto, point_mm: FloatArray) -> tuple[int, int]:
    """Return the cell (x, y) nearest to a world point (x, y)."""
    x, y = np.round(top.to_cells(point_mm)).astype(int)
    return int(x), int(y)
