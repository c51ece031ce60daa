"""Where on the sheet, and round a card, beads may lie."""

import cv2
import numpy as np

from vision.common.records import FloatArray, Mask
from vision.sheet.geometry import Sheet
from vision.topview.orthophoto import Orthophoto

_BORDER_MM = 1.5
_TAG_MARGIN_MM = 0.7
_PAGE_EDGE_MM = 11.5
"""Outside the ring of tags the sheet carries its caption and its ruler line, and no beads."""


def bed_region(top: Orthophoto, sheet: Sheet, *, scale: float) -> Mask:
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
