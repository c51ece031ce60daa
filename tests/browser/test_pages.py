"""The pages as a browser shows and prints them: on phone and desk, light and dark, on two sheets."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.devtools import Browser, Tab

LOOK = (Path(__file__).parent / "look.js").read_text(encoding="utf-8")
PHONE_PX, DESK_PX = 390, 1280
LEAST_TEXT_PX = 11.0
LEAST_CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3
MOST_BYTES = 2_000_000
PAPERS_IN = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}  # ISO 216; ANSI/ASME Y14.1 size A

Look = dict[str, Any]


@pytest.fixture(params=[(PHONE_PX, False), (PHONE_PX, True), (DESK_PX, False), (DESK_PX, True)], ids=str)
def tab(request: pytest.FixtureRequest, browser: Browser, page: Path) -> Iterator[Tab]:
    """Show a page on a phone or a desk, light or dark."""
    width_px, dark = request.param
    shown = Tab(browser, width_px=width_px, dark=dark)
    shown.open(page)
    yield shown
    shown.close()


@pytest.fixture
def look(tab: Tab) -> Look:
    """Return what there is to see."""
    found: Look = tab.evaluate(LOOK)
    return found


def test_nothing_is_loaded_and_nothing_complains(tab: Tab, page: Path) -> None:
    asked = [event["request"]["url"] for event in tab.events("Network.requestWillBeSent")]
    assert [url for url in asked if not url.startswith("data:")] == [page.resolve().as_uri()]
    for method in ("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded"):
        assert tab.events(method) == []


def test_the_page_fits_its_width(look: Look) -> None:
    assert look["wide_px"] <= look["room_px"]
    assert (look["beyond"], look["scrolled"]) == ([], [])


def test_texts_are_large_and_stand_out(look: Look) -> None:
    assert len(look["texts"]) > 50
    small = [text for text in look["texts"] if text["size_px"] < LEAST_TEXT_PX]
    faint = [text for text in look["texts"] if text["contrast"] < LEAST_CONTRAST]
    assert (small, faint) == ([], [])


def test_pictures_are_there(look: Look) -> None:
    assert all(width > 0 for width in look["images"])
    assert look["drawings"] >= 1


def test_the_page_follows_the_colour_scheme(browser: Browser, page: Path) -> None:
    papers = {}
    for dark in (False, True):
        shown = Tab(browser, width_px=DESK_PX, dark=dark)
        shown.open(page)
        papers[dark] = shown.evaluate(LOOK)["paper"]
        shown.close()
    assert papers[False] > 0.8
    assert papers[True] < 0.1


@pytest.mark.parametrize("paper", PAPERS_IN)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_page_prints_on_two_sheets(browser: Browser, page: Path, paper: str, *, dark: bool) -> None:
    shown = Tab(browser, width_px=DESK_PX, dark=dark)
    shown.open(page)
    sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", shown.pdf(paper_in=PAPERS_IN[paper])))
    shown.close()
    assert 1 <= sheets <= 2


def test_paper_is_white_and_legible_whatever_the_screen(browser: Browser, page: Path) -> None:
    shown = Tab(browser, width_px=DESK_PX, dark=True, media="print")
    shown.open(page)
    look = shown.evaluate(LOOK)
    shown.close()
    assert look["paper"] == pytest.approx(1.0)
    assert [text for text in look["texts"] if text["contrast"] < LEAST_CONTRAST] == []


def test_the_file_is_small_enough_to_send(page: Path) -> None:
    assert page.stat().st_size < MOST_BYTES
