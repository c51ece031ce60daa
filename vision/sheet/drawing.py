"""Draws the pages of the printed scale sheets: as vector PDF or SVG, or as PNG at 600 dots an inch."""

import io
from html import escape

import numpy as np
from PIL import Image, ImageDraw, ImageFont
from reportlab.lib.units import mm as POINTS_PER_MM  # noqa: N812 - a constant of the library
from reportlab.pdfgen.canvas import Canvas

from vision.common.records import FloatArray, ImageArray
from vision.image.photo import encode_image
from vision.sheet.layout import INK, Page

PNG_DPI = 600.0
"""What home printers resolve: a dot is 0.042 mm."""
_MM_PER_INCH = 25.4
"""Exactly (ISO 80000-3)."""


def render(page: Page, suffix: str) -> bytes:
    """Draw a page as a file of the format that a suffix names: `.pdf`, `.svg` or `.png`.

    Raises
    ------
    ValueError
        If the suffix is another.

    Examples
    --------
    >>> from vision.sheet.geometry import SHEETS
    >>> from vision.sheet.layout import lay_out
    >>> render(lay_out(SHEETS["card"]), ".svg").splitlines()[1].decode()
    '  width="100mm" height="70mm" viewBox="0 0 100 70">'
    """
    try:
        draw = _RENDERERS[suffix.lower()]
    except KeyError:
        allowed = ", ".join(_RENDERERS)
        raise ValueError(f"suffix must be one of {allowed}, got {suffix!r}") from None
    return draw(page)


def _render_pdf(page: Page) -> bytes:
    """Draw in PDF's own unit, 1/72 inch, with y upwards; viewers are asked not to scale the page."""
    stream = io.BytesIO()
    width, height = (side * POINTS_PER_MM for side in page.size_mm)
    canvas = Canvas(stream, pagesize=(width, height), invariant=1)
    canvas.setTitle(page.title)
    canvas.setViewerPreference("PrintScaling", "None")
    for area in page.areas:
        # One path an area: neighbouring boxes filled one by one would show seams between them.
        path = canvas.beginPath()
        for left, top, right, bottom in area.boxes:
            box = (left, page.size_mm[1] - bottom, right - left, bottom - top)
            path.rect(*(value * POINTS_PER_MM for value in box))
        canvas.setFillGray(area.shade)
        canvas.drawPath(path, stroke=0, fill=1)
    canvas.setFillGray(INK)
    for caption in page.captions:
        canvas.setFont("Helvetica", caption.height_mm * POINTS_PER_MM)
        x, y = caption.at_mm[0] * POINTS_PER_MM, height - caption.at_mm[1] * POINTS_PER_MM
        canvas.drawString(x, y, caption.text)
    canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _render_svg(page: Page) -> bytes:
    """Draw with 1 mm as the user unit."""
    width, height = page.size_mm
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg"',
        f'  width="{width:g}mm" height="{height:g}mm" viewBox="0 0 {width:g} {height:g}">',
        f"<title>{escape(page.title)}</title>",
        '<rect width="100%" height="100%" fill="#fff"/>',
    ]
    for area in page.areas:
        path = "".join(
            f"M{left:.6g} {top:.6g}H{right:.6g}V{bottom:.6g}H{left:.6g}Z"
            for left, top, right, bottom in area.boxes
        )
        parts.append(f'<path fill="{_hex(area.shade)}" d="{path}"/>')
    parts += [
        f'<text x="{caption.at_mm[0]:.5g}" y="{caption.at_mm[1]:.5g}" font-size="{caption.height_mm:g}"'
        f' font-family="Helvetica, Arial, sans-serif" fill="{_hex(INK)}">{escape(caption.text)}</text>'
        for caption in page.captions
    ]
    return "\n".join([*parts, "</svg>", ""]).encode()


def _hex(shade: float) -> str:
    return "#" + f"{round(255 * shade):02x}" * 3


def _render_png(page: Page) -> bytes:
    """Draw at `PNG_DPI`; a dot that an edge crosses is shaded by the part covered, so that no edge moves."""
    dots_per_mm = PNG_DPI / _MM_PER_INCH
    width, height = (round(side * dots_per_mm) for side in page.size_mm)
    dots = np.full((height, width), 255, np.uint8)
    for area in page.areas:
        for box in area.boxes:
            _paint(dots, np.array(box) * dots_per_mm, level=round(255 * area.shade))
    image = Image.fromarray(dots)
    draw = ImageDraw.Draw(image)
    for caption in page.captions:
        font = ImageFont.load_default(caption.height_mm * dots_per_mm)
        at = (caption.at_mm[0] * dots_per_mm, caption.at_mm[1] * dots_per_mm)
        draw.text(at, caption.text, round(255 * INK), font, anchor="ls")
    return encode_image(np.asarray(image), ".png", dpi=PNG_DPI)


def _paint(dots: ImageArray, box: FloatArray, *, level: int) -> None:
    """Darken the dots under a box, (left, top, right, bottom) in dots from the page's corner."""
    left, top = np.floor(box[:2]).astype(int)
    right, bottom = np.ceil(box[2:]).astype(int)
    columns, rows = np.arange(left, right), np.arange(top, bottom)
    covered_x = np.minimum(columns + 1, box[2]) - np.maximum(columns, box[0])
    covered_y = np.minimum(rows + 1, box[3]) - np.maximum(rows, box[1])
    part = dots[top:bottom, left:right]
    part[:] = np.clip(part - np.outer(covered_y, covered_x) * (255.0 - level), 0, 255).round()


_RENDERERS = {".pdf": _render_pdf, ".svg": _render_svg, ".png": _render_png}
SUFFIXES = tuple(_RENDERERS)
