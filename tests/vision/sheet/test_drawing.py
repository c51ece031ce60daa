"""The printed sheets: in every file format the tags are where the geometry has them."""

import io
import math
import re
from functools import cache
from xml.etree import ElementTree as ET

import cv2
import numpy as np
import pypdfium2
import pytest
from PIL import Image
from reportlab.pdfbase.pdfmetrics import stringWidth

from vision.common.check_words import GIVE_READING
from vision.common.records import Photo
from vision.sheet.drawing import SUFFIXES, render
from vision.sheet.geometry import SHEETS
from vision.sheet.layout import Page, lay_out, place_on
from vision.sheet.tags import find_tags

PLACE_MM = 0.05
SCALE = 10
"""Pixels a mm at which vector pages are rasterised; every page is then a whole number of pixels."""
A4_UPRIGHT = (210.0, 297.0)  # ISO 216
LETTER_UPRIGHT = (215.9, 279.4)  # ASME Y14.1, size A


def raster_pdf(data: bytes) -> tuple[np.ndarray, float]:
    document = pypdfium2.PdfDocument(data)
    assert len(document) == 1
    # The renderer rounds the page up to whole pixels: stay just below.
    grey = document[0].render(scale=(SCALE - 1e-5) / 72 * 25.4, grayscale=True).to_numpy().squeeze()
    size_mm = np.array(document[0].get_size()) / 72 * 25.4
    document.close()
    assert grey.shape[::-1] == tuple(np.round(size_mm * SCALE).astype(int))
    return grey, SCALE


def raster_png(data: bytes) -> tuple[np.ndarray, float]:
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(image), image.info["dpi"][0] / 25.4


def parse_svg(data: bytes) -> ET.Element:
    return ET.fromstring(data)  # noqa: S314 - the file was written here


def raster_svg(data: bytes) -> tuple[np.ndarray, float]:
    """Fill the page's paths, which are all boxes, one pixel shaded by the part of it covered."""
    svg = parse_svg(data)
    width, height = (float(svg.attrib[side].removesuffix("mm")) for side in ("width", "height"))
    assert [float(v) for v in svg.attrib["viewBox"].split()] == [0, 0, width, height]
    paper = np.full((round(height * SCALE), round(width * SCALE)), 255.0)
    for path in svg.iter("{http://www.w3.org/2000/svg}path"):
        shade = int(path.attrib["fill"][1:3], 16)
        for step in path.attrib["d"].strip("Z").split("Z"):
            left, top, right, bottom, back = (float(v) for v in re.findall(r"[\d.]+", step))
            assert back == left
            columns, across = covered(left * SCALE, right * SCALE)
            rows, down = covered(top * SCALE, bottom * SCALE)
            paper[rows, columns] -= np.outer(down, across) * (255 - shade)
    return paper.clip(0, 255).round().astype(np.uint8), SCALE


def covered(start: float, end: float) -> tuple[slice, np.ndarray]:
    """Pixels touched by an interval, and the part of each that it covers."""
    touched = slice(int(start), int(np.ceil(end)))
    edges = np.arange(touched.start, touched.stop + 1).clip(start, end)
    return touched, np.diff(edges)


RASTERS = {".pdf": raster_pdf, ".svg": raster_svg, ".png": raster_png}


@cache
def drawn(name: str, suffix: str, *, grey_bed: bool = False) -> tuple[np.ndarray, float]:
    """Grey pixels of a sheet's page and their number a mm."""
    return RASTERS[suffix](render(lay_out(SHEETS[name], grey_bed=grey_bed), suffix))


def off_mm(name: str, found: dict[int, np.ndarray], scale: float) -> float:
    """Largest distance of a found corner, (x, y) in pixels, from its place on the sheet."""
    sheet = SHEETS[name]
    assert sorted(found) == list(sheet.ids)
    # The page's corner is the outer corner of pixel (0, 0), half a pixel before its centre.
    misses = [(corners + 0.5) / scale - sheet.corners_mm(tag_id) for tag_id, corners in found.items()]
    return float(np.linalg.norm(misses, axis=2).max())


@pytest.mark.parametrize("grey_bed", [False, True], ids=["white", "grey"])
@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("name", SHEETS)
def test_own_detector_finds_every_tag_in_place(name: str, suffix: str, *, grey_bed: bool) -> None:
    grey, scale = drawn(name, suffix, grey_bed=grey_bed)
    tags = find_tags(Photo(name=name, rgb=cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB)))
    assert tags.sheet.name == name
    assert off_mm(name, dict(zip(tags.ids, tags.corners_px, strict=True)), scale) < PLACE_MM


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("name", SHEETS)
def test_reference_detector_finds_every_tag_in_place(name: str, suffix: str) -> None:
    # OpenCV's own corners, refined by gradients, sit inside by 0.1 to 0.2 px (side short by 0.3 px).
    grey, scale = drawn(name, suffix)
    found = reference_corners(grey)
    assert off_mm(name, found, scale) < PLACE_MM


