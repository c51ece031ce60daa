"""Photos are sent, measured and read through the served page; nothing a browser sends leads astray."""

import base64
import hashlib
import html
import re
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from starlette.testclient import TestClient

from sizing.piece.toml.read import read_piece
from sizing.web.measuring.limits import Limits
from tests.helpers.pages import read
from tests.helpers.served import LIMITS, Served, served
from tests.helpers.workers import JPEG, SHOWN

PATHS = (
    *("/", "/take/strand", "/take/lot", "/take/label", "/take/sheet"),
    *("/stash", "/make", "/plan", "/pieces", "/sheets", "/phones", "/pair"),
)
NAMES = [
    "../../../etc/passwd",
    "..%2f..%2fetc%2fpasswd",
    "/etc/passwd",
    "con.jpg",
    "<script>alert(1)</script>.jpg",
    '"><img src=x onerror=alert(1)>.jpg',
    "photo.jpg\r\nX-Evil: yes",
    "a" * 5000,
]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with served(tmp_path_factory.mktemp("served")) as running:
        yield running


def send(client: TestClient, does: str = "") -> str:
    answer = client.post("/photos", content=JPEG + does.encode())
    assert answer.status_code == 200, answer.text
    word: str = answer.json()["photo"]
    return word


def measure(client: TestClient, kind: str, *does: str, **typed: str) -> str:
    """Measure photos and return the address of the result."""
    words = [send(client, each) for each in does]
    answer = client.post("/measurements", json={"kind": kind, "photos": words, **typed})
    assert answer.status_code == 200, answer.text
    url: str = answer.json()["go"]
    wait(client, url)
    return url


def wait(client: TestClient, url: str) -> None:
    until = time.monotonic() + 60
    while client.get(f"{url}/state").json()["state"] in {"waiting", "measuring"}:
        assert time.monotonic() < until
        time.sleep(0.02)


@pytest.fixture(scope="module")
def strand(page: Served) -> str:
    return measure(page.at_computer, "strand", "", goal="finished", length="200 mm", findings="22 mm")


@pytest.fixture(scope="module")
def lot(page: Served) -> str:
    return measure(page.at_computer, "lot", "", "")


@pytest.mark.parametrize("path", PATHS)
def test_pages_are_whole_and_load_nothing_foreign(page: Served, path: str) -> None:
    answer = page.at_computer.get(path)
    assert answer.status_code == 200
    document = read(answer.text)
    urls = [
        value
        for _, attributes in document.elements
        for name, value in attributes.items()
        if name in {"href", "src", "action"} and value
    ]
    assert urls
    assert all(url.startswith(("/", "#", "data:,")) for url in urls)
    assert not [1 for _, attributes in document.elements if "style" in attributes or "onclick" in attributes]
    assert all(script.get("src") for script in document.all("script"))
    assert re.findall(r".{20}--[a-z]+", plain(answer.text)) == []


def test_a_strand_is_measured_and_read(page: Served, strand: str) -> None:
    text = page.at_computer.get(strand).text
    assert read(text).open_tags == []
    assert "Add 0 beads" not in text
    assert re.search(r"<h1>(Leave the strand|Add|Remove)", text)
    assert len(re.findall(r'class="mark ', text)) == 30
    assert "Too little of its outline" in text
    photo = page.at_computer.get(f"{strand}/photo/0.jpg")
    assert (photo.content, photo.headers["content-type"]) == (SHOWN, "image/jpeg")


def test_another_target_is_answered_without_measuring(page: Served, strand: str) -> None:
    answer = page.at_computer.post(f"{strand}/wish", json={"goal": "finished", "length": "8 3/4 in"})
    assert answer.status_code == 200
    assert "to finish at 8 3/4" in re.sub(r"<[^>]+>", "", answer.text).replace("\N{NO-BREAK SPACE}", " ")
    kept = page.at_computer.get(strand).text
    assert 'value="8 3/4 in"' in kept
    refused = page.at_computer.post(f"{strand}/wish", json={"goal": "wrist", "length": "7"})
    assert (refused.status_code, refused.json()["message"]) == (
        400,
        "Length: 7 has no unit: write 7mm, 7cm or 7in",
    )
    assert page.at_computer.get(strand).text == kept


