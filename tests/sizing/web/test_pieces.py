"""Beads are kept, counted and made of on the served page; pieces are planned, compared and bought for."""

import base64
import hashlib
import html
import re
from concurrent.futures import ThreadPoolExecutor

import pytest

from sizing.piece.plan import make_plan
from sizing.piece.toml.read import PIECE_HELP, read_piece
from tests.helpers.pages import read
from tests.helpers.served import PIECE, Served, measure, plain
from tests.helpers.workers import JPEG, SHOWN


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


def test_one_bead_is_one_bead(page: Served, strand: str) -> None:
    client = page.at_computer
    url = client.post(f"{strand}/keep", json={"name": "the last", "count": "1"}).json()["go"]
    assert "the last: 1 bead<" in client.get(url).text
    assert "1 entry, 1 bead<" in client.get("/stash", params={"text": "the last"}).text
    assert client.post(f"{url}/forget", json={}).status_code == 200


def test_what_is_said_of_kept_beads_is_changed(page: Served, strand: str) -> None:
    client = page.at_computer
    url = client.post(f"{strand}/keep", json={"name": "to describe", "price": "9 EUR"}).json()["go"]
    said = {
        "name": "described",
        "source": "a show",
        "price": "$ 4.50",
        "hole": "1.25 mm",
        "date": "2026-03-14",
    }
    assert client.post(f"{url}/describe", json={**said, "note": "two\nlines"}).json() == {"go": url}
    text = plain(client.get(url).text)
    assert all(each in text for each in ("described: 30 beads", "a show", "4.50 $", "1.25 mm", "two\nlines"))
    for odd in ({"name": ""}, {**said, "date": "today"}, {**said, "hole": "1"}, {**said, "price": "free"}):
        assert client.post(f"{url}/describe", json=odd).status_code == 400
    assert plain(client.get(url).text) == text
    assert client.post(f"{url}/forget", json={}).status_code == 200


def test_a_plan_says_its_weight_cost_and_sizes(page: Served) -> None:
    """The piece file of the help, whose weight and price the command prints too."""
    text = plain(page.at_computer.get("/plan", params={"piece": PIECE_HELP}).text)
    made = make_plan(read_piece(PIECE_HELP))
    assert made.cost
    assert re.search(rf"Price\s*{made.cost.price:.2f} USD", text)
    assert f"{dict(made.mass.by_material_g)['soda-lime glass']:.1f} g" in text
    assert "1 \N{MULTIPLICATION SIGN} spring ring, 1/2 in (12.0 mm)" in text
    assert re.search(r"Women: 25 in 100 are smaller: \d+ beads, finished .* USD", text)


def test_everything_goes_out_and_comes_in_as_one_file(page: Served, strand: str) -> None:
    client = page.at_computer
    url = client.post(f"{strand}/keep", json={"name": "to carry", "photo": "yes"}).json()["go"]
    client.post(f"{url}/use", json={"beads": "4"})
    out = client.get("/stash/all.zip")
    assert out.headers["content-type"] == "application/zip"
    assert re.fullmatch(
        r'attachment; filename="stash-\d{4}-\d\d-\d\d\.zip"', out.headers["content-disposition"]
    )
    assert client.post("/stash/all", content=out.content).json() == {"go": "/stash"}
    assert client.get("/stash").text.count("<strong>to carry") == 1
    client.post(f"{url}/forget", json={})
    before = client.get("/stash").text
    for broken in (b"", b"PK\x03\x04", out.content[:-40], JPEG, b"<script>"):
        assert client.post("/stash/all", content=broken).status_code == 400
    assert client.get("/stash").text == before
    assert client.post("/stash/all", content=out.content).status_code == 200
    assert re.search(r"26 of .*blue", client.get("/stash", params={"text": "to carry"}).text)
    assert list(page.desk.inbox.folder.iterdir()) == []


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


def test_a_piece_of_kept_beads_costs_what_was_paid_in_one_currency(page: Served, strand: str) -> None:
    client = page.at_computer
    euros, dollars = (
        client.post(f"{strand}/keep", json={"name": f"paid {price}", "price": price}).json()["go"]
        for price in ("15 EUR", "30 USD")
    )
    first, second = (f"{url.rpartition('/')[2]}.1" for url in (euros, dollars))
    wanted = {"goal": "strung", "length": "60 mm"}
    one = plain(client.get("/plan", params={**wanted, "kept": first}).text)
    assert re.search(r"Materials\s*5\.00 EUR", one)
    both = plain(client.get("/plan", params={**wanted, "kept": f"{first} {second}"}).text)
    assert "Materials" not in both
    for url in (euros, dollars):
        assert client.post(f"{url}/forget", json={}).status_code == 200