def reference_corners(grey: np.ndarray) -> dict[int, np.ndarray]:
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, ids, _ = cv2.aruco.ArucoDetector(family, settings).detectMarkers(grey)
    return {int(i): c[0] for i, c in zip(ids.ravel(), corners, strict=True)}


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("name", SHEETS)
def test_each_tag_keeps_a_white_module_around_it(name: str, suffix: str) -> None:
    grey, scale = drawn(name, suffix, grey_bed=True)
    sheet = SHEETS[name]
    module = sheet.tag_mm / 8
    for tag_id in sheet.ids:
        (left, top), (right, bottom) = sheet.corners_mm(tag_id)[[0, 2]]
        outer = np.round(np.array([left - module, top - module, right + module, bottom + module]) * scale)
        x0, y0, x1, y1 = outer.astype(int)
        zone = np.full(grey.shape, fill_value=False)
        zone[y0 + 1 : y1 - 1, x0 + 1 : x1 - 1] = True
        x0, y0, x1, y1 = np.round(np.array([left, top, right, bottom]) * scale).astype(int)
        zone[y0 - 1 : y1 + 1, x0 - 1 : x1 + 1] = False
        assert grey[zone].min() == 255


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("name", SHEETS)
def test_ruler_marks_stand_at_the_ends_of_the_check_length(name: str, suffix: str) -> None:
    grey, scale = drawn(name, suffix)
    sheet = SHEETS[name]
    (left, tag_top), right = sheet.corners_mm(sheet.first_id)[0], sheet.corners_mm(sheet.first_id)[0, 0]
    right += sheet.check_length_mm
    ink = (255.0 - grey[: round((tag_top - sheet.tag_mm / 8) * scale)]) / 255
    columns = (np.arange(grey.shape[1]) + 0.5) / scale
    for end in (left, right):
        near = np.abs(columns - end) < 0.5
        # The tips of the mark, where the line itself is not.
        tip = ink[np.flatnonzero(ink[:, near].sum(axis=1) > 0)[0] + 1, near]
        assert np.average(columns[near], weights=tip) == pytest.approx(end, abs=PLACE_MM)
    line = ink[:, round((left + right) / 2 * scale)] > 0
    assert line.any()


@pytest.mark.parametrize(("grey_bed", "reflectance"), [(False, 1.0), (True, 0.35)])
@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("name", ["mat-a4", "mat-letter"])
def test_bed_is_white_or_mid_grey(name: str, suffix: str, *, grey_bed: bool, reflectance: float) -> None:
    grey, scale = drawn(name, suffix, grey_bed=grey_bed)
    bed = SHEETS[name].bed_mm
    assert bed is not None
    left, top, right, bottom = np.round(np.array(bed) * scale).astype(int)
    inside = grey[top + 1 : bottom - 1, left + 1 : right - 1]
    assert inside.min() == inside.max()
    coded = inside[0, 0] / 255
    # IEC 61966-2-1, the sRGB curve.
    assert ((coded + 0.055) / 1.055) ** 2.4 == pytest.approx(reflectance, abs=0.005)


def page_size_mm(data: bytes, suffix: str) -> tuple[float, float]:
    if suffix == ".svg":
        svg = parse_svg(data)
        return float(svg.attrib["width"].removesuffix("mm")), float(svg.attrib["height"].removesuffix("mm"))
    if suffix == ".png":
        with Image.open(io.BytesIO(data)) as image:
            return tuple(side / dpi * 25.4 for side, dpi in zip(image.size, image.info["dpi"], strict=True))
    document = pypdfium2.PdfDocument(data)
    size = tuple(side / 72 * 25.4 for side in document[0].get_size())
    document.close()
    return size


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("name", SHEETS)
def test_page_is_the_sheets_own_size(name: str, suffix: str) -> None:
    # A PNG ends on a whole dot of 0.042 mm; the others are exact to single precision.
    tolerance_mm = 0.5 * 25.4 / 600 + 1e-3 if suffix == ".png" else 1e-3
    size = page_size_mm(render(lay_out(SHEETS[name]), suffix), suffix)
    assert size == pytest.approx(SHEETS[name].page_mm, abs=tolerance_mm)


