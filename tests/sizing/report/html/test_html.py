"""The HTML reports: whole, self-contained, readable by everybody, and saying what was measured."""

import functools
import math
import re
from dataclasses import replace
from html import unescape
from importlib.resources import files

import numpy as np
import pytest

from sizing.base.cautions import CAUTIONS
from sizing.base.loop import Link
from sizing.base.target import make_target
from sizing.base.units import parse_length, printed_as
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.piece.toml.read import PIECE_HELP, read_piece
from sizing.report.html.page import NO_BREAK, typeset
from sizing.report.html.plan import plan_page
from sizing.report.html.sections import MOST_BEADS_LISTED
from sizing.report.html.strand import strand_page
from sizing.report.html.strand_sections import ways
from sizing.strand.sized import size_strands
from tests.helpers.lots import lot_of
from tests.helpers.pages import LOT, PAGES, PICTURE, check_html, lot_html, read
from tests.helpers.strands import make_strand

LEAST_CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3


def words(page: str) -> str:
    """Return a page as it is read: no tags, no style, plain spaces."""
    body = re.sub(r"<style.*?</style>|<svg.*?</svg>", " ", page, flags=re.DOTALL)
    text = unescape(re.sub(r"<[^>]+>", " ", body)).replace(NO_BREAK, " ")
    return re.sub(r" ([.,;:)])", r"\1", " ".join(text.split())).replace("( ", "(")


@functools.cache
def page_of(name: str) -> str:
    return PAGES[name]()


@pytest.fixture(params=PAGES)
def page(request: pytest.FixtureRequest) -> str:
    """Give every kind of page."""
    return page_of(request.param)


def test_a_page_loads_nothing(page: str) -> None:
    document = read(page)
    for tag, attributes in document.elements:
        for name in ("src", "href", "xlink:href"):
            assert (attributes.get(name) or "data:").startswith(("data:", "#")), tag
    assert not {tag for tag, _ in document.elements} & {"script", "iframe", "object", "base", "form"}
    assert not re.search(r"https?:|@import|url\((?!#)", page)
    [policy] = [each for each in document.all("meta") if each.get("http-equiv")]
    assert str(policy["content"]).startswith("default-src 'none'")


def test_strands_one_around_the_other_have_their_lengths() -> None:
    """178 mm is left of the finished length; the others are 12.7 mm longer each."""
    said = words(page_of("strands one around the other"))
    for wanted in ("178.0 mm", "190.7 mm", "203.4 mm"):
        assert f"should be strung {wanted}" in said
    assert said.count("they will ride up on each other") == 2


def test_a_maker_reads_no_option_and_no_command(page: str) -> None:
    beads = (BeadPart(along_mm=7.0, across_mm=7.0),)
    assumed = plan_page(make_plan(Piece(beads=beads, target_mm={"wrist": 165.1})))
    flat = lot_html(replace(LOT, flat=True))
    for each in (page, assumed, flat):
        assert re.findall(r".{30}(?:--|strandgauge )[a-z]+", words(each)) == []
    assert "say their length if yours differ" in words(assumed)
    assert "if they are round beads, say so" in words(flat)


def test_a_page_is_built_for_everybody(page: str) -> None:
    document = read(page)
    assert document.all("html") == [{"lang": "en"}]
    assert {"name": "viewport", "content": "width=device-width, initial-scale=1"} in document.all("meta")
    assert sum(tag == "h1" for tag, _ in document.elements) == 1
    assert all(each.get("alt") for each in document.all("img"))
    assert all(each.get("scope") in {"row", "col"} for each in document.all("th"))
    tables = len(document.all("table"))
    assert tables == len(document.all("caption"))
    assert not re.search(r"<caption>\s*</caption>", page)
    drawings = [each for each in document.all("div") if each.get("role") == "img"]
    assert all(each["aria-label"] for each in drawings)
    assert page.count("<svg") >= len(drawings) > 0


def test_a_page_warns_calmly(page: str) -> None:
    assert all(caution in words(page) for caution in CAUTIONS)


def test_names_within_drawings_are_unique(page: str) -> None:
    names = [str(attributes["id"]) for _, attributes in read(page).elements if "id" in attributes]
    assert len(names) == len(set(names))
    uses = {str(attributes["xlink:href"])[1:] for attributes in read(page).all("use")}
    assert uses <= set(names)


