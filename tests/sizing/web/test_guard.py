"""Nobody but this computer and paired phones comes in, and no foreign page reaches what is served."""

import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from sizing.web.doors import Doors, is_loopback
from sizing.web.guard import COOKIE, HEADERS
from sizing.web.phones import OFFER_S, Phones
from sizing.web.visitors import pairing_url
from tests.helpers.served import HERE, HOME, PORT, THERE, Clock, Served
from tests.helpers.workers import JPEG

FORWARDED = {
    "X-Forwarded-For": "127.0.0.1",
    "X-Real-IP": "127.0.0.1",
    "Forwarded": "for=127.0.0.1;host=127.0.0.1",
    "X-Forwarded-Host": f"127.0.0.1:{PORT}",
    "X-Original-URL": "/pair",
    "X-HTTP-Method-Override": "GET",
}


def pair(page: Served) -> TestClient:
    """Return a phone that was let in."""
    phone = page.phone()
    secret = pairing_url(page.desk).partition("#")[2]
    assert phone.post("/pair", json={"secret": secret}).json() == {"go": "/"}
    return phone


WAYS_IN: list[tuple[str, str, dict[str, str]]] = [
    ("GET", "/", {}),
    ("HEAD", "/", {}),
    ("OPTIONS", "/", {}),
    ("GET", "/take/strand", {}),
    ("GET", "/phones", {}),
    ("GET", "/sheets", {}),
    ("GET", "/static/reading.js", {}),
    ("GET", "/manifest.webmanifest", {}),
    ("GET", "/stash/all.zip", {}),
    ("GET", "/plan.toml?beads=8mm", {}),
    ("GET", "/pieces", {}),
    ("GET", "/show/anything", {}),
    ("GET", "/m/anything", {}),
    ("GET", "/m/anything/photo/0.jpg", {}),
    ("GET", "/pair/", {}),
    ("GET", "/PAIR", {}),
    ("GET", "/pair/../phones", {}),
    ("GET", "/static/pair.js/../../phones", {}),
    ("GET", "/pair%2f..%2fphones", {}),
    ("GET", "/?secret=guess", {}),
    ("GET", "/", {"Cookie": f"{COOKIE}=guess"}),
    ("GET", "/", {"Cookie": f"{COOKIE}="}),
    ("GET", "/", {"Authorization": "Bearer guess"}),
    ("GET", "/", {"Host": f"127.0.0.1:{PORT}"}),
    ("GET", "/", FORWARDED),
    ("GET", "/pair", {"Host": "somewhere.example"}),
    ("POST", "/photos", {}),
    ("POST", "/measurements", {}),
    ("POST", "/stash/all", {}),
    ("POST", "/show", {}),
    ("POST", "/phones/open", {}),
    ("POST", "/phones/code", {}),
    ("POST", "/pair", {}),
    ("PUT", "/pair", {}),
    ("DELETE", "/pair", {}),
]


@pytest.mark.parametrize(("method", "path", "headers"), WAYS_IN)
def test_an_unpaired_phone_is_answered_403(
    page: Served, method: str, path: str, headers: dict[str, str]
) -> None:
    answer = page.phone().request(method, path, headers=headers, content=b'{"secret": "guess"}')
    assert answer.status_code == 403


def test_an_unpaired_phone_gets_no_websocket(page: Served) -> None:
    with pytest.raises(WebSocketDisconnect), page.phone().websocket_connect("/"):
        raise AssertionError


def test_only_the_page_for_pairing_is_open(page: Served) -> None:
    phone = page.phone()
    for path in ("/pair", "/static/pair.js", "/static/page.css", "/static/report.css"):
        assert phone.get(path).status_code == 200


def test_a_secret_lets_one_phone_in_once(page: Served) -> None:
    secret = pairing_url(page.desk).partition("#")[2]
    first, second = page.phone(), page.phone()
    answer = first.post("/pair", json={"secret": secret})
    cookie = answer.headers["set-cookie"].lower()
    assert all(word in cookie for word in ("httponly", "samesite=strict", "path=/"))
    assert first.get("/").status_code == 200
    assert second.post("/pair", json={"secret": secret}).status_code == 403
    assert second.get("/").status_code == 403


@pytest.mark.parametrize(("later_s", "status"), [(OFFER_S - 1, 200), (OFFER_S + 1, 403), (-1, 403)])
def test_a_secret_is_good_for_ten_minutes(page: Served, later_s: float, status: int) -> None:
    secret = pairing_url(page.desk).partition("#")[2]
    page.clock.now_s += later_s
    assert page.phone().post("/pair", json={"secret": secret}).status_code == status