def test_beads_are_put_right_and_that_is_taken_back(page: Served) -> None:
    client = page.at_computer
    url = measure(client, "strand", "")
    before = client.get(url).text
    said = {"action": "stopper", "numbers": [1], "photo": "photo 1"}
    corrected = client.post(f"{url}/corrections", json=said).text
    assert "Bead 1 is a stopper." in corrected
    assert len(re.findall(r'class="mark ', corrected)) == 29
    again = client.post(f"{url}/corrections", json={**said, "action": "no bead"}).text
    assert "is a stopper" not in again
    assert "Bead 1 is no bead." in again
    place = re.search(r'data-key="1" data-x="([\d.]+)" data-y="([\d.]+)"', before)
    assert place
    missing = {"action": "bead here", "photo": "photo 1", "px": [float(place[1]), float(place[2])]}
    assert len(re.findall(r'class="mark ', client.post(f"{url}/corrections", json=missing).text)) == 30
    assert client.post(f"{url}/undo", json={"index": 1}).status_code == 200
    assert client.post(f"{url}/undo", json={"index": 0}).status_code == 200
    assert client.post(f"{url}/undo", json={"index": 0}).status_code == 400
    assert client.get(url).text == before


def test_two_phones_put_right_the_same_strand(page: Served) -> None:
    client = page.at_computer
    url = measure(client, "strand", "")
    said = [{"action": "no bead", "numbers": [k], "photo": "photo 1"} for k in (1, 2, 29, 30)]
    with ThreadPoolExecutor(len(said)) as phones:
        answers = list(phones.map(lambda each: client.post(f"{url}/corrections", json=each), said))
    assert [answer.status_code for answer in answers] == [200] * len(said)
    assert client.get(f"{url}/beads.json").json()["strand"]["count"] == 30 - len(said)


def test_what_was_put_right_goes_into_the_files(page: Served) -> None:
    client = page.at_computer
    url = measure(client, "strand", "")
    client.post(f"{url}/corrections", json={"action": "stopper", "numbers": [1], "photo": "photo 1"})
    fields = client.get(f"{url}/beads.json").json()
    assert (fields["kind"], fields["strand"]["count"], fields["beads"][0]["was"]) == ("strand", 29, [2])
    table = client.get(f"{url}/beads.csv").text.splitlines()
    assert len(table) == 1 + 29
    assert client.get(f"{url}/beads.exe").status_code == 404


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"action": "explode", "numbers": [1], "photo": "photo 1"},
        {"action": "no bead", "numbers": [], "photo": "photo 1"},
        {"action": "no bead", "numbers": [99], "photo": "photo 1"},
        {"action": "no bead", "numbers": [True, "1"], "photo": "photo 1"},
        {"action": "no bead", "numbers": [1], "photo": "../photo"},
        {"action": "no bead", "numbers": list(range(1, 31)), "photo": "photo 1"},
        {"action": "bead here", "photo": "photo 1"},
        {"action": "bead here", "photo": "photo 1", "px": [1e300, 5]},
        {"action": "bead here", "photo": "photo 1", "px": ["1", "2"]},
        {"action": "size", "numbers": [1], "photo": "photo 1", "size": "6.3"},
        {"action": "one bead", "numbers": [1], "photo": "photo 1"},
    ],
)
def test_corrections_that_cannot_be_meant_change_nothing(
    page: Served, strand: str, said: dict[str, object]
) -> None:
    before = page.at_computer.get(strand).text
    assert page.at_computer.post(f"{strand}/corrections", json=said).status_code == 400
    assert page.at_computer.get(strand).text == before


def test_a_lot_of_several_photos_is_read_and_picked_from(page: Served, lot: str) -> None:
    text = page.at_computer.get(lot).text
    assert 'data-key="A1"' in text
    assert 'data-key="B3"' in text
    picked = page.at_computer.post(f"{lot}/wish", json={"pick": "uniform", "amount": "2"}).text
    assert len(re.findall(r'class="mark [^"]*picked', picked)) == 2
    corrected = page.at_computer.post(
        f"{lot}/corrections", json={"action": "two beads", "numbers": [3], "photo": "photo 2"}
    )
    assert "Bead B3 is two." in corrected.text


