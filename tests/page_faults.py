"""Breaks the served page as a home may break it, and prints a table of what came of it.

Some of each run with the tests (`tests/sizing/web/test_faults.py`); all of them::

    python -m tests.page_faults [--kills 50] [--uploads 200] [--seed 0]

Workers pretend to measure. Everything else is what a maker runs: a process that serves, sockets, the book.
"""

import argparse
import contextlib
import http.client
import itertools
import os
import random
import socket
import struct
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from sizing.stash.book import DATA_VARIABLE, reading
from sizing.stash.entries import changes, entries, find
from sizing.stash.soundness import problems
from tests.helpers.pretend_page import ANSWERS_S, LIMITS, Server, serving
from tests.helpers.stash import kept
from tests.helpers.workers import JPEG

BEADS = 1_000_000
LATEST_KILL_S = 5.0  # by then a worker has started and several measurements are kept
FULL_BYTES = 120_000  # no file grows beyond: room for the book and a few entries
PHOTO = JPEG + bytes(300_000)
_ENDS_BY_ITSELF_S = 20.0  # a worker that was still starting, on a busy computer
_AGAIN_S = 0.3  # the page waits for 5 s
_ENDS = {"408": "given up", "503": "told to wait"}
_ASK_AGAIN = {408, 503}  # a busy computer may be silent for longer than `LIMITS` allows


@dataclass(kw_only=True)
class Ran:
    """A fault: how often it was tried, and what came of it in how many cases."""

    fault: str
    tried: int
    came: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        """Return a line of the table."""
        came = ", ".join(f"{count} {what}" for what, count in self.came.items())
        return f"| {self.fault} | {self.tried} | {came} | {'; '.join(self.wrong) or 'nothing'} |"


def killed(temporary: Path, *, kills: int, seed: int) -> Ran:
    """Kill the server at random moments, while photos are sent and measured and the stash is written."""
    rng = random.Random(seed)  # noqa: S311 - no secret
    ran = Ran(fault="server killed while photos are sent and the stash is written", tried=kills)
    kept("blue", [8.0] * 20, count=BEADS)
    names, reasons = ["blue"], ["kept"]
    for run in range(kills):
        with serving(temporary) as server:
            said_kept, said_taken = _busy_until_killed(server, run, rng.uniform(0.0, LATEST_KILL_S))
        ran.came["kept and confirmed"] += len(said_kept)
        ran.came["taken and confirmed"] += len(said_taken)
        found_names, found_reasons = _book(ran)
        ran.wrong += _lost(found_names, [*names, *said_kept]) + _lost(found_reasons, [*reasons, *said_taken])
        names, reasons = found_names, found_reasons
    with serving(temporary) as server:
        ran.wrong += [f"{len(server.folders) - 1} folders of photos left"] * (len(server.folders) != 1)
    running = _running(temporary)
    ran.wrong += [f"{running} processes left"] * bool(running)
    return ran


def _busy_until_killed(server: Server, run: int, after_s: float) -> tuple[list[str], list[str]]:
    """Return the names of what was kept, and why beads were taken, as far as the server confirmed it."""
    said_kept: list[str] = []
    said_taken: list[str] = []

    def keep(n: int) -> None:
        name = f"lot {run}.{n}"
        if server.send(f"{server.measure()}/keep", name=name, photo="yes")[0] == 200:
            said_kept.append(name)

    def take(n: int) -> None:
        why = f"{run}.{n}"
        if server.send("/stash/1/use", beads="1", why=why)[0] == 200:
            said_taken.append(why)

    def send(_: int) -> None:
        server.ask("POST", "/photos", PHOTO)

    threads = [threading.Thread(target=_again, args=(each,)) for each in (keep, take, send)]
    for thread in threads:
        thread.start()
    time.sleep(after_s)
    server.process.kill()
    for thread in threads:
        thread.join()
    return said_kept, said_taken


def _again(work: Callable[[int], None]) -> None:
    """Do something again and again until the server is gone, or answers what it should not."""
    with contextlib.suppress(OSError, http.client.HTTPException, KeyError):
        for n in itertools.count():
            work(n)


def _book(ran: Ran) -> tuple[list[str], list[str]]:
    """Return the names in the book and why beads were taken, and note what is wrong with it."""
    with reading() as book:
        ran.wrong += problems(book)
        blue = find(book, "blue")
        reasons = [change.why for change in changes(book, blue)]
        names = [entry.name for entry in entries(book)]
    ran.wrong += [f"{blue.count} beads"] * (blue.count != BEADS + 1 - len(reasons))
    return names, reasons


def _lost(found: list[str], said: list[str]) -> list[str]:
    """Return what was confirmed and is gone, and whether more than the last was not confirmed."""
    more = len(found) - len(said)
    gone = [f"{each} is lost" for each in said if each not in set(found)]
    return gone + [f"{more} changes were not confirmed"] * (more > 1)


def _running(temporary: Path) -> int:
    """Return how many processes are left of the servers, when those that end by themselves have done so."""
    until = time.monotonic() + _ENDS_BY_ITSELF_S
    while (left := _found_running(temporary)) and time.monotonic() < until:
        time.sleep(0.1)
    return left


def _found_running(temporary: Path) -> int:
    """Count processes that a server started, which are told by their environment."""
    own = f"TMPDIR={temporary}\0".encode()
    left = 0
    for environment in Path("/proc").glob("[0-9]*/environ"):
        with contextlib.suppress(OSError):  # of others, or gone
            left += own in environment.read_bytes()
    return left


