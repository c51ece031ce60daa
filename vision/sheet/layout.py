"""Lays out the printed scale sheets: what stands where on a page, in millimetres.

A page is a list of black or grey areas and of captions. Text keeps to the margins and leaves each tag a quiet
zone of at least one module.
"""

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass, replace

import cv2
import numpy as np

from vision.common.check_words import GIVE_READING, PRINT_AT_FULL_SIZE
from vision.sheet.geometry import TAG_FAMILY, TAG_MODULES, Sheet

Box = tuple[float, float, float, float]
"""(left, top, right, bottom) in mm."""

GREY_BED_REFLECTANCE = 0.35
"""Mid grey, against which both light and dark beads stand out."""

# Layout, in mm; common practice, no source.
_BLACK, INK = 0.0, 0.25
"""Shades of tags, and of lines and text, which are lighter so that nobody takes them for part of a tag."""
_HAIRLINE_MM, _MARK_MM = 0.15, 2.0
"""Width of lines; height of the end marks of the ruler line."""
_CUT_MARK_MM = (2.0, 7.0)
"""Where cut marks begin and end, counted from a corner of the card."""
_RULER_GAP_MM, _CAPTION_GAP_MM = 0.3, 0.9
"""From the tags' quiet zone to the ruler line's marks; from that line to what is written above it."""
_ASIDE_MM = 2.0
"""From the ruler line's left mark to the caption above it."""
_WIDE_PAGE_MM, _LINE_LETTERS = 200.0, 92
"""Pages wider than this are mats; letters of a line below the tags that fit on the card too."""
_LINE_PITCH = 1.25
"""Distance of lines over the size of their type."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Type:
    """Sizes of captions, mm.

    Attributes
    ----------
    height_mm, check_mm : float
        Of the last lines, and of what to check above the ruler line.
    foot_mm : float
        How far above the page's lower edge the last lines begin.
    write_mm : tuple of float
        How far inside the ruler line's right end stand the words before the line to write the reading on,
        its two ends, and the unit.
    """

    height_mm: float
    check_mm: float
    foot_mm: float
    write_mm: tuple[float, float, float, float]


# 7, 6 and 5 point type, the smallest that most people read; a hand writes 5 digits on 20 to 40 mm.
_MAT_TYPE = _Type(height_mm=2.2, check_mm=2.6, foot_mm=7.0, write_mm=(61.0, 50.0, 15.0, 14.0))
_CARD_TYPE = _Type(height_mm=1.9, check_mm=1.9, foot_mm=5.0, write_mm=(34.0, 26.0, 6.0, 5.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """Boxes of one shade that do not overlap; `shade` is an sRGB value from 0, black, to 1, white."""

    boxes: tuple[Box, ...]
    shade: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """A line of text; `at_mm` is the left end of its baseline."""

    text: str
    at_mm: tuple[float, float]
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What is printed on a page; origin at its top-left corner, x right, y down."""

    title: str
    size_mm: tuple[float, float]
    areas: tuple[Area, ...]
    captions: tuple[Caption, ...]


def lay_out(sheet: Sheet, *, grey_bed: bool = False) -> Page:
    """Lay out everything that is printed on a sheet, on a page of its own size."""
    bed = sheet.bed_mm if grey_bed else None
    tags = [Area(boxes=_tag_boxes(sheet, tag_id), shade=_BLACK) for tag_id in sheet.ids]
    shade = _srgb(GREY_BED_REFLECTANCE)
    return Page(
        title=f"strandgauge scale sheet {sheet.name}",
        size_mm=sheet.page_mm,
        areas=(
            *((Area(boxes=(bed,), shade=shade),) if bed else ()),
            *tags,
            Area(boxes=tuple(_ruler_boxes(sheet)), shade=INK),
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
    marks = Area(boxes=tuple(_cut_marks((left, top, right, bottom))), shade=INK)
    captions = [replace(line, at_mm=(line.at_mm[0] + left, line.at_mm[1] + top)) for line in page.captions]
    return replace(page, size_mm=paper_mm, areas=(*areas, marks), captions=tuple(captions))


def _srgb(reflectance: float) -> float:
    """Return the sRGB value, 0 to 1, of a reflectance above 0.0031 (IEC 61966-2-1)."""
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
    """Return a vertical or horizontal hairline as a box about its axis."""
    half = _HAIRLINE_MM / 2
    level = start[1] == end[1]
    dx, dy = (0.0, half) if level else (half, 0.0)
    return (start[0] - dx, start[1] - dy, end[0] + dx, end[1] + dy)


def _ruler_y(sheet: Sheet) -> float:
    """Return the y of the ruler line: below the caption, clear of the tags' quiet zone."""
    tag_top = float(sheet.corners_mm(sheet.first_id)[0, 1])
    return tag_top - sheet.tag_mm / TAG_MODULES - _MARK_MM / 2 - _RULER_GAP_MM


def _ruler_ends(sheet: Sheet) -> tuple[float, float]:
    left = float(sheet.corners_mm(sheet.first_id)[0, 0])
    return left, left + sheet.check_length_mm


def _ruler_boxes(sheet: Sheet) -> Iterable[Box]:
    """Yield the ruler line with its end marks, in line with the top row of tags, and the line to write on."""
    y, (left, right) = _ruler_y(sheet), _ruler_ends(sheet)
    inner = _HAIRLINE_MM / 2
    yield _line((left + inner, y), (right - inner, y))
    for x in (left, right):
        yield _line((x, y - _MARK_MM / 2), (x, y + _MARK_MM / 2))
    yield _writing_line(sheet)


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


def _type_of(sheet: Sheet) -> _Type:
    return _MAT_TYPE if sheet.page_mm[0] > _WIDE_PAGE_MM else _CARD_TYPE


def _writing_line(sheet: Sheet) -> Box:
    """Return the line that the maker writes the ruler's reading on."""
    y, right = _ruler_y(sheet) - _CAPTION_GAP_MM, _ruler_ends(sheet)[1]
    _, start, end, _ = _type_of(sheet).write_mm
    return _line((right - start, y), (right - end, y))


def _captions(sheet: Sheet) -> tuple[Caption, ...]:
    """Return the text in the margins: above, what to measure and write down; below, how to print."""
    kind, (left, right), y = _type_of(sheet), _ruler_ends(sheet), _ruler_y(sheet) - _CAPTION_GAP_MM
    inches = sheet.check_length_inches
    length = f"{sheet.check_length_mm:.1f} mm" + (f" ({inches})" if inches else "")
    check, give = f"Lay a ruler from mark to mark: {length} at 100 %.", f"{GIVE_READING}."
    below = f"strandgauge {sheet.name}. {PRINT_AT_FULL_SIZE}"
    if kind is _MAT_TYPE:
        check = f"CHECK THIS PRINT. {check} {give}"
    else:
        below = f"{below} {give}"
    words, _, _, unit = kind.write_mm
    above = (
        (check, left + _ASIDE_MM),
        ("It reads", right - words),
        ("mm or in" if inches else "mm", right - unit),
    )
    first, pitch = sheet.page_mm[1] - kind.foot_mm, _LINE_PITCH * kind.height_mm
    return (
        *(Caption(text=text, at_mm=(x, y), height_mm=kind.check_mm) for text, x in above),
        *(
            Caption(text=line, at_mm=(left, first + k * pitch), height_mm=kind.height_mm)
            for k, line in enumerate(textwrap.wrap(below, _LINE_LETTERS))
        ),
    )