def test_a_delivery_is_held_against_its_label(page: Served) -> None:
    url = measure(page.at_computer, "label", "", label="8mm", tolerance="0.2mm")
    assert "8mm: not as labelled" in page.at_computer.get(url).text.replace("\N{NO-BREAK SPACE}", " ")
    refused = page.at_computer.post(
        "/measurements", json={"kind": "label", "photos": [send(page.at_computer)], "label": ""}
    )
    assert refused.json()["message"].startswith("Type what the label says")


def test_a_printed_sheet_is_measured_by_what_lies_on_it(page: Served) -> None:
    client = page.at_computer
    assert "US 1 cent coin" in client.get("/take/sheet").text
    assert "<h1>euro-2</h1>" in client.get(measure(client, "sheet", "", thing="euro-2")).text
    url = measure(client, "sheet", "", thing="../../anything")
    assert "<h1>card</h1>" in client.get(url).text
    assert client.post(f"{url}/wish", json={}).status_code == 404
    assert client.post(f"{url}/keep", json={"name": "a sheet"}).status_code == 404


def test_a_refused_photo_says_why_and_offers_another(page: Served) -> None:
    url = measure(page.at_computer, "strand", "empty")
    text = page.at_computer.get(url).text
    assert "No bead is seen: lay some on the sheet" in text
    assert 'href="/take/strand"' in text


def test_a_measurement_is_cancelled(page: Served) -> None:
    client = page.at_computer
    answer = client.post("/measurements", json={"kind": "strand", "photos": [send(client, "hang")]})
    url = answer.json()["go"]
    assert 'id="cancel"' in client.get(url).text
    assert client.post(f"{url}/cancel", json={}).json() == {"go": "/take/strand"}
    assert "was cancelled" in client.get(url).text


def test_a_full_line_tells_to_wait_and_takes_the_photo_later(page: Served) -> None:
    client = page.at_computer
    stuck, *_, last = [begin(client, does) for does in ("hang", "", "")]
    word = send(client)
    told = client.post("/measurements", json={"kind": "strand", "photos": [word]})
    assert (told.status_code, told.json()["message"]) == (
        503,
        "2 photos are waiting to be measured: try again in a minute",
    )
    assert int(told.headers["retry-after"]) > 0
    assert client.get(f"{last}/state").json()["ahead"] == 1
    client.post(f"{stuck}/cancel", json={})
    wait(client, last)
    later = client.post("/measurements", json={"kind": "strand", "photos": [word]})
    assert later.status_code == 200


def begin(client: TestClient, does: str) -> str:
    """Ask for a measurement; the first of several is being measured before the next is asked for."""
    answer = client.post("/measurements", json={"kind": "strand", "photos": [send(client, does)]})
    url: str = answer.json()["go"]
    until = time.monotonic() + 60
    while does and client.get(f"{url}/state").json()["state"] == "waiting":
        assert time.monotonic() < until
        time.sleep(0.02)
    return url


def test_what_was_measured_is_kept_counted_and_made_of(page: Served, strand: str) -> None:
    client = page.at_computer
    about = {"name": "blue glass", "price": "12 EUR", "count": "60", "photo": "yes", "source": "a show"}
    url = client.post(f"{strand}/keep", json=about).json()["go"]
    assert "blue glass: 60 beads" in client.get(url).text
    assert client.get(f"{url}/small.jpg").content == SHOWN
    assert client.get(f"{url}/photo.jpg").content == SHOWN
    again = client.post(f"{strand}/keep", json=about)
    assert (again.status_code, "already has an entry" in again.json()["message"]) == (400, True)
    assert client.post(f"{url}/use", json={"beads": "10"}).json() == {"go": url}
    assert "blue glass: 50 beads" in client.get(url).text
    assert client.post(f"{url}/use", json={"beads": "51"}).status_code == 400
    client.post(f"{url}/recount", json={"count": "48"})
    assert "blue glass" in client.get("/stash", params={"size": "6mm", "count": "48"}).text
    assert "blue glass" not in client.get("/stash", params={"size": "8mm"}).text
    ways = client.get("/make", params={"goal": "wrist", "length": "6 1/2 in"}).text
    needs = re.search(r'name="needs" value="([\d, ]+)"', ways)
    assert needs
    taken = int(needs[1].rpartition(",")[2])
    assert f"{taken} of blue glass ({48 - taken} left)" in ways
    assert client.post("/make/take", json={"needs": needs[1]}).json() == {"go": "/stash"}
    assert f"blue glass: {48 - taken} beads" in client.get(url).text
    assert client.post("/make/take", json={"needs": f"{needs[1]} {needs[1]}"}).status_code == 400
    assert f"blue glass: {48 - taken} beads" in client.get(url).text
    client.post(f"{url}/photo", json={})
    assert client.get(f"{url}/photo.jpg").status_code == 404
    assert client.post(f"{url}/forget", json={}).json() == {"go": "/stash"}
    assert client.get(url).status_code == 400


