"""A real cluster on this computer: a scheduler and workers, each a process of its own."""

import contextlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sizing.batch.cluster import Cluster
from tests.helpers.paths import ROOT

_PATIENCE_S = 60.0  # a computer that is busy with other tests starts a process in a few seconds


@dataclass(frozen=True)
class Running:
    """A cluster that runs: its address, and the processes of its workers."""

    address: str
    workers: list[subprocess.Popen[bytes]]


@contextlib.contextmanager
def cluster(
    folder: Path, *, workers: int = 2, watched: bool = False, root: Path = ROOT, **environment: str
) -> Iterator[Running]:
    """Run a cluster, as long as the context lasts, that imports the project and its tests from a folder.

    Workers that are watched are started again when they end.
    """
    with contextlib.ExitStack() as running:
        note = folder / "scheduler.json"
        own = os.environ | {"PYTHONPATH": str(root)} | environment
        running.enter_context(
            _process(own, "scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(note))
        )
        address = _address(note)
        nanny = "--nanny" if watched else "--no-nanny"
        options = (address, "--nthreads", "1", nanny, "--local-directory", str(folder))
        yield Running(
            address, [running.enter_context(_process(own, "worker", *options)) for _ in range(workers)]
        )


def crew_of(running: Running) -> Cluster:
    """Return the crew of a cluster whose workers are all there."""
    crew = Cluster(running.address)
    until = time.monotonic() + _PATIENCE_S
    while crew.workers < len(running.workers) and time.monotonic() < until:
        time.sleep(0.05)
    assert crew.workers == len(running.workers)
    return crew


@contextlib.contextmanager
def _process(environment: dict[str, str], what: str, *words: str) -> Iterator[subprocess.Popen[bytes]]:
    command = [sys.executable, "-m", f"distributed.cli.dask_{what}", *words, "--no-dashboard"]
    with subprocess.Popen(
        command,
        cwd=environment["PYTHONPATH"],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as process:
        try:
            yield process
        finally:
            process.terminate()  # a killed watcher would leave its worker behind
            try:
                process.wait(_PATIENCE_S)
            except subprocess.TimeoutExpired:
                process.kill()


def _address(note: Path) -> str:
    """Return the address that a scheduler notes in a file when it is ready."""
    until = time.monotonic() + _PATIENCE_S
    while time.monotonic() < until:
        with contextlib.suppress(FileNotFoundError, ValueError):
            return str(json.loads(note.read_text(encoding="utf-8"))["address"])
        time.sleep(0.05)
    raise TimeoutError("the scheduler did not start")
