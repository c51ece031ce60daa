"""Pieces on the page in a real browser: planned, put on a list, bought without a network, compared."""

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from sizing.piece.toml.read import PIECE_HELP
from tests.helpers.pretend_page import serving
from tests.helpers.served import PIECE
from tests.helpers.workers import JPEG

LOOK = (Path(__file__).parent / "look.js").read_text(encoding="utf-8")
LEAST_CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("served")
    with serving(folder, data=folder) as server:
        yield server.url


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    with browser.new_context(
        viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True, accept_downloads=True
    ) as opened:
        opened.set_default_timeout(10_000)
        yield opened


@pytest.fixture
def listed(phone: BrowserContext, url: str, tmp_path: Path) -> Page:
    """Open a piece file, put the piece on the list, and open the list."""
    tab, file = phone.new_page(), tmp_path / "piece.toml"
    file.write_text(PIECE, encoding="utf-8")
    tab.goto(f"{url}/plan")
    tab.get_by_label("Open a piece file").set_input_files(file)
    expect(tab.locator("h1")).to_contain_text("String 23")
    tab.get_by_role("button", name="Put on my list").click()
    expect(tab.get_by_role("button", name="On my list")).to_be_disabled()
    tab.get_by_role("link", name="My list", exact=True).click()
    expect(tab.get_by_label("How many of Eight all round")).to_be_visible()
    return tab


def test_what_to_buy_is_ticked_off_without_a_network(
    phone: BrowserContext, listed: Page, tmp_path: Path
) -> None:
    listed.get_by_label("How many of Eight all round").fill("2")
    listed.get_by_role("button", name="What to buy for them").click()
    beads = listed.get_by_role("checkbox", name="49")  # 46, and one in twenty more
    expect(beads).to_be_visible()
    phone.set_offline(True)
    beads.check()
    with listed.expect_download() as saved:
        listed.get_by_role("link", name="Save as a file").click()
    file = tmp_path / "list.html"
    saved.value.save_as(file)
    listed.goto("about:blank")
    listed.go_back()
    expect(beads).to_be_checked()
    own = phone.new_page()
    complaints: list[str] = []
    own.on("console", lambda message: complaints.append(message.text))
    own.on("request", lambda asked: complaints.append(asked.url) if asked.url[:5] != "file:" else None)
    own.goto(file.as_uri())
    own.get_by_role("checkbox", name="clasp").check()
    own.reload()
    expect(own.get_by_role("checkbox", name="clasp")).to_be_checked()
    assert not own.get_by_role("link", name="Save as a file").is_visible()
    assert [each for each in complaints if not each.startswith("data:")] == []


@pytest.mark.parametrize("typed", ["-1", "0", "abc", "1.5"])
def test_what_is_no_number_of_pieces_is_not_counted_as_one(listed: Page, typed: str) -> None:
    many = listed.get_by_label("How many of Eight all round")
    many.fill(typed)
    listed.get_by_role("button", name="What to buy for them").click()
    expect(listed.get_by_role("alert")).to_contain_text("is no number of pieces: of each, type 1 to 99")
    expect(many).to_have_value(typed)


def test_a_piece_is_taken_off_the_list(listed: Page) -> None:
    listed.get_by_role("button", name="Take Eight all round off the list").click()
    expect(listed.get_by_text("Nothing is on the list.")).to_be_visible()
    listed.reload()
    expect(listed.get_by_text("Nothing is on the list.")).to_be_visible()


def test_a_finished_piece_is_compared_with_a_plan_of_the_list(listed: Page, url: str, tmp_path: Path) -> None:
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(JPEG + b"loop")
    listed.goto(f"{url}/take/strand")
    listed.get_by_label("From the library").set_input_files(photo)
    expect(listed.locator(".reading h1")).to_be_visible(timeout=60_000)
    listed.get_by_label("Its plan").select_option("Eight all round")
    table = listed.locator("dl.compared")
    expect(table).to_contain_text("1 too few")
    listed.reload()
    expect(table).to_contain_text("1 too few")
    listed.get_by_label("Its plan").select_option("None")
    expect(table).to_have_count(0)