def test_two_phones_take_from_one_lot(page: Served, strand: str) -> None:
    client = page.at_computer
    url = client.post(f"{strand}/keep", json={"name": "for two", "count": "100"}).json()["go"]
    with ThreadPoolExecutor(2) as phones:
        takes = phones.map(lambda _: client.post(f"{url}/use", json={"beads": "60"}).status_code, range(2))
        assert sorted(takes) == [200, 400]
    assert "for two: 40 beads" in client.get(url).text
    with ThreadPoolExecutor(4) as phones:
        takes = phones.map(lambda _: client.post(f"{url}/use", json={"beads": "3"}).status_code, range(8))
        assert list(takes) == [200] * 8
    assert "for two: 16 beads" in client.get(url).text
    assert client.post(f"{url}/forget", json={}).status_code == 200


def test_a_piece_is_planned_of_typed_and_of_kept_beads(page: Served, strand: str) -> None:
    """The count of 24 is that of the README's plan of the same piece."""
    client = page.at_computer
    asked = {"goal": "wrist", "length": "6 1/2 in", "beads": "7 mm"}
    text = re.sub(r"<[^>]+>", "", client.get("/plan", params=asked).text).replace("\N{NO-BREAK SPACE}", " ")
    assert "String 24 \N{MULTIPLICATION SIGN} bead 7 mm" in text
    assert "1 \N{MULTIPLICATION SIGN} wire, 11 1/8 in (282.3 mm)" in text
    kept = client.post(f"{strand}/keep", json={"name": "to plan", "count": "60"}).json()["go"]
    ways = client.get("/make", params={"goal": "wrist", "length": "6 1/2 in"}).text
    planned = re.search(r'href="(/plan[^"]+)"', ways[ways.index("to plan") :])
    assert planned
    assert "to plan" in client.get(html.unescape(planned[1])).text
    assert client.post(f"{kept}/forget", json={}).status_code == 200


PIECE = """piece = 1
name = "Eight all round"
target.finished = "196 mm"
[[bead]]
size = "8 mm"
[[finding]]
kind = "clasp"
length = "12 mm"
[wire]
diameter = ".015 in"
"""


def plain(text: str) -> str:
    """Return a page as it is read."""
    return html.unescape(re.sub(r"<[^>]+>", "", text)).replace("\N{NO-BREAK SPACE}", " ")


def test_a_piece_file_goes_in_and_out(page: Served) -> None:
    client = page.at_computer
    shown = client.get("/plan", params={"piece": PIECE})
    assert "String 23 \N{MULTIPLICATION SIGN} bead 8 mm" in plain(shown.text)
    out = client.get(
        "/plan.toml", params={"piece": PIECE, "goal": "finished", "length": "204 mm", "name": "Longer"}
    )
    assert out.headers["content-disposition"] == 'attachment; filename="piece.toml"'
    again = read_piece(out.text)
    assert (again.name, again.target_mm) == ("Longer", {"finished": 204.0})
    assert (again.beads, again.findings, again.wire) == (
        read_piece(PIECE).beads,
        read_piece(PIECE).findings,
        read_piece(PIECE).wire,
    )
    assert "String 24" in plain(client.get("/plan", params={"piece": out.text}).text)
    asks = client.get("/plan", params={"piece": PIECE.replace('target.finished = "196 mm"', "")})
    assert "<h1>Plan a piece</h1>" in asks.text
    assert 'name="piece" value="piece = 1' in asks.text
    told = client.get("/plan", params={"piece": PIECE.replace('[[bead]]\nsize = "8 mm"', "")})
    assert (told.status_code, "has no beads" in told.text) == (400, True)
    refused = client.get("/plan", params={"piece": PIECE.replace("12 mm", "12")})
    assert (refused.status_code, "line 8" in plain(refused.text)) == (400, True)