def test_a_piece_is_planned_of_typed_and_of_kept_beads(page: Served, strand: str) -> None:
    """The count of 24 is that of the README's plan of the same piece."""
    client = page.at_computer
    asked = {"goal": "wrist", "length": "6 1/2 in", "beads": "7 mm"}
    text = re.sub(r"<[^>]+>", "", client.get("/plan", params=asked).text).replace("\N{NO-BREAK SPACE}", " ")
    assert "String 24 \N{MULTIPLICATION SIGN} bead 7 mm" in text
    assert "1 \N{MULTIPLICATION SIGN} wire, 11 1/8 in (282.3 mm)" in text
    assert "with 3/8 in (10.0 mm) to hold it" in text
    kept = client.post(f"{strand}/keep", json={"name": "to plan", "count": "60"}).json()["go"]
    ways = client.get("/make", params={"goal": "wrist", "length": "6 1/2 in"}).text
    planned = re.search(r'href="(/plan[^"]+)"', ways[ways.index("to plan") :])
    assert planned
    assert "to plan" in client.get(html.unescape(planned[1])).text
    assert client.post(f"{kept}/forget", json={}).status_code == 200


@pytest.mark.parametrize(
    ("typed", "order"),
    [
        ("7,5mm", "30 \N{MULTIPLICATION SIGN} 7.5 mm"),
        ("7,5 mm, 4x6,5mm,8mm", "(1 \N{MULTIPLICATION SIGN} 7.5 mm, 1 \N{MULTIPLICATION SIGN} 4 mm, "),
        ("11/0,8/0", "(1 \N{MULTIPLICATION SIGN} 11/0, 1 \N{MULTIPLICATION SIGN} 8/0)"),
        ("6mm;8mm", "(1 \N{MULTIPLICATION SIGN} 6 mm, 1 \N{MULTIPLICATION SIGN} 8 mm)"),
    ],
)
def test_beads_are_typed_with_decimal_commas_too(page: Served, typed: str, order: str) -> None:
    asked = {"goal": "strung", "length": "22,5 cm", "beads": typed}
    assert order in plain(page.at_computer.get("/plan", params=asked).text)


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
    assert 'name="piece"' not in refused.text  # nor in what is sent next


@pytest.mark.parametrize(
    ("path", "typed", "said"),
    [
        ("/plan", {"length": "7", "beads": "8 mm"}, "Length: 7 has no unit"),
        ("/plan", {"length": "7 in", "beads": "8"}, "8 has no unit"),
        ("/plan", {"length": "7 in", "beads": "8 mm", "sizes": "6,7"}, "6,7 has no unit"),
        ("/plan", {"goal": "finished", "length": "1 in", "beads": "8 mm", "findings": "2 in"}, "2 in"),
        ("/plan", {"length": "7", "piece": PIECE}, "Length: 7 has no unit"),
        ("/make", {"length": "7", "sizes": "6 in"}, "Length: 7 has no unit"),
        ("/make", {"length": "7 in", "sizes": "6,7"}, "6,7 has no unit"),
    ],
)
def test_a_slip_leaves_the_form_as_it_was_typed(
    page: Served, path: str, typed: dict[str, str], said: str
) -> None:
    asked = {"goal": "wrist", "ease": "1/2 in", **typed}
    answer = page.at_computer.get(path, params=asked)
    assert answer.status_code == 400
    document = read(answer.text)
    [problem] = re.findall(r'<p class="problem" role="alert">(.*?)</p>', answer.text)
    assert said in plain(problem)
    fields = {each.get("name"): each.get("value") for _, each in document.elements if each.get("name")}
    assert {name: fields.get(name) for name in asked if name != "goal"} == {
        name: value for name, value in asked.items() if name != "goal"
    }
    assert f'<option value="{asked["goal"]}" selected>' in answer.text


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
    ("count", "shown"),
    [("-1", "-1"), (0, "0"), ("abc", "Abc"), ("1.5", "1.5"), (100, "100"), ("", "Nothing")],
)
def test_what_is_no_number_of_pieces_is_told(page: Served, count: object, shown: str) -> None:
    answer = page.at_computer.post("/show", json={"pieces": [{"piece": PIECE, "count": count}]})
    said = f"{shown} is no number of pieces: of each, type 1 to 99"
    assert (answer.status_code, answer.json()["message"]) == (400, said)


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