def test_kept_beads_are_described_and_carried_to_another_book(
    phone: BrowserContext, url: str, tmp_path: Path
) -> None:
    tab, photo = phone.new_page(), tmp_path / "photo.jpg"
    photo.write_bytes(JPEG)
    tab.goto(f"{url}/take/strand")
    tab.get_by_label("From the library").set_input_files(photo)
    expect(tab.locator(".reading h1")).to_be_visible(timeout=60_000)
    tab.get_by_text("Keep in the stash").click()
    tab.get_by_label("Name").fill("to carry")
    tab.get_by_role("button", name="Keep", exact=True).click()
    tab.get_by_text("Change these details").click()
    tab.get_by_label("From").fill("a show")
    tab.get_by_role("button", name="Keep the changes").click()
    expect(tab.locator(".kept")).to_contain_text("a show")
    tab.goto(f"{url}/stash")
    tab.get_by_text("Keep it safe").click()
    with tab.expect_download() as saved:
        tab.get_by_role("link", name="Save everything as a file").click()
    file = tmp_path / "stash.zip"
    saved.value.save_as(file)
    tab.get_by_role("link", name="to carry").click()
    tab.once("dialog", lambda dialog: dialog.accept())
    tab.get_by_role("button", name="Delete from the stash").click()
    expect(tab.locator("h1")).to_have_text("Nothing is kept yet")
    tab.get_by_text("Keep it safe").click()
    expect(tab.get_by_text("Add what is in a file")).to_be_visible()  # a script shows it when it listens
    tab.get_by_label("Add what is in a file").set_input_files(file)
    expect(tab.get_by_role("link", name="to carry")).to_be_visible()


def test_a_second_tap_does_not_take_beads_out_twice(phone: BrowserContext, url: str, tmp_path: Path) -> None:
    tab, photo = phone.new_page(), tmp_path / "photo.jpg"
    photo.write_bytes(JPEG)
    tab.goto(f"{url}/take/strand")
    tab.get_by_label("From the library").set_input_files(photo)
    expect(tab.locator(".reading h1")).to_be_visible(timeout=60_000)
    tab.get_by_text("Keep in the stash").click()
    tab.get_by_label("Name").fill("tapped twice")
    tab.get_by_role("button", name="Keep", exact=True).click()
    expect(tab.locator("h1")).to_have_text("tapped twice: 30 beads")
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    tab.route("**/use", hold)
    tab.get_by_label("Beads", exact=True).fill("40")
    tab.get_by_role("button", name="Take out").click()
    tab.get_by_role("button", name="Take out").click()
    tab.evaluate("new Promise(requestAnimationFrame)")
    assert len(held) == 1
    held.pop().continue_()
    expect(tab.get_by_role("alert")).to_contain_text("40 beads cannot be taken")
    tab.get_by_label("Beads", exact=True).fill("4")
    tab.get_by_role("button", name="Take out").click()
    tab.evaluate("new Promise(requestAnimationFrame)")
    held.pop().continue_()
    expect(tab.locator("h1")).to_have_text("tapped twice: 26 beads")


def test_beads_of_two_photos_are_not_one(phone: BrowserContext, url: str, tmp_path: Path) -> None:
    """Each photo counts from 1, so B2 must not be taken for A2."""
    tab, photo = phone.new_page(), tmp_path / "photo.jpg"
    photo.write_bytes(JPEG)
    tab.goto(f"{url}/take/lot")
    tab.get_by_label("From the library").set_input_files([photo, photo])
    tab.get_by_role("button", name="Measure", exact=True).click()
    expect(tab.locator(".reading h1")).to_contain_text("6 beads", timeout=60_000)
    for key in ("A1", "B2"):
        mark = tab.locator(f'.mark[data-key="{key}"]')
        mark.scroll_into_view_if_needed()
        box = mark.bounding_box()
        assert box
        tab.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        if key == "A1":
            tab.get_by_role("button", name="One with").click()
    expect(tab.get_by_role("alert")).to_contain_text("on two photos")
    expect(tab.get_by_role("button", name="Take back")).to_have_count(0)


