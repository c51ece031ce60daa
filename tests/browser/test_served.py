"""The served page in a real browser, on a phone and on a desk: from a photo to advice, and all by hand."""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from sizing.cli.main import cli
from tests.helpers.paths import ROOT, SAMPLES

LOOK = (Path(__file__).parent / "look.js").read_text(encoding="utf-8")
LEAST_TEXT_PX = 11.0
LEAST_CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3
LEAST_TOUCH_PX = 44  # WCAG 2.2, success criterion 2.5.5
SCREENS = {"phone": (390, 844), "desk": (1280, 800)}
PATHS = (
    *("/", "/take/strand", "/take/lot", "/take/label", "/sheets", "/phones", "/nothing"),
    *("/stash", "/make", "/stash/1", "/make?goal=wrist&length=6in", "/take/sheet"),
    *("/plan", "/plan?goal=wrist&length=6in&beads=8mm&sizes=women"),
)
TARGET = ("--finished", "25cm", "--findings", "22mm", "--check-length", "273.0mm")
ANSWERED_MS = 10_000
MEASURED_MS = 120_000  # a photo takes ten seconds, and longer beside other tests


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve the page by the command, with workers that measure, and give its address."""
    folder = tmp_path_factory.mktemp("served")
    own = {"STRANDGAUGE_SETTINGS": str(folder), "STRANDGAUGE_DATA": str(folder), "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "sizing", "page", "--no-browser"]
    with subprocess.Popen(
        command, cwd=ROOT, env=os.environ | own, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        found = re.search(r"http://\S+:\d+", process.stdout.readline())
        assert found
        yield found[0]
        process.terminate()


@dataclass(kw_only=True)
class Visit:
    """A browser of its own, what it asked for, and what it complained about."""

    tab: Page
    url: str
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture(scope="module", params=SCREENS)
def context(request: pytest.FixtureRequest, browser: Browser) -> Iterator[BrowserContext]:
    width, height = SCREENS[request.param]
    is_phone = request.param == "phone"
    with browser.new_context(
        viewport={"width": width, "height": height}, is_mobile=is_phone, has_touch=is_phone
    ) as opened:
        opened.set_default_timeout(ANSWERED_MS)
        yield opened


@pytest.fixture(scope="module")
def visit(context: BrowserContext, url: str) -> Visit:
    tab = context.new_page()
    visit = Visit(tab=tab, url=url)
    tab.on("request", lambda asked: visit.asked.append(asked.url))
    tab.on("console", lambda message: visit.complaints.append(message.text))
    tab.on("pageerror", lambda error: visit.complaints.append(str(error)))
    return visit


@pytest.fixture(scope="module")
def strand(visit: Visit) -> str:
    """Send a photo as a maker does, with its target, and give the address of the result."""
    tab = visit.tab
    tab.goto(visit.url)
    tab.get_by_role("link", name="This strand").click()
    tab.get_by_text("Sheet and target").click()
    tab.get_by_label("Target").select_option("Finished length")
    tab.get_by_label("Length with its unit").fill("25 cm")
    tab.get_by_label("Clasp and findings").fill("22 mm")
    tab.get_by_label("Check length").fill("273.0 mm")
    tab.get_by_label("From the library").set_input_files(SAMPLES / "anklet.jpg")
    expect(tab.locator(".reading h1")).to_be_visible(timeout=MEASURED_MS)
    return tab.url


@pytest.fixture
def tab(visit: Visit, strand: str) -> Page:
    """Open the result anew."""
    visit.tab.goto(strand)
    return visit.tab


def tap(tab: Page, key: str) -> None:
    """Tap the middle of a bead."""
    mark = tab.locator(f'.mark[data-key="{key}"]')
    mark.evaluate("(each) => each.scrollIntoView({ block: 'center' })")
    box = mark.bounding_box()
    assert box
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    if tab.evaluate("navigator.maxTouchPoints"):
        tab.touchscreen.tap(*middle)
    else:
        tab.mouse.click(*middle)


def said(tab: Page) -> str:
    return " ".join(tab.locator("#advice h1").inner_text().split())


def test_advice_is_that_of_the_command_line(tab: Page) -> None:
    printed = CliRunner().invoke(cli, ["strand", str(SAMPLES / "anklet.jpg"), *TARGET]).stdout
    assert said(tab).startswith("Remove 1 bead to finish at 250.0 mm")
    assert said(tab) in " ".join(printed.split())


def test_another_target_is_answered_at_once_and_kept(tab: Page) -> None:
    tab.get_by_label("Length with its unit").fill("10 in")
    with tab.expect_response("**/wish"):
        tab.get_by_role("button", name="Show", exact=True).click()
    expect(tab.locator("#advice h1")).to_contain_text("10 in")
    tab.reload()
    assert "10 in" in said(tab)
    tab.goto(tab.url.rpartition("/m/")[0] + "/take/strand")
    assert tab.locator("input[name=length]").input_value() == "10 in"


def test_a_target_that_cannot_be_meant_is_told(tab: Page) -> None:
    before = said(tab)
    tab.get_by_label("Length with its unit").fill("7")
    tab.get_by_role("button", name="Show", exact=True).click()
    expect(tab.get_by_role("alert")).to_contain_text("7 has no unit: write 7mm, 7cm or 7in")
    assert said(tab) == before


def test_a_bead_that_is_tapped_says_its_size(tab: Page) -> None:
    tap(tab, "7")
    panel = tab.locator("#shown-card")
    expect(panel).to_contain_text("Bead 7")
    assert re.search(r"6\.\d+ ± 0\.\d+ mm", panel.inner_text().replace("\N{NO-BREAK SPACE}", " "))


def test_the_photo_is_looked_at_closely_by_keys_and_buttons(tab: Page) -> None:
    view = tab.locator("svg.view")
    window = view.get_attribute("viewBox")
    tab.get_by_role("button", name="Look closer").click()
    assert view.get_attribute("viewBox") != window
    tab.get_by_role("button", name="Show all beads").click()
    assert view.get_attribute("viewBox") == window
    tab.locator(".mark").first.focus()
    tab.keyboard.press("ArrowRight")
    expect(tab.locator("#shown-card")).to_contain_text("Bead 2")


def test_beads_are_put_right_and_that_is_taken_back(tab: Page) -> None:
    before = tab.locator("#more").inner_text()
    tap(tab, "1")
    tab.get_by_role("button", name="A stopper").click()
    expect(tab.locator("#more")).to_contain_text("Bead 1 is a stopper.")
    expect(tab.locator(".mark")).to_have_count(39)
    tab.get_by_role("button", name="Take back").click()
    expect(tab.locator(".mark")).to_have_count(40)
    assert tab.locator("#more").inner_text() == before


def test_a_doubtful_bead_is_one_indeed(tab: Page) -> None:
    doubtful = tab.locator(".mark.doubtful")
    key = doubtful.first.get_attribute("data-key")
    assert key
    tap(tab, key)
    tab.get_by_role("button", name="It is a bead").click()
    expect(tab.locator("#more")).to_contain_text(f"Bead {key} is a bead.")
    tab.get_by_role("button", name="Take back").click()
    expect(tab.get_by_role("button", name="Take back")).to_have_count(0)


def test_two_beads_are_one_and_a_caliper_is_read(tab: Page) -> None:
    tap(tab, "10")
    tab.get_by_role("button", name="One with").click()
    tap(tab, "11")
    expect(tab.locator("#more")).to_contain_text("Beads 10, 11 are one.")
    tap(tab, "3")
    tab.get_by_role("button", name="Caliper").click()
    tab.get_by_label("Size with its unit").fill("6.41 mm")
    tab.get_by_role("button", name="Take it").click()
    expect(tab.locator("#more")).to_contain_text("by a caliper")
    for left in (1, 0):
        tab.get_by_role("button", name="Take back").first.click()
        expect(tab.get_by_role("button", name="Take back")).to_have_count(left)


def test_what_was_measured_is_kept_and_made_of(tab: Page) -> None:
    name = f"glass {tab.evaluate('innerWidth')}"  # of this screen alone
    tab.get_by_text("Keep in the stash").click()
    tab.get_by_label("Name").fill(name)
    tab.get_by_label("How many").fill("60")
    tab.get_by_role("button", name="Keep", exact=True).click()
    expect(tab.locator("h1")).to_have_text(f"{name}: 60 beads")
    tab.get_by_role("link", name="Make").click()
    tab.get_by_label("Target").select_option("Wrist")
    tab.get_by_label("Length with its unit").fill("6 1/2 in")
    tab.get_by_role("button", name="What can I make?").click()
    way = tab.locator(".ways li", has_text=name).first
    needed = re.search(
        rf"(\d+) of {name} \((\d+) left\)", way.inner_text().replace("\N{NO-BREAK SPACE}", " ")
    )
    assert needed
    assert int(needed[1]) + int(needed[2]) == 60
    tab.once("dialog", lambda dialog: dialog.accept())
    way.get_by_role("button", name="Take them out").click()
    tab.get_by_role("link", name=name).click()
    expect(tab.locator("h1")).to_have_text(f"{name}: {needed[2]} beads")


def test_a_plan_keeps_what_is_ticked_off(visit: Visit) -> None:
    tab = visit.tab
    tab.goto(f"{visit.url}/plan")
    tab.get_by_label("Target").select_option("Wrist")
    tab.get_by_label("Length with its unit").fill("6 1/2 in")
    tab.get_by_label("Beads in order").fill("7 mm")
    tab.get_by_role("button", name="Plan", exact=True).click()
    expect(tab.locator("h1")).to_contain_text("String 24")
    wire = tab.get_by_role("checkbox", name="wire")
    wire.check()
    tab.reload()
    expect(wire).to_be_checked()


def test_what_a_page_shows_of_a_photo_says_nothing_of_its_place(tab: Page) -> None:
    jpeg = tab.request.get(f"{tab.url}/photo/0.jpg").body()
    assert jpeg.startswith(b"\xff\xd8\xff")
    assert b"Exif" not in jpeg


def test_a_photo_that_cannot_be_measured_offers_another(visit: Visit) -> None:
    tab = visit.tab
    tab.goto(f"{visit.url}/take/strand")
    tab.get_by_label("From the library").set_input_files(SAMPLES / "labelled-10mm.jpg")
    again = tab.get_by_role("link", name="Take the photo again")
    expect(again).to_be_visible(timeout=MEASURED_MS)
    assert len(tab.locator(".reason").inner_text()) > 20
    again.click()
    expect(tab.get_by_label("Take a photo")).to_be_attached()


def test_a_photo_that_is_chosen_before_the_script_is_there_is_sent(visit: Visit) -> None:
    tab = visit.tab
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    tab.route("**/take.js", hold)
    tab.goto(f"{visit.url}/take/strand", wait_until="commit")
    tab.get_by_text("Sheet and target").click()
    tab.get_by_label("Height of the bed").fill("2 mm")
    with tab.expect_response("**/photos"):
        tab.get_by_label("From the library").set_input_files(SAMPLES / "anklet.jpg")
        held[0].continue_()
    # The page goes on by itself: a test that began before would be carried along.
    tab.wait_for_url("**/m/*")
    assert tab.evaluate("JSON.parse(localStorage.getItem('strandgauge-typed')).bed_height") == "2 mm"
    tab.unroute("**/take.js")
    tab.evaluate("localStorage.clear()")


def test_what_is_no_photo_is_told(visit: Visit, tmp_path: Path) -> None:
    file = tmp_path / "<img src=x onerror=alert(1)>.jpg"
    file.write_bytes(b"<html><script>alert(1)</script>")
    visit.tab.goto(f"{visit.url}/take/strand")
    visit.complaints.clear()
    visit.tab.get_by_label("From the library").set_input_files(file)
    expect(visit.tab.get_by_role("alert")).to_contain_text("This file is no photo")
    assert all("415" in complaint for complaint in visit.complaints)
    visit.complaints.clear()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_fit_the_screen_and_can_be_read(visit: Visit, strand: str, scheme: str) -> None:
    tab = visit.tab
    tab.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    for path in (*(f"{visit.url}{path}" for path in PATHS), strand):
        tab.goto(path)
        # The photo is cut by its frame, and its numbers stand on a white halo, which is no element.
        tab.evaluate("document.querySelectorAll('svg.view > *').forEach((each) => each.remove())")
        look = tab.evaluate(LOOK)
        assert look["wide_px"] <= look["room_px"], path
        assert look["beyond"] == [], path
        assert [text for text in look["texts"] if text["size_px"] < LEAST_TEXT_PX] == [], path
        assert [text for text in look["texts"] if text["contrast"] < LEAST_CONTRAST] == [], path
    tab.emulate_media(color_scheme="light")
    visit.complaints.clear()  # of the page that is not there


def test_helpers_for_those_who_do_not_see_find_nothing_serious(visit: Visit, strand: str) -> None:
    for path in (*(f"{visit.url}{path}" for path in PATHS), strand):
        visit.tab.goto(path)
        found = Axe().run(visit.tab).response["violations"]
        serious = [each["id"] for each in found if each["impact"] in {"serious", "critical"}]
        assert serious == [], path
    visit.complaints.clear()


def test_controls_are_as_large_as_a_thumb(tab: Page) -> None:
    tap(tab, "7")
    small = tab.evaluate(
        f"""[...document.querySelectorAll("button, .button, select, input, .places a, summary")]
        .filter((each) => each.checkVisibility())
        .filter((each) => each.getBoundingClientRect().height < {LEAST_TOUCH_PX})
        .map((each) => each.textContent)"""
    )
    assert small == []
    look = tab.evaluate(LOOK)
    assert look["wide_px"] <= look["room_px"]


def test_the_advice_prints_on_paper(tab: Page) -> None:
    tab.emulate_media(media="print")
    assert tab.evaluate(LOOK)["paper"] == pytest.approx(1.0)
    assert not tab.locator(".places").is_visible()
    assert tab.pdf(format="A4").startswith(b"%PDF")
    tab.emulate_media(media="screen")


def test_nothing_leaves_this_computer_and_nothing_complains(visit: Visit, strand: str) -> None:
    visit.tab.goto(strand)
    assert len(visit.asked) > 20
    assert [asked for asked in visit.asked if not asked.startswith((visit.url, "data:"))] == []
    assert visit.complaints == []
