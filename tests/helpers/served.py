"""A served page as a browser at the computer, or a phone, asks for it."""

import contextlib
import html
import re
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from starlette.testclient import TestClient

from sizing.web.app import make_app
from sizing.web.desk import Desk, open_desk
from sizing.web.doors import Doors
from sizing.web.measuring.limits import Limits
from sizing.web.measuring.seat import Work
from sizing.web.phones import Phones
from tests.helpers.workers import JPEG, pretend

PORT, HOME = 8321, "192.168.1.20"
HERE, THERE = f"http://127.0.0.1:{PORT}", f"http://{HOME}:{PORT}"
LIMITS = Limits(workers=1, photo_s=60.0, waiting=2, photo_bytes=3_000_000, photos_in_lot=3, kept=20)


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


@dataclass(kw_only=True)
class Clock:
    """A clock that a test sets."""

    now_s: float = 1_800_000_000.0

    def __call__(self) -> float:
        """Return the time, seconds since 1970."""
        return self.now_s


@dataclass(kw_only=True)
class Served:
    """A running page.

    Attributes
    ----------
    desk : Desk
    clock : Clock
        By which codes for phones grow old.
    at_computer : TestClient
        Asks from this computer.
    phone : callable
        Returns a browser of a phone that was not let in.
    """

    desk: Desk
    clock: Clock
    at_computer: TestClient
    phone: Callable[[], TestClient]


@contextlib.contextmanager
def served(folder: Path, *, work: Work = pretend, limits: Limits = LIMITS) -> Iterator[Served]:
    """Serve the page without a network."""
    clock = Clock()
    doors = Doors(port=PORT, home=HOME)
    desk = open_desk(doors=doors, phones=Phones(folder / "phones.json", clock), limits=limits, work=work)
    app = make_app(desk)

    def phone() -> TestClient:
        return TestClient(
            app,
            base_url=THERE,
            client=("192.168.1.33", 50000),
            headers={"Origin": THERE},
            raise_server_exceptions=False,
        )

    at_computer = TestClient(
        app, base_url=HERE, client=("127.0.0.1", 50000), headers={"Origin": HERE}, follow_redirects=False
    )
    with at_computer:  # which begins and ends the application
        yield Served(desk=desk, clock=clock, at_computer=at_computer, phone=phone)


def send(client: TestClient, does: str = "") -> str:
    """Send a photo with which a worker does something, and return the word for it."""
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
    """Wait until a measurement is over."""
    until = time.monotonic() + 60
    while client.get(f"{url}/state").json()["state"] in {"waiting", "measuring"}:
        assert time.monotonic() < until
        time.sleep(0.02)


def plain(text: str) -> str:
    """Return a page as it is read."""
    return html.unescape(re.sub(r"<[^>]+>", "", text)).replace("\N{NO-BREAK SPACE}", " ")