def test_drawings_take_the_pages_colours_and_typeface(page: str) -> None:
    drawn = " ".join(re.findall(r"<svg.*?</svg>", page, re.DOTALL))
    assert "#0a0b" not in drawn
    assert "font-family" not in drawn
    assert "<text" in drawn
    assert "#000000" not in re.sub(r"<use [^>]*>", "", drawn)
    known = set(re.findall(r"(--[\w-]+):", css()))
    assert set(re.findall(r"var\((--[\w-]+)\)", page)) <= known | {"--swatch"}


@pytest.mark.parametrize("name", PAGES)
def test_one_unit_comes_first(name: str) -> None:
    with printed_as(parse_length("8 in")):
        inches = PAGES[name]()
    for first, second, text in (("mm", "in", words(page_of(name))), ("in", "mm", words(inches))):
        assert not re.search(rf" {second} \([^()]* {first}\)", text)
    assert not re.search(r"<dd>\d+ <span>\d+/\d+", inches.replace(NO_BREAK, " "))  # a fraction is as large
    # Of the large figures one unit stands below the other.
    pairs = re.findall(r"<dd>(?:(?!</dd>).)*\bin</small></dd>", inches.replace(NO_BREAK, " "), re.DOTALL)
    assert not pairs


def test_a_strands_page_says_what_its_text_says() -> None:
    text = words(page_of("strand"))
    # 200 - 22 = 178 of beads of 6 mm: 29.67 of them.
    assert (
        "Leave the strand as it is: no other number of beads comes nearer to a finished length of 200.0 mm "
        "(7 7/8 in)." in text
    )
    assert "Strung length 180.0 ± 0.4 mm 7 1/16 in" in text
    assert "Finished as it is 202.0 mm 7 15/16 in" in text
    assert "Bead 4 Too little of its outline stands out clearly from the bed" in text
    assert "mat-a4 26 of 26 tags found" in text
    assert "250 mm above the sheet tilted 5°" in text
    assert "± 0.20 % the same for all lengths of a photo" in text


def test_ways_to_a_target_are_told_apart() -> None:
    """22 mm of findings leave 42.1 mm: 42 without bead 7 and spacer 8, 45 without both spacers."""
    strand = make_strand([2.0, 6, 9, 7, 8, 10, 5, 2], kinds=["spacer", *["bead"] * 6, "spacer"])
    target = make_target({"finished": 64.1}, findings=[Link(along_mm=22.0)])
    sized = size_strands([strand], target)
    [advice] = [each.advice for each in sized]
    assert advice is not None
    assert advice.beyond is not None
    text = words(strand_page(sized, picture=PICTURE))
    assert "5 beads, 1 spacer remove bead 7 and spacer 8" in text
    assert "6 beads remove spacers 1, 8" in text
    assert "6 beads, 2 spacers as it is" in text
    assert text.count("next best") == 1
    assert "Finished with 5 beads, 1 spacer 64.0 mm" in text
    names = [(way.name, way.how) for way in ways(advice)]
    assert len(set(names)) == 3


def test_every_bead_of_a_strand_is_listed() -> None:
    rows = re.findall(r'scope="row"><span class="swatch"[^>]*></span>(.*?)</th>', page_of("strand"))
    assert [re.sub(r"<.*?>", "", row) for row in rows] == [str(number) for number in range(1, 31)]


def test_very_many_beads_are_left_to_the_table() -> None:
    page = lot_html(lot_of([6.0 + 0.001 * i for i in range(MOST_BEADS_LISTED + 1)]))
    assert f"{MOST_BEADS_LISTED + 1} beads are too many for this page: save them as a table (CSV)." in words(
        page
    )


def test_a_lots_page_lists_sizes_and_picks() -> None:
    text = words(page_of("lot"))
    assert "7 beads: 5 in 2 sizes, 1 between two sizes, 1 not measured." in text
    assert "6 mm 1, 2" in text
    assert "Between 6 mm and 7 mm 3" in text
    assert "Not measured 7" in text
    assert "Most uniform 4 beads" in text


