"""Runs the program on one case in a process of its own, with limits of time and memory."""

import contextlib
import os
import re
import resource
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sizing.batch.kept import CACHE_VARIABLE
from sizing.stash.book import DATA_VARIABLE
from tests.fuzz.case import MEGABYTE, Case, write_data, write_files

MOST_MEMORY = 1536 * MEGABYTE
"""Of the resident memory of a run, what was there at its start included."""
_HARD_MEMORY = 2560 * MEGABYTE  # beyond what is there at the start, so that no run takes the computer's
_WALL_TIMES = 4  # so many seconds may pass for one on the processor, as others use it too
_LEAST_WALL_S = 60.0
_POLL_S = 0.003
DATA = "data"
"""Folder of the user's own data in that of a run."""
_LONGEST_LINE = 1600
_LEFT_OUT = " photos cannot be measured"
_LARGEST_OUTPUT = 200 * MEGABYTE
_EXIT_CODES = {0, 2, 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a run did.

    Attributes
    ----------
    code : int
        Exit code; negative for a signal.
    busy_s : float
        Time on the processor.
    memory : int
        Largest resident memory, bytes.
    problems : tuple of str
        What it must not do and did: one of `PROBLEMS`.
    said : str
        Standard error.
    """

    code: int
    busy_s: float
    memory: int
    problems: tuple[str, ...]
    said: str


PROBLEMS = ("exit code", "traceback", "hang", "over memory", "lines", "input lost", "part left")


def run_case(case: Case, folder: Path) -> Outcome:
    """Run the program on a case, in a folder that is made and removed."""
    shutil.rmtree(folder, ignore_errors=True)
    work = folder / "work"
    work.mkdir(parents=True)
    write_files(case, work)
    write_data(case, folder / DATA)
    started = time.monotonic()
    child = os.fork()
    if child == 0:
        _run(case, folder, work)
    wall_s = max(_LEAST_WALL_S, _WALL_TIMES * case.limit_s)
    status, used, is_late = _wait(child, started + wall_s)
    said = (folder / "stderr").read_text(encoding="utf-8", errors="replace")
    code = os.waitstatus_to_exitcode(status)
    memory = used.ru_maxrss * 1024
    busy_s = used.ru_utime + used.ru_stime
    printed = (folder / "stdout").stat().st_size
    found = _said_wrongly(code, said, printed, says_help="--help" in said)
    if code not in _EXIT_CODES:
        found.append("exit code")
    if is_late or busy_s > case.limit_s or code == -signal.SIGXCPU:
        found.append("hang")
    if memory > MOST_MEMORY or (not case.memory and "too little memory" in said):
        found.append("over memory")
    found += _left_wrongly(case, work)
    shutil.rmtree(folder, ignore_errors=True)
    return Outcome(code=code, busy_s=busy_s, memory=memory, problems=tuple(found), said=said)


def _wait(child: int, deadline: float) -> tuple[int, resource.struct_rusage, bool]:
    """Wait for a process and its kind; end it when its time is over."""
    while True:
        done, status, used = os.wait4(child, os.WNOHANG)
        if done:
            return status, used, False
        if time.monotonic() > deadline:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child, signal.SIGKILL)
            _, status, used = os.wait4(child, 0)
            return status, used, True
        time.sleep(_POLL_S)


def _run(case: Case, folder: Path, work: Path) -> None:
    """Be the program: never returns."""
    code = 1
    try:
        os.setsid()
        os.chdir(work)
        os.environ[DATA_VARIABLE] = str(folder / DATA)
        os.environ[CACHE_VARIABLE] = str(folder / "cache")
        _redirect(folder)
        _limit(case)
        code = _call(case.words)
    except BaseException:  # noqa: BLE001 - whatever the program lets out is what is looked for
        traceback.print_exc()
    finally:
        with contextlib.suppress(Exception):
            sys.stdout.flush()
        with contextlib.suppress(Exception):
            sys.stderr.flush()
        os._exit(code)


def _call(words: Sequence[str]) -> int:
    from sizing.__main__ import main  # noqa: PLC0415 - imported by whoever forks

    sys.argv = ["strandgauge", *words]
    try:
        main()
    except SystemExit as error:
        return error.code if isinstance(error.code, int) else 0 if error.code is None else 1
    return 0


def _redirect(folder: Path) -> None:
    """Let standard streams be files, and nothing come in."""
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    for number, name in ((1, "stdout"), (2, "stderr")):
        os.dup2(os.open(folder / name, os.O_WRONLY | os.O_CREAT, 0o600), number)
    sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115 - for as long as the process lives
    sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", encoding="utf-8", errors="backslashreplace", closefd=False)  # noqa: SIM115


def _limit(case: Case) -> None:
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    taken = 1024 * int(re.findall(r"VmSize:\s+(\d+) kB", status)[0])
    most = taken + (case.memory or _HARD_MEMORY)
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    busy_s = int(case.limit_s) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (busy_s, busy_s + 1))
    resource.setrlimit(resource.RLIMIT_FSIZE, (_LARGEST_OUTPUT, _LARGEST_OUTPUT))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _said_wrongly(code: int, said: str, printed: int, *, says_help: bool) -> list[str]:
    """Return what is wrong with what was printed: an answer alone, or one line alone."""
    lines = said.splitlines()
    is_help = says_help and "Usage:" in said
    wrong = []
    if "Traceback (most recent call last)" in said:
        wrong.append("traceback")
    if code == 0 and lines:
        wrong.append("lines")
    if code in {2, 3} and not is_help:
        is_one = len(lines) == 1 and lines[0].startswith("Error: ") and len(lines[0]) < _LONGEST_LINE
        # Of several photos those that can be measured are answered for all the same.
        is_whole = printed and _LEFT_OUT not in said
        if not is_one or is_whole or not lines[0].isprintable():
            wrong.append("lines")
    return wrong


def _left_wrongly(case: Case, work: Path) -> list[str]:
    wrong = []
    kept = {name: content for name, content in case.files.items() if content is not None}
    if any(
        not (work / name).is_file() or (work / name).read_bytes() != content for name, content in kept.items()
    ):
        wrong.append("input lost")
    if any(name.name.endswith(".part") for name in work.iterdir()):
        wrong.append("part left")
    return wrong
