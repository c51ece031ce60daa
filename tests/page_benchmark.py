"""Times the served page, and prints a table: how long a maker waits for each answer.

Not a test::

    python -m tests.page_benchmark [--repeat 3] [--megapixels 12]

Times are the shortest of the repeats, in seconds. `alone` is the same photo measured by this process, with
everything imported, as a worker has it.
"""

import argparse
import contextlib
import http.client
import json
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.benchmark import ROOT, SAMPLE, resized
from vision.image.photo import load_photo
from vision.measure import measure_strands

LIMITS_S = {"first page after the command": 1.0, "another target": 0.1, "a correction": 0.1}
"""What a maker should wait at most; the page is also to show a photo within 1.5 times of measuring alone."""
TYPED = {"goal": "finished", "length": "25 cm", "findings": "22 mm", "check_length": "273.0 mm"}


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--megapixels", type=float, default=12.0)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        photo = resized(SAMPLE, given.megapixels, Path(folder))
        runs = [_run(photo, Path(folder)) for _ in range(given.repeat)]
    load = ", ".join(f"{each:.1f}" for each in os.getloadavg())
    print(f"{given.megapixels:g} MP, {os.cpu_count()} cores, load {load}")
    for name in runs[0]:
        most = f"at most {LIMITS_S[name]:g}" if name in LIMITS_S else ""
        print(f"  {name:<34} {min(run[name] for run in runs):8.2f} s  {most}")


def _run(photo: Path, folder: Path) -> dict[str, float]:
    took: dict[str, float] = {}
    with _served(folder, took) as ask:
        time.sleep(5.0)  # for the workers to be warm
        began = time.perf_counter()
        word = json.loads(ask("POST", "/photos", photo.read_bytes()))["photo"]
        url = json.loads(ask("POST", "/measurements", _sent(kind="strand", photos=[word], **TYPED)))["go"]
        while json.loads(ask("GET", f"{url}/state"))["state"] in {"waiting", "measuring"}:
            time.sleep(0.05)
        ask("GET", url)
        took["a photo, from sent to shown"] = time.perf_counter() - began
        took["another target"] = _timed(lambda: ask("POST", f"{url}/wish", _sent(length="9 1/2 in")))
        said = _sent(action="stopper", numbers=[1], photo="photo 1")
        took["a correction"] = _timed(lambda: ask("POST", f"{url}/corrections", said))
    took["the photo measured alone"] = min(_timed(lambda: _alone(photo)) for _ in range(2))
    return took


@contextlib.contextmanager
def _served(folder: Path, took: dict[str, float]) -> Iterator[Callable[..., bytes]]:
    """Run the command; give a function that asks it."""
    own = {"STRANDGAUGE_SETTINGS": str(folder), "STRANDGAUGE_DATA": str(folder), "PYTHONUNBUFFERED": "1"}
    began = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "sizing", "page", "--no-browser"],
        cwd=ROOT,
        env=os.environ | own,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        found = re.search(r"http://(\S+):(\d+)", process.stdout.readline() if process.stdout else "")
        if found is None:
            sys.exit("the page did not start")
        origin, host, port = found[0], found[1], int(found[2])

        def ask(method: str, path: str, body: bytes = b"") -> bytes:
            with contextlib.closing(http.client.HTTPConnection(host, port, timeout=120)) as connection:
                connection.request(method, path, body or None, {"Origin": origin})
                answer = connection.getresponse()
                content = answer.read()
            if answer.status != http.client.OK:
                sys.exit(f"{method} {path}: {answer.status} {content.decode()}")
            return content

        ask("GET", "/")
        took["first page after the command"] = time.perf_counter() - began
        yield ask
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(30)


def _alone(photo: Path) -> None:
    measure_strands(load_photo(photo), check_length_mm=273.0, check_length_u_mm=0.04, bed_height_mm=0.0)


def _sent(**values: Any) -> bytes:  # noqa: ANN401 - whatever a page sends
    return json.dumps(values).encode()


def _timed(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