def test_png_says_six_hundred_dots_an_inch() -> None:
    with Image.open(io.BytesIO(render(lay_out(SHEETS["card"]), ".png"))) as image:
        assert image.info["dpi"] == pytest.approx((600, 600), abs=0.02)


@pytest.mark.parametrize("name", SHEETS)
def test_captions_name_the_sheet_and_say_how_to_print_and_check(name: str) -> None:
    page = lay_out(SHEETS[name])
    document = pypdfium2.PdfDocument(render(page, ".pdf"))
    pdf_text = document[0].get_textpage().get_text_range()
    document.close()
    svg_text = " ".join(parse_svg(render(page, ".svg")).itertext())
    for text in (pdf_text, svg_text):
        words = " ".join(text.split())
        assert f"strandgauge {name}. Print at 100 %" in words
        length = f"{SHEETS[name].check_length_mm:.1f} mm"
        if name == "mat-letter":  # read with rulers in inches too: 255.4 / 25.4 = 10.06
            length += " (10 1/16 in)"
        assert f"Lay a ruler from mark to mark: {length} at 100 %." in words
        assert GIVE_READING in words
        assert "It reads" in words


@pytest.mark.parametrize("name", SHEETS)
def test_there_is_room_to_write_the_reading_on(name: str) -> None:
    """Nothing is printed on or above a line of 20 mm, wide enough for five digits."""
    sheet, page = SHEETS[name], lay_out(SHEETS[name])
    *_, line = page.areas[-1].boxes
    assert line[2] - line[0] >= 20.0
    assert line[2] < sheet.corners_mm(sheet.first_id)[0, 0] + sheet.check_length_mm
    grey, scale = drawn(name, ".pdf")
    left, right, top = (round(value * scale) for value in (line[0], line[2], line[1]))
    assert grey[: top - 1, left:right].min() == 255
    assert grey[top - 1 : top + 3, left + 2 : right - 2].min(axis=0).max() < 255


@pytest.mark.parametrize("name", SHEETS)
def test_captions_do_not_touch_each_other(name: str) -> None:
    captions = lay_out(SHEETS[name]).captions
    for one in captions:
        end = one.at_mm[0] + stringWidth(one.text, "Helvetica", one.height_mm)
        assert end < SHEETS[name].page_mm[0] - 5.0
        after = [c.at_mm[0] for c in captions if c.at_mm[1] == one.at_mm[1] and c.at_mm[0] > one.at_mm[0]]
        assert end + 1.0 < min(after, default=math.inf)


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("suffix", [".pdf", ".png"])
def test_captions_leave_the_printer_its_margin(name: str, suffix: str) -> None:
    grey, scale = drawn(name, suffix)
    rim = round(2.0 * scale)  # printers leave a margin of their own
    assert min(grey[:rim].min(), grey[-rim:].min(), grey[:, :rim].min(), grey[:, -rim:].min()) == 255


@pytest.mark.parametrize("paper_mm", [A4_UPRIGHT, LETTER_UPRIGHT])
def test_card_on_paper_has_cut_marks_at_its_corners(paper_mm: tuple[float, float]) -> None:
    page = place_on(lay_out(SHEETS["card"]), paper_mm)
    data = render(page, ".pdf")
    assert page_size_mm(data, ".pdf") == pytest.approx(paper_mm, abs=1e-3)
    grey, scale = raster_pdf(data)
    left, top = card_corner_mm(page)
    corner_px = np.array([left, top]) * scale
    found = {tag_id: corners - corner_px for tag_id, corners in reference_corners(grey).items()}
    assert off_mm("card", found, scale) < PLACE_MM
    for x in (left, left + 100):
        assert dark(grey, x * scale, (top - 4) * scale)
        assert dark(grey, x * scale, (top + 70 + 4) * scale)
    for y in (top, top + 70):
        assert dark(grey, (left - 4) * scale, y * scale)
        assert dark(grey, (left + 100 + 4) * scale, y * scale)


def card_corner_mm(page: Page) -> tuple[float, float]:
    """Top-left corner of the card on its paper: its first tag begins 10 mm inside."""
    left, top = page.areas[0].boxes[0][:2]
    return left - 10, top - 10


def dark(grey: np.ndarray, x: float, y: float) -> bool:
    return bool(grey[int(y - 1) : int(y + 2), int(x - 1) : int(x + 2)].min() < 160)


def test_other_suffixes_are_refused() -> None:
    with pytest.raises(ValueError, match=r"one of \.pdf, \.svg, \.png, got '\.eps'"):
        render(lay_out(SHEETS["card"]), ".eps")