def test_a_newer_secret_takes_the_place_of_the_older(page: Served) -> None:
    old, new = (pairing_url(page.desk).partition("#")[2] for _ in range(2))
    assert page.phone().post("/pair", json={"secret": old}).status_code == 403
    assert page.phone().post("/pair", json={"secret": new}).status_code == 200


@pytest.mark.parametrize("secret", ["", None, 7, ["a"], "ü", "x" * 1000])
def test_odd_secrets_are_refused(page: Served, secret: object) -> None:
    pairing_url(page.desk)
    assert page.phone().post("/pair", json={"secret": secret}).status_code == 403


def test_a_forgotten_phone_stays_out(page: Served) -> None:
    phone = pair(page)
    number = page.desk.phones.all[-1].number
    assert f"Phone {number}" in page.at_computer.get("/phones").text
    assert page.at_computer.post("/phones/forget", json={"number": number}).json() == {"go": "/phones"}
    assert phone.get("/").status_code == 403


def test_phones_are_listed_at_the_computer_only(page: Served) -> None:
    phone = pair(page)
    assert phone.get("/phones").status_code == 404
    assert phone.post("/phones/open", json={}).status_code == 404
    assert phone.post("/phones/code", json={}).status_code == 404
    assert phone.post("/phones/forget", json={"number": 1}).status_code == 404
    assert "<svg" in page.at_computer.post("/phones/code", json={}).text


def test_phones_are_remembered_by_a_mark_alone(tmp_path: Path) -> None:
    file, clock = tmp_path / "phones.json", Clock()
    phones = Phones(file, clock)
    token = phones.redeem(phones.offer())
    assert token is not None
    assert token not in file.read_text()
    assert Phones(file, clock).knows(token)
    file.write_text("[{]")
    assert not Phones(file, clock).knows(token)


@pytest.mark.parametrize("since", ['"today"', "null", "true", "NaN", "Infinity", "-1", "1e300", "[1]"])
def test_a_phone_without_a_date_is_not_known(tmp_path: Path, since: str) -> None:
    """The page writes the date, and would be lost by one that is none."""
    file, clock = tmp_path / "phones.json", Clock()
    phones = Phones(file, clock)
    phones.redeem(phones.offer())
    [row] = json.loads(file.read_text())
    dated, bad = json.dumps(row), json.dumps(row | {"number": 2, "since_s": 7.5})
    file.write_text(f"[{dated}, {bad.replace('7.5', since)}]")
    assert [phone.number for phone in Phones(file, clock).all] == [1]
    file.write_text(f"[{dated}, {bad}]")
    assert [phone.number for phone in Phones(file, clock).all] == [1, 2]


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:1", f"{HOME}:{PORT}", ""]
)
def test_a_foreign_name_is_refused_at_the_computer_too(page: Served, host: str) -> None:
    assert page.at_computer.get("/", headers={"Host": host}).status_code == 403


@pytest.mark.parametrize(
    "origin",
    ["https://evil.example", "null", "", THERE, f"{HERE}.evil.example", HERE.replace("http", "https")],
)
def test_a_change_must_come_from_our_own_page(page: Served, origin: str) -> None:
    answer = page.at_computer.post("/photos", headers={"Origin": origin}, content=JPEG)
    assert answer.status_code == 403


def test_a_change_without_an_origin_is_refused(page: Served) -> None:
    request = page.at_computer.build_request("POST", "/photos", content=JPEG)
    del request.headers["origin"]
    assert page.at_computer.send(request).status_code == 403


@pytest.mark.parametrize("path", ["/", "/pair", "/static/page.css", "/nothing", "/m/nothing"])
def test_headers_keep_pages_to_themselves(page: Served, path: str) -> None:
    headers = page.at_computer.get(path).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'self'")
    assert "unsafe" not in policy
    assert (headers["x-content-type-options"], headers["referrer-policy"]) == ("nosniff", "no-referrer")
    assert set(map(str.lower, HEADERS)) <= set(headers)
    assert "server" not in headers


def test_addresses_are_told_apart() -> None:
    assert is_loopback("127.0.0.9")
    assert is_loopback("::1")
    assert not is_loopback("0.0.0.0")  # noqa: S104 - which is nobody's address
    doors = Doors(port=9000, home="10.0.0.2", secure=True)
    assert doors.urls == ("https://127.0.0.1:9000", "https://10.0.0.2:9000")
    assert doors.hosts("127.0.0.1") == {"127.0.0.1:9000", "localhost:9000"}
    assert doors.hosts("10.0.0.2") == {"10.0.0.2:9000"}
    assert Doors(port=9000).hosts("10.0.0.2") == frozenset()