def test_the_list_in_two_tabs_is_one(phone: BrowserContext, listed: Page, url: str) -> None:
    """Before the other tab hears of it, too: its own events are held back."""
    deaf = phone.new_page()
    deaf.add_init_script("window.addEventListener('storage', (event) => event.stopImmediatePropagation())")
    listed.goto(f"{url}/plan?{urlencode({'piece': PIECE, 'name': 'another'})}")
    listed.get_by_role("button", name="Put on my list").click()
    listed.goto(f"{url}/pieces")
    deaf.goto(f"{url}/pieces")
    listed.get_by_role("button", name="Take Eight all round off").click()
    expect(deaf.get_by_role("link", name="Eight all round")).to_be_visible()
    many = deaf.get_by_label("How many of Eight all round")
    many.fill("3")
    many.blur()
    deaf.get_by_role("button", name="Take Eight all round off").click()
    listed.reload()
    expect(listed.get_by_role("link", name="another")).to_be_visible()
    expect(listed.get_by_label("How many of another")).to_have_value("1")
    heard = phone.new_page()
    heard.goto(f"{url}/pieces")
    listed.get_by_role("button", name="Take another off").click()
    expect(heard.get_by_text("Nothing is on the list.")).to_be_visible()


def test_long_names_and_lists_of_beads_fit_a_phone(phone: BrowserContext, url: str, tmp_path: Path) -> None:
    tab, photo, name = phone.new_page(), tmp_path / "photo.jpg", "amethyst_" * 10
    photo.write_bytes(JPEG)
    tab.goto(f"{url}/take/label")
    tab.get_by_label("Label").fill("6 mm")
    tab.get_by_label("From the library").set_input_files(photo)
    tab.get_by_role("button", name="Measure", exact=True).click()
    expect(tab.locator(".reading h1")).to_be_visible(timeout=60_000)
    which = tab.locator("td:last-child").first
    which.evaluate("(each) => (each.textContent = '1-3, 5-31, 33-54, 60, 62, 64-70')")
    assert tab.evaluate(LOOK)["scrolled"] == []
    tab.get_by_text("Keep in the stash").click()
    tab.get_by_label("Name").fill(name)
    tab.get_by_label("Paid").fill("9 EUR")
    tab.get_by_role("button", name="Keep", exact=True).click()
    expect(tab.locator("h1")).to_contain_text(name)
    kept = tab.url.rpartition("/")[2]
    tab.goto(f"{url}/plan?{urlencode({'piece': PIECE, 'name': name})}")
    tab.get_by_role("button", name="Put on my list").click()
    wanted = urlencode({"goal": "strung", "length": "6 mm"})
    for path in ("/stash", "/pieces", f"/make?{wanted}", f"/plan?{wanted}&kept={kept}.1"):
        tab.goto(f"{url}{path}")
        expect(tab.get_by_text(re.compile(name, re.IGNORECASE)).first).to_be_attached()
        look = tab.evaluate(LOOK)
        assert (look["wide_px"], look["beyond"]) == (look["room_px"], []), path


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_of_pieces_fit_the_screen_and_can_be_read(listed: Page, url: str, scheme: str) -> None:
    listed.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    listed.get_by_role("button", name="What to buy for them").click()
    expect(listed.locator("h1")).to_have_text("What to buy")
    plan = urlencode({"piece": PIECE_HELP})
    for path in (listed.url, f"{url}/pieces", f"{url}/plan?{plan}", f"{url}/plan", f"{url}/stash"):
        listed.goto(path)
        listed.evaluate("document.querySelectorAll('details').forEach((each) => (each.open = true))")
        look = listed.evaluate(LOOK)
        assert look["wide_px"] <= look["room_px"], path
        assert look["beyond"] == [], path
        assert [text for text in look["texts"] if text["contrast"] < LEAST_CONTRAST] == [], path
        found = Axe().run(listed).response["violations"]
        assert [each["id"] for each in found if each["impact"] in {"serious", "critical"}] == [], path
