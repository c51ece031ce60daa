"""Draws the printed scale sheets: as vector PDF or SVG, or as PNG at 600 dots an inch.

A page is a list of black or grey areas and of captions in millimetres, drawn alike by every format.
Text keeps to the margins and leaves every tag a quiet zone of one module at least.
"""

import io
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass, replace
from html import escape

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont
from reportlab.lib.units import mm as POINTS_PER_MM  # noqa: N812 - a constant of the library
from reportlab.pdfgen.canvas import Canvas

from vision.common.records import FloatArray, ImageArray
from vision.image.photo import encode_image
from vision.sheet.geometry import TAG_FAMILY, TAG_MODULES, Sheet

Box = tuple[float, float, float, float]
"""(left, top, right, bottom) in mm."""

PNG_DPI = 600.0
GREY_BED_REFLECTANCE = 0.35
_BLACK = 0.0
_INK = 0.25
_HAIRLINE_MM = 0.15
_MARK_MM = 2.0
_CUT_MARK_MM = (2.0, 7.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """Boxes of one shade that do not overlap; `shade` is sRGB-coded, 0 black to 1 white."""

    boxes: tuple[Box, ...]
    shade: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """A line of text; `at_mm` is the left end, or the middle where `centred`, of its baseline."""

    text: str
    at_mm: tuple[float, float]
    height_mm: float
    centred: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What stands on a page; origin at its top-left corner, x right, y down."""

    title: str
    size_mm: tuple[float, float]
    areas: tuple[Area, ...]
    captions: tuple[Caption, ...]


def lay_out(sheet: Sheet, *, grey_bed: bool = False) -> Page:
    """Place everything that is printed on a sheet, on a page of its own size."""
    bed = sheet.bed_mm if grey_bed else None
    tags = [Area(boxes=_tag_boxes(sheet, tag_id), shade=_BLACK) for tag_id in sheet.ids]
    shade = _srgb(GREY_BED_REFLECTANCE)
    return Page(
        title=f"strandgauge scale sheet {sheet.name}",
        size_mm=sheet.page_mm,
        areas=(
            *((Area(boxes=(bed,), shade=shade),) if bed else ()),
            *tags,
            Area(boxes=tuple(_ruler_boxes(sheet)), shade=_INK),
        ),
        captions=_captions(sheet),
    )


def place_on(page: Page, paper_mm: tuple[float, float]) -> Page:
    """Put a small page on larger paper, centred across, with cut marks outside its corners."""
    left, top = (paper_mm[0] - page.size_mm[0]) / 2, (paper_mm[1] - page.size_mm[1]) / 4
    right, bottom = left + page.size_mm[0], top + page.size_mm[1]

    def moved(box: Box) -> Box:
        return (box[0] + left, box[1] + top, box[2] + left, box[3] + top)

    areas = [replace(area, boxes=tuple(moved(box) for box in area.boxes)) for area in page.areas]
    marks = Area(boxes=tuple(_cut_marks((left, top, right, bottom))), shade=_INK)
    captions = [replace(line, at_mm=(line.at_mm[0] + left, line.at_mm[1] + top)) for line in page.captions]
    return replace(page, size_mm=paper_mm, areas=(*areas, marks), captions=tuple(captions))


def render(page: Page, suffix: str) -> bytes:
    """Draw a page as the file kind of a suffix: `.pdf`, `.svg` or `.png`.

    Raises
    ------
    ValueError
        If the suffix is another.
    """
    try:
        draw = _RENDERERS[suffix.lower()]
    except KeyError:
        allowed = ", ".join(_RENDERERS)
        raise ValueError(f"suffix must be one of {allowed}, got {suffix!r}") from None
    return draw(page)


def _srgb(reflectance: float) -> float:
    """Return the sRGB code, 0 to 1, of a linear reflectance above 0.0031 (IEC 61966-2-1)."""
    return float(1.055 * reflectance ** (1 / 2.4) - 0.055)


def _tag_boxes(sheet: Sheet, tag_id: int) -> tuple[Box, ...]:
    """Return the black runs of a tag's 8 rows of modules, border included."""
    black = cv2.aruco.generateImageMarker(TAG_FAMILY, tag_id, TAG_MODULES) == 0
    left, top = sheet.corners_mm(tag_id)[0]
    module = sheet.tag_mm / TAG_MODULES
    boxes: list[Box] = []
    for row, modules in enumerate(black):
        steps = np.diff(np.concatenate(([0], modules, [0])).astype(int))
        for start, end in zip(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1), strict=True):
            x0, x1 = left + start * module, left + end * module
            boxes.append((float(x0), float(top + row * module), float(x1), float(top + (row + 1) * module)))
    return tuple(boxes)


def _line(start: tuple[float, float], end: tuple[float, float]) -> Box:
    """Return an upright or level hairline as a box about its axis."""
    half = _HAIRLINE_MM / 2
    level = start[1] == end[1]
    dx, dy = (0.0, half) if level else (half, 0.0)
    return (start[0] - dx, start[1] - dy, end[0] + dx, end[1] + dy)


