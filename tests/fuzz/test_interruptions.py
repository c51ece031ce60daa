"""Killed at any moment, on a full disk or in a folder to read, no file is lost or left half."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.fuzz.__main__ import ONE_THREAD
from tests.helpers.paths import ROOT

KILLS = 60
OLD = "old, whole\n"
PLAN = [
    "plan",
    "--strung",
    "160mm",
    "--bead",
    "8mm",
    "--csv",
    "a.csv",
    "--save",
    "a.toml",
    "--report",
    "a.html",
]
OLD_FILES = {"a.csv": OLD, "a.toml": f"piece = 1 # {OLD}", "a.html": f"<html>{OLD}"}


def run(script: str, *words: str | Path) -> str:
    """Run a script in a process of its own, which may fork, and return what it prints."""
    env = os.environ | ONE_THREAD
    call = [sys.executable, "-c", script, *words]
    return subprocess.run(call, stdout=subprocess.PIPE, text=True, cwd=ROOT, env=env, check=True).stdout


KILLED = """
import json, os, random, signal, sys, time
from pathlib import Path
import sizing.cli.plan, sizing.piece.plan, sizing.report.html.plan
from sizing.__main__ import main

folder, words, old, kills = Path(sys.argv[1]), *map(json.loads, sys.argv[2:])
os.chdir(folder)
rng = random.Random(7)

def start():
    child = os.fork()
    if child == 0:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.argv = ["strandgauge", *words]
        try:
            main()
        finally:
            os._exit(0)
    return child

def put_back():
    for name, text in old.items():
        Path(name).write_text(text)

put_back()
started = time.monotonic()
os.waitpid(start(), 0)
takes_s = time.monotonic() - started
new = {name: Path(name).read_text() for name in old}
states, parts = [], 0
for _ in range(kills):
    put_back()
    child = start()
    time.sleep(takes_s * rng.uniform(0.3, 1.1))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    found = {name: Path(name).read_text() for name in old}
    kinds = {name: {old[name]: "old", new[name]: "new"} for name in old}
    states.append([kinds[name].get(found[name], "half") for name in old])
    parts += sum(name.endswith(".part") for name in os.listdir())
os.waitpid(start(), 0)
print(json.dumps({"states": states, "left": sorted(os.listdir()), "new": [new[n] != old[n] for n in old]}))
"""


def test_a_kill_at_any_moment_leaves_every_file_old_or_new(tmp_path: Path) -> None:
    answer = json.loads(run(KILLED, tmp_path, json.dumps(PLAN), json.dumps(OLD_FILES), str(KILLS)))
    assert all(answer["new"])
    assert len(answer["states"]) == KILLS
    assert not [states for states in answer["states"] if "half" in states]
    # What the kills left is gone after the run that was not killed.
    assert answer["left"] == sorted(OLD_FILES)


STOPPED_BY = """
import os, resource, sys
import pint  # the user without rights may not read it
import sizing.__main__ as program
import sizing.cli.main, sizing.cli.plan, sizing.piece.plan
from pathlib import Path
from tests.fuzz.cage import run_case
from tests.fuzz.case import Case

real = program.main

def on_a_full_disk():
    # A file that grows beyond this is refused as on a full disk: setrlimit(2), RLIMIT_FSIZE.
    resource.setrlimit(resource.RLIMIT_FSIZE, (200, 200))
    real()

def in_a_folder_to_read():
    os.chmod(".", 0o555)
    if os.geteuid() == 0:  # who may write everywhere
        os.setegid(65534)
        os.seteuid(65534)
    real()

def in_a_folder_that_vanished():
    from sizing.piece import plan
    make = plan.make_plan
    def vanish(piece):
        import shutil
        shutil.rmtree("folder")
        return make(piece)
    plan.make_plan = vanish
    real()

program.main = {name: value for name, value in globals().items() if callable(value)}[sys.argv[1]]
place = sys.argv[3]
files = {place: b"old, whole\\n"} if "vanished" not in sys.argv[1] else {}
words = ("plan", "--strung", "160mm", "--bead", "8mm", "--csv", place)
if not files:
    os.makedirs(Path(sys.argv[2], "keep"), exist_ok=True)
    files = {"folder/other.txt": b""}
outcome = run_case(Case(words=words, files=files), Path(sys.argv[2]))
print(outcome.code, [each for each in outcome.problems if files.keys() == {place}], outcome.said, end="")
"""


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ("on_a_full_disk", "File too large"),
        ("in_a_folder_to_read", "Permission denied"),
        ("in_a_folder_that_vanished", "No such file or directory"),
    ],
)
def test_a_failed_write_is_one_line_and_leaves_the_old_file(tmp_path: Path, how: str, said: str) -> None:
    tmp_path.chmod(0o755)
    place = "folder/a.csv" if "vanished" in how else "a.csv"
    line = f"2 [] Error: {place} cannot be written ({said}): choose another name or folder\n"
    assert run(STOPPED_BY, how, tmp_path / "run", place) == line
