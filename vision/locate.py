"""Where on the sheet objects lie: what is sharper than the bed's own grain, or of another colour.

No colour is assumed of beads or bed. The result is a mask on blocks of about half a millimetre,
enough to know where to look; outlines and sizes come later from the photo's own pixels.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.filters import apply_hysteresis_threshold

from vision.bed import study_bed
from vision.gradient import Image, block_medians, block_peaks, grain_level
from vision.orthophoto import Orthophoto
from vision.records import FloatArray, Mask
from vision.sheet import Sheet

_BLOCK_MM = 0.5
_GRAIN_WINDOW_MM = 25.0
_EDGE_RATIO = 2.5
"""An edge is this many times sharper than the bed's grain: of bare bed under one block in 500 is."""
_WEAK_EDGE_RATIO = 2.0
"""Where it joins a sharp one, a weaker edge counts too: outlines fade where the light is alike."""
_UNLIKE = 5.0
"""A block mostly this many standard deviations off the bed's colour, in whatever shade, is no bed."""
_CLOSE_MM = 1.5
_KNOWN_MARGIN_MM = 1.2
_OUTSIDE_TAGS_MM = 11.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Blocks of the orthophoto with what is known of each.

    Attributes
    ----------
    ratio : ndarray, shape (H, W)
        Sharpest edge in the block over the bed's grain near by; 0 where `known`.
    unlike : ndarray, shape (H, W)
        How unlike the bed's the colour of most of the block is, in standard deviations of the bed.
    known : ndarray of bool, shape (H, W)
        Tags, the borders of sheet and bed, and what the photo does not show.
    blocks_per_mm : float
    origin_mm : tuple of float
        World (x, y) of the centre of block (0, 0).
    """

    ratio: Image
    unlike: Image
    known: Mask
    blocks_per_mm: float
    origin_mm: tuple[float, float]

    def to_mm(self, blocks: FloatArray) -> FloatArray:
        """World (x, y) of block coordinates (x, y), shape (..., 2)."""
        return np.asarray(blocks) / self.blocks_per_mm + np.array(self.origin_mm)


def survey(top: Orthophoto, sheet: Sheet, *, scale: float) -> Surroundings:
    """Compare every block's sharpest edge with the bed's own grain."""
    bed = study_bed(top, sheet, scale=scale)
    block = max(1, round(_BLOCK_MM * top.cells_per_mm))
    margin = disc(_CLOSE_MM * top.cells_per_mm)
    unseen = ~cv2.erode(top.seen.astype(np.uint8), margin, borderValue=0).astype(bool)
    known = block_peaks((_known_things(top, sheet, scale) | unseen).astype(np.float32), block) > 0
    peaks = block_peaks(bed.gradient, block)
    per_mm = top.cells_per_mm / block
    grain = grain_level(peaks, known, window=round(_GRAIN_WINDOW_MM * per_mm))
    first = (block - 1) / 2 / top.cells_per_mm
    return Surroundings(
        ratio=np.where(known, 0, peaks / grain),
        unlike=np.where(known, 0, block_medians(bed.unlike, block)),
        known=known,
        blocks_per_mm=per_mm,
        origin_mm=(top.origin_mm[0] + first, top.origin_mm[1] + first),
    )


def solid_mask(around: Surroundings) -> Mask:
    """Return a mask of all that is enclosed by sharp edges, thin things (wire, lines) included."""
    edges = apply_hysteresis_threshold(around.ratio, _WEAK_EDGE_RATIO, _EDGE_RATIO)
    coloured = around.unlike > _UNLIKE
    closed = cv2.morphologyEx(
        (edges | coloured).astype(np.uint8), cv2.MORPH_CLOSE, disc(_CLOSE_MM * around.blocks_per_mm)
    )
    return np.asarray(ndimage.binary_fill_holes(closed), dtype=bool)


def thick_part(mask: Mask, around: Surroundings, *, width_mm: float) -> Mask:
    """Return what is left of a mask when everything narrower than `width_mm` is taken away."""
    kernel = disc(width_mm / 2 * around.blocks_per_mm)
    return cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel).astype(bool)


def disc(radius: float) -> NDArray[np.uint8]:
    """Return a round structuring element of at least one cell's radius."""
    reach = max(1, round(radius))
    y, x = np.ogrid[-reach : reach + 1, -reach : reach + 1]
    return (x * x + y * y <= reach * reach + 0.5).astype(np.uint8)


def _known_things(top: Orthophoto, sheet: Sheet, scale: float) -> Mask:
    """Mask the tags and the printed borders, in cells; the card as a whole."""
    mask = np.zeros(top.seen.shape, dtype=np.uint8)

    def corner(x: float, y: float) -> tuple[int, int]:
        at = np.round(top.to_cells(np.array([x, y])))
        return int(at[0]), int(at[1])

    for tag_id in sheet.ids:
        square = sheet.corners_mm(tag_id) * scale
        low, high = square.min(axis=0) - _KNOWN_MARGIN_MM, square.max(axis=0) + _KNOWN_MARGIN_MM
        cv2.rectangle(mask, corner(*low), corner(*high), 1, cv2.FILLED)
    width = max(1, round(2 * _KNOWN_MARGIN_MM * top.cells_per_mm))
    page = (scale * sheet.page_mm[0], scale * sheet.page_mm[1])
    if sheet.bed_mm is None:
        cv2.rectangle(mask, corner(0, 0), corner(*page), 1, cv2.FILLED)
    else:
        # outside the ring of tags the sheet carries its caption and its ruler line, and no beads
        rim = scale * _OUTSIDE_TAGS_MM
        cv2.rectangle(
            mask,
            corner(rim / 2, rim / 2),
            corner(page[0] - rim / 2, page[1] - rim / 2),
            1,
            max(1, round(rim * top.cells_per_mm)),
        )
        left, top_, right, bottom = (scale * edge for edge in sheet.bed_mm)
        cv2.rectangle(mask, corner(left, top_), corner(right, bottom), 1, width)
    return mask > 0
