"""Photos are sent, measured and read through the served page."""

import re
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from starlette.testclient import TestClient

from sizing.web.measuring.limits import Limits
from tests.helpers.pages import read
from tests.helpers.served import Served, measure, plain, send, served, wait
from tests.helpers.workers import SHOWN

PATHS = (
    *("/", "/take/strand", "/take/lot", "/take/label", "/take/sheet"),
    *("/stash", "/make", "/plan", "/pieces", "/sheets", "/phones", "/pair"),
)


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
    words = words_to_undo(client.get(url).text)
    assert client.post(f"{url}/undo", json={"word": words[1]}).status_code == 200
    assert client.post(f"{url}/undo", json={"word": words[0]}).status_code == 200
    assert client.post(f"{url}/undo", json={"word": words[0]}).status_code == 400
    assert client.get(url).text == before


def test_what_another_tab_took_back_takes_nothing_else_back(page: Served) -> None:
    client = page.at_computer
    url = measure(client, "strand", "")
    for number in (1, 30):
        said = {"action": "stopper", "numbers": [number], "photo": "photo 1"}
        shown = client.post(f"{url}/corrections", json=said).text
    first, _ = words_to_undo(shown)
    assert client.post(f"{url}/undo", json={"word": first}).status_code == 200
    refused = client.post(f"{url}/undo", json={"word": first})
    assert (refused.status_code, refused.json()["message"]) == (400, "That was taken back already")
    assert "Bead 30 is a stopper." in client.get(url).text


def words_to_undo(text: str) -> list[str]:
    """Return what names the corrections that a page lists."""
    return re.findall(r'data-undo="([^"]+)"', text)


def test_each_photo_of_a_lot_has_the_letter_of_its_beads(page: Served) -> None:
    several = page.at_computer.get(measure(page.at_computer, "lot", "", "")).text
    assert re.findall(r"<p>Photo (\w)</p>", several) == ["A", "B"]
    assert 'data-key="B2"' in several
    assert "<p>Photo" not in page.at_computer.get(measure(page.at_computer, "lot", "")).text


def test_a_caliper_that_contradicts_the_photo_is_told_and_a_slip_refused(page: Served) -> None:
    client = page.at_computer
    url = measure(client, "strand", "")
    said = {"action": "size", "numbers": [2], "photo": "photo 1"}
    agreed = plain(client.post(f"{url}/corrections", json={**said, "size": "6.0 mm"}).text)
    assert "Bead 2 is 6.00 ± 0.07 mm by a caliper." in agreed
    told = plain(client.post(f"{url}/corrections", json={**said, "size": "7.9 mm"}).text)
    assert "Bead 2 is 7.90 ± 0.07 mm by a caliper, but 6.00 ± 0.08 mm on the photo: one of the two" in told
    slip = client.post(f"{url}/corrections", json={**said, "size": "79 mm"})
    assert (slip.status_code, "Bead 2 cannot be 79.0 mm by a caliper" in slip.json()["message"]) == (
        400,
        True,
    )
    lot = measure(client, "lot", "")
    told = plain(client.post(f"{lot}/corrections", json={**said, "size": "7.9 mm"}).text)
    assert "Bead 2 is 7.90 ± 0.07 mm by a caliper, but 6.02 ± 0.06 mm on the photo" in told


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