def on_a_full_disk(temporary: Path) -> Ran:
    """Keep measurements and send a photo where no file can grow any more."""
    ran = Ran(fault="disk full", tried=0)
    with serving(temporary, most_bytes=FULL_BYTES) as server:
        said: list[str] = []
        status, answer = 200, {}
        while status == 200:
            ran.tried += 1
            status, answer = server.send(f"{server.measure()}/keep", name=f"lot {ran.tried}")
            said += [f"lot {ran.tried}"] * (status == 200)
        ran.came["kept before"] = len(said)
        _expect(ran, (status, answer), 400, "nothing was changed")
        _expect(ran, server.ask("POST", "/photos", PHOTO), 507, "disk is full")
        ran.tried += 1
        ran.came["photos left"] = len(server.photos)
        ran.wrong += ["the page is gone"] * (server.ask("GET", "/")[0] != 200)
        with reading() as book:
            ran.wrong += problems(book)
            ran.wrong += ["other entries than confirmed"] * ([e.name for e in entries(book)] != said)
    return ran


def _expect(ran: Ran, answered: tuple[int, dict[str, Any]], status: int, words: str) -> None:
    message = answered[1].get("message", "")
    ran.came[f"told that {words}" if words in message else "told otherwise"] += 1
    ran.wrong += [f"{answered[0]} {message}"] * (answered[0] != status or words not in message)


def flooded(temporary: Path, *, uploads: int) -> Ran:
    """Measure many photos sent at once; whoever is told to wait, or to send again, does so."""
    ran = Ran(fault="photos sent at once", tried=uploads)

    def until_room(ask: Callable[[], tuple[int, dict[str, Any]]]) -> dict[str, Any]:
        while (said := ask())[0] in _ASK_AGAIN:
            ran.came["times told to ask again"] += 1
            time.sleep(_AGAIN_S)
        assert said[0] == 200, f"{said[0]}: {said[1]}"
        return said[1]

    with serving(temporary) as server, ThreadPoolExecutor(uploads) as phones:

        def measured(_: int) -> str:
            word = until_room(lambda: server.ask("POST", "/photos", JPEG))["photo"]
            begun = until_room(lambda: server.send("/measurements", kind="strand", photos=[word]))
            return server.wait(begun["go"])

        ran.came.update(phones.map(measured, range(uploads)))
    ran.wrong += [f"{uploads - ran.came['done']} not measured"] * (ran.came["done"] != uploads)
    return ran


def slow_and_broken(temporary: Path, *, uploads: int) -> Ran:
    """Break uploads off, let some trickle and others fall silent; others are served meanwhile."""
    ran = Ran(fault="uploads that break off, trickle or fall silent", tried=uploads)
    with serving(temporary) as server:
        broken = [_begun(server) for _ in range(uploads - LIMITS.sending)]
        for each in broken:
            # closed by a reset, as when a phone leaves the network
            each.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            each.close()
        ran.came["broken off"] = len(broken)
        slow = [_begun(server) for _ in range(LIMITS.sending)]
        trickling = threading.Thread(target=_trickle, args=(slow[::2],))
        trickling.start()
        ran.wrong += ["the page is gone meanwhile"] * (server.ask("GET", "/")[0] != 200)
        for each in slow:
            status = each.recv(100).split(b" ", 2)[1].decode()
            ran.came[_ENDS.get(status, status)] += 1
            ran.wrong += [f"answered {status}"] * (status not in _ENDS)
        trickling.join()
        for each in slow:
            each.close()
        ran.wrong += [f"{len(server.photos)} halves left"] * bool(server.photos)
        ran.wrong += ["no room afterwards"] * (server.ask("POST", "/photos", JPEG)[0] != 200)
    return ran


def _begun(server: Server) -> socket.socket:
    """Begin to send a photo."""
    parts = urlsplit(server.url)
    connection = socket.create_connection((parts.hostname or "", parts.port or 0), timeout=ANSWERS_S)
    head = f"POST /photos HTTP/1.1\r\nHost: {parts.netloc}\r\nOrigin: {server.url}\r\nContent-Length: 1000000"
    connection.sendall(f"{head}\r\n\r\n".encode() + PHOTO[:100_000])
    return connection


def _trickle(connections: list[socket.socket]) -> None:
    """Send a byte now and then, as long as the server takes it."""
    until = time.monotonic() + LIMITS.arrival_s + 2 * LIMITS.silence_s
    while time.monotonic() < until:
        for each in connections:
            with contextlib.suppress(OSError):
                each.sendall(b"x")
        time.sleep(LIMITS.silence_s / 4)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--uploads", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    faults: list[Callable[[Path], Ran]] = [
        lambda folder: killed(folder, kills=given.kills, seed=given.seed),
        on_a_full_disk,
        lambda folder: flooded(folder, uploads=given.uploads),
        lambda folder: slow_and_broken(folder, uploads=given.uploads // 10),
    ]
    print("| fault | tried | what came of it | wrong |\n|---|---|---|---|")
    wrong = 0
    for fault in faults:
        with tempfile.TemporaryDirectory() as folder:
            os.environ[DATA_VARIABLE] = os.environ["STRANDGAUGE_SETTINGS"] = folder
            ran = fault(Path(folder))
        print(ran, flush=True)
        wrong += len(ran.wrong)
    raise SystemExit(min(wrong, 1))


if __name__ == "__main__":
    main()
