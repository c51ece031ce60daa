"""The pages as a browser shows and prints them: on phone and desk, light and dark, on two sheets of paper."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page

LOOK = (Path(__file__).parent / "look.js").read_text(encoding="utf-8")
PHONE_PX, DESK_PX, HEIGHT_PX = 390, 1280, 900
LEAST_TEXT_PX = 11.0
LEAST_CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3
MOST_BYTES = 2_000_000
MOST_SHEETS = 2
"""Of several strands one for each, and one more."""
MARGIN = dict.fromkeys(("top", "right", "bottom", "left"), "0.4in")


@dataclass(kw_only=True)
class Visit:
    """What happens while a page is opened, and facts about it as it is laid out."""

    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    look: dict[str, Any] = field(default_factory=dict)


@pytest.fixture(
    scope="module", params=[(PHONE_PX, False), (PHONE_PX, True), (DESK_PX, False), (DESK_PX, True)], ids=str
)
def visit(request: pytest.FixtureRequest, browser: Browser, page: Path) -> Visit:
    """Open the page on a phone or a desk, light or dark."""
    width_px, dark = request.param
    visit = Visit()
    with browser.new_context(
        viewport={"width": width_px, "height": HEIGHT_PX},
        is_mobile=width_px == PHONE_PX,
        color_scheme="dark" if dark else "light",
    ) as context:
        tab = context.new_page()
        tab.on("request", lambda asked: visit.asked.append(asked.url))
        tab.on("console", lambda message: visit.complaints.append(message.text))
        tab.on("pageerror", lambda error: visit.complaints.append(str(error)))
        tab.goto(page.as_uri())
        tab.evaluate("new Promise(requestAnimationFrame)")
        visit.look = tab.evaluate(LOOK)
    return visit


@pytest.fixture(scope="module")
def tab(browser: Browser, page: Path) -> Iterator[Page]:
    """Open the page on a desk; each test sets the colour scheme and the medium it needs."""
    with browser.new_context(viewport={"width": DESK_PX, "height": HEIGHT_PX}) as context:
        opened = context.new_page()
        opened.goto(page.as_uri())
        yield opened


def test_nothing_is_loaded_and_nothing_complains(visit: Visit, page: Path) -> None:
    assert [url for url in visit.asked if not url.startswith("data:")] == [page.as_uri()]
    assert visit.complaints == []


def test_the_page_fits_its_width(visit: Visit) -> None:
    assert visit.look["wide_px"] <= visit.look["room_px"]
    assert (visit.look["beyond"], visit.look["scrolled"]) == ([], [])


def test_texts_are_large_and_stand_out(visit: Visit) -> None:
    texts = visit.look["texts"]
    assert len(texts) > 50
    small = [text for text in texts if text["size_px"] < LEAST_TEXT_PX]
    faint = [text for text in texts if text["contrast"] < LEAST_CONTRAST]
    assert (small, faint) == ([], [])


def test_pictures_are_there(visit: Visit) -> None:
    assert all(width > 0 for width in visit.look["images"])
    assert visit.look["drawings"] >= 1


def test_the_page_follows_the_colour_scheme(tab: Page) -> None:
    tab.emulate_media(media="screen", color_scheme="light")
    assert tab.evaluate(LOOK)["paper"] > 0.8
    tab.emulate_media(media="screen", color_scheme="dark")
    assert tab.evaluate(LOOK)["paper"] < 0.1


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_page_prints_on_two_sheets(tab: Page, page: Path, paper: str, *, dark: bool) -> None:
    strands = page.read_text(encoding="utf-8").count("<h2>Strand ")
    tab.emulate_media(media="null", color_scheme="dark" if dark else "light")
    printed = tab.pdf(format=paper, print_background=True, margin=MARGIN)
    with pypdfium2.PdfDocument(printed) as document:
        assert 1 <= len(document) <= max(MOST_SHEETS, strands + 1)


def test_paper_is_white_and_legible_whatever_the_screen(tab: Page) -> None:
    tab.emulate_media(media="print", color_scheme="dark")
    look = tab.evaluate(LOOK)
    assert look["paper"] == pytest.approx(1.0)
    assert [text for text in look["texts"] if text["contrast"] < LEAST_CONTRAST] == []


def test_the_file_is_small_enough_to_send(page: Path) -> None:
    assert page.stat().st_size < MOST_BYTES
