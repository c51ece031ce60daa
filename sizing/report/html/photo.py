"""The annotated photo as part of a page: cut to its marks, and small enough to send by mail."""

import base64
import io
import math
from collections.abc import Iterable, Sequence

import numpy as np
from PIL import Image

from sizing.report.html.page import Picture
from vision.common.records import ImageArray

LARGEST_BYTES = 1_200_000
"""Of all photos of a page together; written as text they take a third more."""

_LONGEST_SIDE_PX = 1800
_LEAST_SIDE_PX = 480
_QUALITY = 82
_MARGIN = 0.03


def cut_to_marks(photo: ImageArray, marked: ImageArray) -> ImageArray:
    """Return the part of a marked photo that holds all its marks, and a margin.

    Parameters
    ----------
    photo : ndarray, shape (H, W, 3), uint8
        Before it was marked.
    marked : ndarray, shape (H or more, W, 3), uint8
        Anything below the photo's height, as a printed legend, is left out.
    """
    height, width = photo.shape[:2]
    drawn = (marked[:height] != photo).any(axis=2)
    if not drawn.any():
        return marked[:height]
    margin = round(_MARGIN * max(height, width))
    rows, columns = (np.flatnonzero(drawn.any(axis=axis)) for axis in (1, 0))
    return marked[
        max(rows[0] - margin, 0) : min(rows[-1] + margin, height),
        max(columns[0] - margin, 0) : columns[-1] + margin,
    ]


def pictures(cuts: Iterable[ImageArray], texts: Sequence[tuple[str, str]]) -> list[Picture]:
    """Return photos for a page, all scaled down until they are small enough together.

    Parameters
    ----------
    cuts : iterable of ndarray, shape (H, W, 3), uint8
        Taken one by one, because full-size photos fill the memory.
    texts : sequence of (str, str)
        Alternative text and caption of each.
    """
    images = [_scaled(Image.fromarray(cut), _LONGEST_SIDE_PX) for cut in cuts]
    side_px, files = _LONGEST_SIDE_PX, [_encode(image) for image in images]
    while (total := sum(map(len, files))) > LARGEST_BYTES and side_px > _LEAST_SIDE_PX:
        side_px = max(int(0.95 * side_px * math.sqrt(LARGEST_BYTES / total)), _LEAST_SIDE_PX)
        images = [_scaled(image, side_px) for image in images]
        files = [_encode(image) for image in images]
    return [
        Picture(
            source=f"data:image/jpeg;base64,{base64.b64encode(file).decode()}",
            size_px=image.size,
            alt=alt,
            caption=caption,
        )
        for image, file, (alt, caption) in zip(images, files, texts, strict=True)
    ]


def _scaled(image: Image.Image, side_px: int) -> Image.Image:
    """Return an image whose longer side has at most so many pixels."""
    smaller = image.copy()
    smaller.thumbnail((side_px, side_px), Image.Resampling.LANCZOS)
    return smaller


def _encode(image: Image.Image) -> bytes:
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=_QUALITY, optimize=True, progressive=True)
    return stream.getvalue()
