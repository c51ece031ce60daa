"""The page as a process of its own, with workers that pretend to measure.

Run as `python -m tests.helpers.pretend_page BYTES` it serves and prints its address. No file may grow beyond
so many bytes, as on a full disk; 0 for no limit.
"""

import contextlib
import functools
import http.client
import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from sizing.base.measured_sheets import SETTINGS_VARIABLE
from sizing.stash.book import DATA_VARIABLE
from sizing.web import server
from sizing.web.desk import open_desk
from sizing.web.measuring.limits import Limits
from tests.fuzz.__main__ import ONE_THREAD
from tests.helpers.paths import ROOT
from tests.helpers.workers import JPEG, pretend

ANSWERS_S = 60.0
LIMITS = Limits(
    workers=1,
    photo_s=60.0,
    waiting=20,
    sending=8,
    silence_s=1.0,
    arrival_s=4.0,
    kept=1000,  # a pretended photo takes no time, so 60 results would be forgotten within a second
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """A page that is served by a process of its own."""

    url: str
    process: "subprocess.Popen[str]"
    temporary: Path

    def ask(self, method: str, path: str, body: bytes | None = None) -> tuple[int, dict[str, Any]]:
        """Return status and answer, as JSON where it is some."""
        connection = http.client.HTTPConnection(urlsplit(self.url).netloc, timeout=ANSWERS_S)
        with contextlib.closing(connection):
            connection.request(method, path, body, {"Origin": self.url})
            answer = connection.getresponse()
            content = answer.read()
        is_json = (answer.getheader("content-type") or "").startswith("application/json")
        return answer.status, json.loads(content) if is_json else {}

    def send(self, path: str, **values: object) -> tuple[int, dict[str, Any]]:
        """Send a change."""
        return self.ask("POST", path, json.dumps(values).encode())

    def measure(self) -> str:
        """Measure a photo, and return the address of the result."""
        word = self.ask("POST", "/photos", JPEG)[1]["photo"]
        url: str = self.send("/measurements", kind="strand", photos=[word])[1]["go"]
        self.wait(url)
        return url

    def wait(self, url: str) -> str:
        """Wait until a measurement is over, and return how it ended."""
        while (state := self.ask("GET", f"{url}/state")[1]["state"]) in {"waiting", "measuring"}:
            time.sleep(0.02)
        return str(state)

    @property
    def photos(self) -> list[Path]:
        """Photos that were sent and lie on the disk."""
        return list(self.temporary.glob("strandgauge-page-*/*.photo"))

    @property
    def folders(self) -> list[Path]:
        """Private folders of servers, this one's and those that others left."""
        return list(self.temporary.glob("strandgauge-page-*"))


@contextlib.contextmanager
def serving(temporary: Path, *, most_bytes: int = 0, data: Path | None = None) -> Iterator[Server]:
    """Serve the page; end the process where nobody has killed it.

    Parameters
    ----------
    temporary : Path
        A folder for what it needs for a while.
    most_bytes : int, keyword-only
        No file grows beyond; 0 for no limit.
    data : Path, keyword-only
        A folder for the stash and the settings, where the environment names none.
    """
    command = [sys.executable, "-m", "tests.helpers.pretend_page", str(most_bytes)]
    own = {DATA_VARIABLE: str(data), SETTINGS_VARIABLE: str(data)} if data else {}
    env = os.environ | ONE_THREAD | own | {"TMPDIR": str(temporary)}
    with subprocess.Popen(
        command, cwd=ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        assert process.stdout is not None
        url = process.stdout.readline().strip()
        try:
            yield Server(url=url, process=process, temporary=temporary)
        finally:
            process.terminate()


def main() -> None:
    """Serve until the process is told to end."""
    most_bytes = int(sys.argv[1])
    if most_bytes:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))  # setrlimit(2)
    server.open_desk = functools.partial(open_desk, work=pretend)
    server.usual_limits = lambda: LIMITS
    server.serve(
        port=None,
        phone=False,
        certificate=None,
        ready=lambda desk: print(desk.doors.urls[0], flush=True),
    )


if __name__ == "__main__":
    main()
