"""A pen that marks photos: smooth lines and texts with a white rim, sized to the photo."""

from collections.abc import Sequence

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from vision.common.records import FloatArray, ImageArray
from vision.marks.colours import Colour

INK: Colour = (20, 20, 20)
# A white rim makes lines and texts stand out from beads and beds of any colour.
_RIM: Colour = (255, 255, 255)

# Chosen by eye (common practice, no source).
_TEXT_LEAST, _TEXT_MOST, _STROKE = 1 / 115, 1 / 80, 1 / 1100
"""Heights of texts and width of lines over the photo's longer side."""
_TEXT_OF_BEAD = 0.6
"""Height of texts over the beads' diameter, between these limits."""
_LEGIBLE_PX = 9.0
"""Smaller type cannot be read on a screen."""
_SWATCH_GAP = 1.6
"""From the left edge of a swatch of the legend to its text, over the swatch's side."""
_SUBPIXEL_BITS = 4
"""OpenCV takes points as integers of a sixteenth of a pixel."""


class Pen:
    """Draws on a copy of a photo; texts are written last, over the lines.

    Parameters
    ----------
    rgb : ndarray, shape (H, W, 3), uint8
        The photo; it is not changed.
    bead_px : float, keyword-only
        Median diameter of its beads.
    """

    def __init__(self, rgb: ImageArray, *, bead_px: float) -> None:
        self._picture = rgb.copy()
        self._texts: list[tuple[str, FloatArray]] = []
        side = max(rgb.shape[:2])
        height = float(np.clip(_TEXT_OF_BEAD * bead_px, side * _TEXT_LEAST, side * _TEXT_MOST))
        self.text_px = max(_LEGIBLE_PX, height)
        self.stroke_px = max(2, round(side * _STROKE))
        self._font = ImageFont.load_default(self.text_px)

    @property
    def picture_px(self) -> tuple[int, int]:
        """(width, height) of the photo."""
        return self._picture.shape[1], self._picture.shape[0]

    def text_size(self, text: str) -> tuple[float, float]:
        """Return (width, height) of a text with its rim, px."""
        left, top, right, bottom = self._font.getbbox(text, anchor="ls", stroke_width=self.stroke_px)
        return right - left, bottom - top

    def lines(self, courses: Sequence[FloatArray], colour: Colour, *, closed: bool = False) -> None:
        """Draw lines through points, each shape (N, 2), (x, y); an integer is the centre of a pixel."""
        fixed = [np.round(points * 2**_SUBPIXEL_BITS).astype(np.int32) for points in courses]
        for ink, width in ((_RIM, 2 * self.stroke_px), (colour, self.stroke_px)):
            cv2.polylines(self._picture, fixed, closed, ink, width, cv2.LINE_AA, _SUBPIXEL_BITS)

    def text(self, text: str, middle: FloatArray) -> None:
        """Write a text about its middle, (x, y)."""
        self._texts.append((text, middle))

    def with_legend(self, legend: Sequence[tuple[str, Colour]]) -> ImageArray:
        """Return the picture, with a strip below it that explains the colours if there is a legend."""
        image = Image.fromarray(self._picture)
        draw = ImageDraw.Draw(image)
        for text, (x, y) in self._texts:
            draw.text((x, y), text, INK, self._font, "mm", stroke_width=self.stroke_px, stroke_fill=_RIM)
        picture = np.asarray(image)
        return np.vstack((picture, self._strip(legend))) if legend else picture

    def _strip(self, legend: Sequence[tuple[str, Colour]]) -> ImageArray:
        """Return swatches with their texts, in as many rows as the width requires."""
        width = self.picture_px[0]
        font = ImageFont.load_default(max(_LEGIBLE_PX, max(self.picture_px) * _TEXT_MOST))
        unit = round(font.getbbox("0", anchor="la")[3])
        places: list[tuple[int, int]] = []
        x = y = unit
        for text, _ in legend:
            needed = round(font.getlength(text)) + 4 * unit
            if x > unit and x + needed > width:
                x, y = unit, y + 2 * unit
            places.append((x, y))
            x += needed
        strip = Image.new("RGB", (width, y + 2 * unit), _RIM)
        draw = ImageDraw.Draw(strip)
        for (text, colour), (left, top) in zip(legend, places, strict=True):
            draw.rectangle((left, top, left + unit, top + unit), fill=colour)
            draw.text((left + _SWATCH_GAP * unit, top + unit / 2), text, INK, font, "lm")
        return np.asarray(strip)