def test_a_labels_page_gives_its_verdict() -> None:
    text = words(page_of("check"))
    assert (
        "8mm: not certain" in text or "8mm: as labelled except for" in text or "8mm: not as labelled" in text
    )
    assert "Limits ±0.5 mm, as gem rounds are usually sold" in text
    assert "(ISO 14253-1)" in text.partition("How far to trust it")[2]
    pair = words(page_of("check of a pair"))
    assert "Width 3.5 to 4.5" in pair
    assert "Length 5.5 to 6.5" in pair


def test_a_plans_page_has_all_its_lists() -> None:
    text = words(page_of("plan"))
    plan = make_plan(read_piece(PIECE_HELP))
    assert f"String {plan.best.count} × blue glass, 6 mm: 228.0 mm (9 in)." in text  # noqa: RUF001 - as set
    for heading in ("The piece", "Compared with the target", "Cut", "Buy", "Does the wire fit", "Sizes"):
        assert f"<h2>{heading}</h2>" in page_of("plan")
    assert "Wire strung length, and at each end the loop through the clasp's ring and the tail" in text
    assert "Women: 50 in 100 are smaller 215.0 mm, 8 7/16 in" in text
    assert "Price 27.68" in text


def test_what_is_typed_stays_text() -> None:
    piece = Piece(
        name='<b>"7"</b> & more',
        beads=(BeadPart(along_mm=7.0, across_mm=7.0, name="<script>glass"),),
        target_mm={"strung": 160.0},
    )
    page = plan_page(make_plan(piece))
    assert "<script" not in page
    assert "<b>" not in page
    assert "&lt;script&gt;glass" in page
    assert '<b>"7"</b> & more' in unescape(page).replace(NO_BREAK, " ")


def test_a_lot_without_sizes_still_has_a_page() -> None:
    empty = lot_of([math.nan, math.nan])
    assert "2 beads: 2 not measured." in words(lot_html(empty))
    assert "no bead could be measured" in words(check_html(empty))


def test_several_photos_have_letters() -> None:
    text = words(page_of("lot of several photos"))
    assert "Lot 3 photos" in text
    assert "B: two.jpg, 2 beads" in text
    assert "7 mm A1, B1, C1" in text
    assert "C three.jpg mat-a4 26 of 26 tags found" in text


@pytest.mark.parametrize(
    ("text", "html"),
    [
        ("234.6 ± 0.4 mm", '234.6_<span class="uncertainty">±_0.4</span>_mm'),
        ("9 13/16 in", '9_<span class="fraction">13/16</span>_in'),
        ("by 1/8 in", 'by <span class="fraction">1/8</span>_in'),
        ("12/05/26", "12/05/26"),
        ("3 x 8 mm", "3 × 8_mm"),  # noqa: RUF001 - as set
        ("give --ease for a looser fit", "say your own for a looser fit"),
        ("5 < 6 & 7", "5 &lt; 6 &amp; 7"),
        ("in 3 ginger jars", "in 3 ginger jars"),
    ],
)
def test_typesetting(text: str, html: str) -> None:
    assert typeset(text).replace(NO_BREAK, "_") == html


def css() -> str:
    return (files("sizing.report.html") / "templates" / "report.css").read_text(encoding="utf-8")


def colours_of(theme: str) -> dict[str, str]:
    """Return the colours of light, dark or paper; the last two are given over light."""
    blocks = re.findall(r":root \{([^}]*)\}", css())
    light, dark, paper = (dict(re.findall(r"(--[\w-]+): (#\w{6});", block)) for block in blocks)
    return light | {"light": {}, "dark": dark, "paper": paper}[theme]


def luminance(colour: str) -> float:
    """Return relative luminance (WCAG 2.2, definitions)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return float(np.dot((0.2126, 0.7152, 0.0722), linear))


@pytest.mark.parametrize("theme", ["light", "dark", "paper"])
def test_texts_stand_out(theme: str) -> None:
    colours = colours_of(theme)
    assert (luminance(colours["--paper"]) < 0.1) == (theme == "dark")
    for text in ("--ink", "--quiet", "--accent", "--warning", "--good"):
        light, dark = sorted((luminance(colours[text]), luminance(colours["--paper"])), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= LEAST_CONTRAST, text