def _ruler_y(sheet: Sheet) -> float:
    """Height of the check-length line: below the caption, clear of the tags' quiet zone."""
    tag_top = float(sheet.corners_mm(sheet.first_id)[0, 1])
    return tag_top - sheet.tag_mm / TAG_MODULES - _MARK_MM / 2 - 0.3


def _ruler_ends(sheet: Sheet) -> tuple[float, float]:
    left = float(sheet.corners_mm(sheet.first_id)[0, 0])
    return left, left + sheet.check_length_mm


def _ruler_boxes(sheet: Sheet) -> Iterable[Box]:
    """Yield the check-length line with its end marks, in line with the outer edges of the top tags."""
    y, (left, right) = _ruler_y(sheet), _ruler_ends(sheet)
    inner = _HAIRLINE_MM / 2
    yield _line((left + inner, y), (right - inner, y))
    for x in (left, right):
        yield _line((x, y - _MARK_MM / 2), (x, y + _MARK_MM / 2))


def _cut_marks(box: Box) -> Iterable[Box]:
    """Yield the lines to cut along, kept off the corners themselves."""
    left, top, right, bottom = box
    near, far = _CUT_MARK_MM
    for x in (left, right):
        yield _line((x, top - far), (x, top - near))
        yield _line((x, bottom + near), (x, bottom + far))
    for y in (top, bottom):
        yield _line((left - far, y), (left - near, y))
        yield _line((right + near, y), (right + far, y))


def _captions(sheet: Sheet) -> tuple[Caption, ...]:
    """Return the text in the margins: what to measure on top, how to print and use it below."""
    left, right = _ruler_ends(sheet)
    length = f"{sheet.check_length_mm:.1f} mm"
    above = Caption(
        text=f"check length: {length} from mark to mark",
        at_mm=((left + right) / 2, _ruler_y(sheet) - 0.9),
        height_mm=2.2,
        centred=True,
    )
    advice = (
        f"strandgauge {sheet.name}. Print at 100 % (actual size, not fitted to the page)."
        f" If a ruler reads other than {length} from mark to mark, type its reading: --check-length."
    )
    roomy = sheet.page_mm[0] > 200
    lines = [advice] if roomy else textwrap.wrap(advice, 92)
    height_mm = 2.2 if roomy else 1.9
    first = sheet.page_mm[1] - (7.0 if roomy else 5.0)
    below = [
        Caption(text=line, at_mm=(left, first + k * 1.25 * height_mm), height_mm=height_mm)
        for k, line in enumerate(lines)
    ]
    return (above, *below)


def _render_pdf(page: Page) -> bytes:
    """Draw with PDF's own unit, 1/72 inch, and y upwards; asks viewers not to rescale for the paper."""
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
    canvas.setFillGray(_INK)
    for caption in page.captions:
        canvas.setFont("Helvetica", caption.height_mm * POINTS_PER_MM)
        x, y = caption.at_mm[0] * POINTS_PER_MM, height - caption.at_mm[1] * POINTS_PER_MM
        (canvas.drawCentredString if caption.centred else canvas.drawString)(x, y, caption.text)
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
    for caption in page.captions:
        anchor = "middle" if caption.centred else "start"
        parts.append(
            f'<text x="{caption.at_mm[0]:.5g}" y="{caption.at_mm[1]:.5g}" font-size="{caption.height_mm:g}"'
            f' font-family="Helvetica, Arial, sans-serif" text-anchor="{anchor}" fill="{_hex(_INK)}">'
            f"{escape(caption.text)}</text>"
        )
    return "\n".join([*parts, "</svg>", ""]).encode()


def _hex(shade: float) -> str:
    return "#" + f"{round(255 * shade):02x}" * 3


def _render_png(page: Page) -> bytes:
    """Draw at `PNG_DPI`; an edge inside a dot shades it by the part covered, so that no edge moves."""
    dots_per_mm = PNG_DPI / 25.4
    width, height = (round(side * dots_per_mm) for side in page.size_mm)
    dots = np.full((height, width), 255, np.uint8)
    for area in page.areas:
        for box in area.boxes:
            _paint(dots, np.array(box) * dots_per_mm, round(255 * area.shade))
    image = Image.fromarray(dots)
    draw = ImageDraw.Draw(image)
    for caption in page.captions:
        font = ImageFont.load_default(caption.height_mm * dots_per_mm)
        at = (caption.at_mm[0] * dots_per_mm, caption.at_mm[1] * dots_per_mm)
        draw.text(at, caption.text, round(255 * _INK), font, anchor="ms" if caption.centred else "ls")
    return encode_image(np.asarray(image), ".png", dpi=PNG_DPI)


def _paint(dots: ImageArray, box: FloatArray, level: int) -> None:
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