def test_a_finished_piece_is_compared_with_its_plan_line_by_line(page: Served) -> None:
    """As `compare_with_plan` has it: 22 beads, where 23 were planned, and 14 mm of clasp instead of 12."""
    client = page.at_computer
    url = measure(client, "strand", "loop", goal="finished", length="150 mm", findings="22 mm")
    assert "Compared with the plan" not in client.get(url).text
    answer = client.post(f"{url}/wish", json={"piece": PIECE})
    said = plain(answer.text[answer.text.index("Compared with the plan") :])
    assert "Bead 8 mm1 too few23 planned, 22 found" in said
    assert "Clasp and findings2.0 mm longer than planned12.0 mm (1/2 in) planned, 14.0" in said
    assert "too short for a finished length of 196.0 mm" in plain(answer.text)
    compared = client.get(f"{url}/beads.json").json()["strands"][0]["compared"]
    assert not any(line["as_planned"] for line in compared)
    assert "selected>As chosen" in client.get(url).text
    assert "Compared" not in client.post(f"{url}/wish", json={"piece": ""}).text
    for odd in ("piece = 1", "colour = 7", "x" * 20_000):
        assert client.post(f"{url}/wish", json={"piece": odd}).status_code == 400


def test_what_to_buy_for_several_pieces_is_one_page_that_asks_for_nothing_more(page: Served) -> None:
    client = page.at_computer
    said = [{"piece": PIECE, "count": 2}, {"piece": PIECE.replace("196", "204"), "count": 1}]
    url = client.post("/show", json={"pieces": said}).json()["go"]
    answer = client.get(url)
    text = plain(re.sub(r"<style.*?</style>|<script.*?</script>", "", answer.text, flags=re.DOTALL))
    # 2 x 23 and 24 beads, and one in twenty more; 50 of 8 mm go on 16 in.
    assert "74 \N{MULTIPLICATION SIGN} bead 8 mm (70 and 4 spare): 2 strands of 16 in" in text
    assert "3 \N{MULTIPLICATION SIGN} clasp, 12.0 mm" in text
    assert re.search(r"wire of \.015 in, 9\d\d\.\d mm \(\d+[^)]*\) in 3 pieces", text), text
    document = read(answer.text)
    assert [each for _, each in document.elements if each.get("src")] == []
    assert {each["href"] for _, each in document.elements if each.get("href")} == {"data:,", "/pieces", url}
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    for inline in re.findall(r"<(?:style|script)[^>]*>(.*?)</", answer.text, flags=re.DOTALL):
        mark = base64.b64encode(hashlib.sha256(inline.encode()).digest()).decode()
        assert f"'sha256-{mark}'" in policy
    assert "max-age=" in answer.headers["cache-control"]
    assert client.get("/show/nothing").status_code == 404


@pytest.mark.parametrize(
    "pieces",
    [
        *(None, [], "piece", [7], [{}], [{"piece": PIECE}], [{"piece": PIECE, "count": 0}]),
        [{"piece": PIECE, "count": True}],
        [{"piece": "piece = 1", "count": 1}],
        [{"piece": PIECE, "count": 1}] * 31,
    ],
)
def test_odd_lists_are_refused(page: Served, pieces: object) -> None:
    assert page.at_computer.post("/show", json={"pieces": pieces}).status_code == 400


@pytest.mark.parametrize(
    "asked", [{}, {"beads": "7"}, {"beads": "ball"}, {"kept": "1"}, {"kept": "1.x"}, {"kept": "999999.1"}]
)
def test_plans_of_nothing_are_refused(page: Served, asked: dict[str, str]) -> None:
    answer = page.at_computer.get("/plan", params={"goal": "wrist", "length": "6 in", **asked})
    assert answer.status_code == 400


