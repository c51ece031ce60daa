"""Nothing that a browser sends leads the served page astray: odd photos, names, requests."""

import pytest

from tests.helpers.served import LIMITS, Served
from tests.helpers.workers import JPEG

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
