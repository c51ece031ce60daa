"""Many photos: identical whoever measures, as they come, and no loss takes more than its own photo."""

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from sizing.batch.crew import Crew, Processes, ThisProcess
from sizing.batch.job import NO_MEMORY, Job, Measured
from sizing.batch.run import LOST, only, run
from sizing.batch.worker import begin_worker
from sizing.lot.handfuls import Handful
from tests.helpers.jobs import NO_SHEET, pretend, write
from tests.helpers.paths import ROOT
from vision.common.errors import PhotoError

PHOTOS = {"a": "3", "b": "dark", "c": "slow 5", "d": "4", "e": "7"}


def strands(handfuls: Sequence[Handful]) -> list[Job]:
    return [Job(handful=each, what="strand") for each in handfuls]


def counts(outcomes: dict[int, Measured | str]) -> list[int | str]:
    """Return how many beads each photo gave, or why none, in order."""
    found = [outcomes[i] for i in range(len(outcomes))]
    return [each if isinstance(each, str) else len(each[0].beads) for each in found]  # type: ignore[index]


def test_processes_give_what_this_process_gives(tmp_path: Path) -> None:
    jobs = strands(write(tmp_path, **PHOTOS))
    here = counts(dict(run(jobs, ThisProcess(), work=pretend)))
    assert here == [3, NO_SHEET, 5, 4, 7]
    assert counts(dict(run(jobs, Processes(2), work=pretend))) == here


def test_results_come_as_they_are_ready(tmp_path: Path) -> None:
    jobs = strands(write(tmp_path, a="slow 3", b="5", c="5"))
    assert [i for i, _ in run(jobs, Processes(2), work=pretend)][-1] == 0
    first, *_ = run(jobs, ThisProcess(), work=pretend)
    assert first[0] == 0


def test_a_photo_that_ends_its_worker_costs_no_other_its_result(tmp_path: Path) -> None:
    jobs = strands(write(tmp_path, a="3", b="die", c="slow 5", d="4", e="die", f="6"))
    assert counts(dict(run(jobs, Processes(2), work=pretend))) == [3, LOST, 5, 4, LOST, 6]


@pytest.mark.parametrize("crew", [ThisProcess(), Processes(1)], ids=["here", "process"])
def test_a_photo_too_large_for_memory_costs_no_other_its_result(tmp_path: Path, crew: Crew) -> None:
    jobs = strands(write(tmp_path, a="3", b="huge", c="5"))
    assert counts(dict(run(jobs, crew, work=pretend))) == [3, NO_MEMORY, 5]


def test_a_single_photo_is_measured_or_says_why(tmp_path: Path) -> None:
    good, bad = strands(write(tmp_path, a="3", b="dark"))
    assert len(only(good, ThisProcess(), work=pretend)) == 1  # type: ignore[arg-type]
    with pytest.raises(PhotoError, match=NO_SHEET):
        only(bad, ThisProcess(), work=pretend)


def test_a_worker_computes_with_one_thread() -> None:
    code = (
        "import os; from sizing.batch.worker import begin_worker; begin_worker(); import cv2;"
        "print(cv2.getNumThreads(), os.environ['OPENBLAS_NUM_THREADS'])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.split() == ["1", "1"]
    # Nothing that reads these settings may be imported before they are made.
    code = f"import sys, {begin_worker.__module__}; print({{'numpy', 'cv2', 'scipy'}} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout == "set()\n"


WAITS = """
from pathlib import Path
from sizing.batch.crew import Processes
from sizing.batch.job import Job
from sizing.batch.run import run
from sizing.lot.handfuls import Handful
from tests.helpers.jobs import wait

if __name__ == "__main__":
    jobs = [Job(handful=Handful(path=Path(n), name=n), what="loose") for n in "ab"]
    list(run(jobs, Processes(2), work=wait))
"""


def runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return "Z" not in Path(f"/proc/{process}/stat").read_text(encoding="utf-8").split()[2]


def test_workers_end_with_the_program_that_started_them(tmp_path: Path) -> None:
    script = tmp_path / "script.py"
    script.write_text(WAITS, encoding="utf-8")
    own = os.environ | {"PYTHONPATH": str(ROOT)}
    # Python itself may say on standard error that a killed program left semaphores behind.
    with subprocess.Popen(
        [sys.executable, script], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=own
    ) as running:
        assert running.stdout is not None
        workers = [int(running.stdout.readline()) for _ in range(2)]
        running.kill()
        # Whoever still runs holds the pipe open; reading ends when nobody does.
        assert running.stdout.read() == ""
    assert not [worker for worker in workers if runs(worker)]