@pytest.mark.parametrize(
    ("path", "values"),
    [
        ("/stash/1/use", {"beads": "-1"}),
        ("/stash/1/use", {"beads": "1e3"}),
        ("/stash/999999/explode", {}),
        ("/make/take", {"needs": "1,1"}),
        ("/make/take", {"needs": ["1"]}),
        ("/make/take", {"needs": "1,1,99999999999"}),
    ],
)
def test_odd_changes_of_the_stash_are_refused(page: Served, path: str, values: dict[str, object]) -> None:
    assert page.at_computer.post(path, json=values).status_code in {400, 404}


@pytest.mark.parametrize("query", ["size=7", "size=6x4mm", "colour=<b>", "count=-1", "count=x"])
def test_odd_searches_are_told(page: Served, query: str) -> None:
    answer = page.at_computer.get(f"/stash?{query}")
    assert answer.status_code == 400
    assert "<b>" not in answer.text


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<html><script>alert(1)</script>",
        b"GIF89a/*\xff\xd8\xff*/=1;alert(1)",
        b"#!/bin/sh\nrm -rf /\n",
        b"%PDF-1.4\n" + JPEG,
        b"PK\x03\x04" + JPEG,
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    ],
)
def test_what_is_no_photo_is_not_received(page: Served, content: bytes) -> None:
    answer = page.at_computer.post("/photos", content=content, headers={"Content-Type": "image/jpeg"})
    assert answer.status_code == 415
    assert answer.headers["content-type"] == "application/json"


def test_an_oversize_photo_is_not_received(page: Served) -> None:
    answer = page.at_computer.post("/photos", content=JPEG + bytes(LIMITS.photo_bytes))
    assert answer.status_code == 413
    assert "larger than 3 MB" in answer.json()["message"]
    assert all(file.stat().st_size < LIMITS.photo_bytes for file in page.desk.inbox.folder.iterdir())


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_no_name_of_a_client_becomes_a_path_or_a_page(page: Served, strand: str, name: str) -> None:
    client = page.at_computer
    before = set(page.desk.inbox.folder.iterdir())
    for path in ("/static", "/m", f"{strand}/photo", "/sheets", "/take"):
        assert client.get(f"{path}/" + name.replace("\r\n", "%0d%0a")).status_code in {404, 400}
    answer = client.post("/measurements", json={"kind": "strand", "photos": [name]})
    assert answer.status_code == 404
    assert name not in client.get("/").text
    assert set(page.desk.inbox.folder.iterdir()) == before


@pytest.mark.parametrize(
    "content",
    [b"", b"[]", b"7", b"{", b"\xff\xfe", b'{"kind": NaN', b"[" * 60_000, b'{"a": "' + b"x" * 70_000 + b'"}'],
)
def test_what_cannot_be_read_is_refused(page: Served, content: bytes) -> None:
    assert page.at_computer.post("/measurements", content=content).status_code == 400


@pytest.mark.parametrize(
    ("values", "status"),
    [
        ({"kind": "strand", "photos": []}, 400),
        ({"kind": "nothing", "photos": ["a"]}, 400),
        ({"kind": "strand", "photos": "abc"}, 400),
        ({"kind": "strand", "photos": ["a", "b"]}, 400),
        ({"kind": "lot", "photos": ["a", "b", "c", "d"]}, 400),
        ({"kind": "lot", "photos": ["a", "b"]}, 404),
        ({"kind": "strand", "photos": ["a"], "bed_height": "2"}, 400),
        ({"kind": "strand", "photos": ["a"], "goal": "wrist", "length": "1 km"}, 400),
    ],
)
def test_odd_requests_are_refused(page: Served, values: dict[str, object], status: int) -> None:
    assert page.at_computer.post("/measurements", json=values).status_code == status


def test_sheets_are_drawn_to_print(page: Served) -> None:
    for name in ("a4-white", "letter-grey", "a4-card"):
        answer = page.at_computer.get(f"/sheets/{name}.pdf")
        assert answer.content.startswith(b"%PDF")
        assert answer.headers["content-type"] == "application/pdf"


def test_private_files_go_with_the_server(tmp_path_factory: pytest.TempPathFactory) -> None:
    with served(tmp_path_factory.mktemp("short"), limits=Limits(workers=1)) as running:
        send(running.at_computer)
        folder = running.desk.inbox.folder
        assert len(list(folder.iterdir())) == 1
    assert not folder.exists()
