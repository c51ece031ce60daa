"""A few dozen spoilt inputs in every run of the tests; thousands by `python -m tests.fuzz`."""

import os
import re
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest

from tests.fuzz.__main__ import ONE_THREAD, parsed, table
from tests.fuzz.cases import KINDS, make_case, pick_kind
from tests.fuzz.mangle import spoil_bytes, spoil_json, spoil_toml
from tests.fuzz.seeds import load_seeds, prepare_seeds
from tests.helpers.paths import ROOT

FEW = 24
KINDS_WITHOUT_MEASURING = ("piece file", "saved beads", "lengths", "options", "stash", "page")


@pytest.fixture(scope="module")
def seeds_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("seeds")
    prepare_seeds(folder)
    return folder


def fuzz(folder: Path, *words: str) -> "subprocess.CompletedProcess[str]":
    """Run some inputs in one process."""
    call = [sys.executable, "-m", "tests.fuzz", "--folder", str(folder), "--first", "0", *words]
    env = os.environ | ONE_THREAD | {"XDG_CONFIG_HOME": str(folder / "settings")}
    return subprocess.run(call, capture_output=True, text=True, env=env, cwd=ROOT, check=False)


@pytest.mark.parametrize("kind", KINDS_WITHOUT_MEASURING)
def test_spoilt_inputs_end_in_an_answer_or_one_line(seeds_folder: Path, kind: str) -> None:
    done = fuzz(seeds_folder, "--count", str(FEW), "--kind", kind)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert len(lines) == FEW
    assert [line for line in lines if '"problems": []' not in line] == []


@pytest.mark.parametrize(("kind", "count"), [("picture file", 12), ("places", 12), ("pixels", 4)])
def test_spoilt_photos_and_odd_places_do_too(seeds_folder: Path, kind: str, count: int) -> None:
    done = fuzz(seeds_folder, "--count", str(count), "--kind", kind, "--seed", "3")
    assert done.returncode == 0, done.stderr
    assert [line for line in done.stdout.splitlines() if '"problems": []' not in line] == []


def test_a_bad_run_is_noticed(tmp_path: Path) -> None:
    """What counts as a problem is found in a program that makes each of them."""
    script = """
import sys, time
from pathlib import Path
from tests.fuzz.cage import run_case
from tests.fuzz.case import Case
import sizing.__main__ as program

def crash(): raise AssertionError("ours")
def talk(): print("a\\\\nb", file=sys.stderr); sys.exit(2)
def warn(): print("warning", file=sys.stderr)
def lose(): Path("p.toml").write_text("gone")
def leave(): Path(".x.part").touch()
def loop():
    while True: pass
def fill(): bytearray(1700 << 20)
def odd(): sys.exit(7)

for bad in (crash, talk, warn, lose, leave, loop, fill, odd):
    program.main = bad
    case = Case(words=(), files={"p.toml": b"kept"}, limit_s=8.0)
    print(bad.__name__, *run_case(case, Path(sys.argv[1])).problems, sep=",")
"""
    done = subprocess.run(
        [sys.executable, "-c", script, tmp_path / "bad"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env=os.environ | ONE_THREAD,
        check=True,
    )
    assert done.stdout.splitlines() == [
        "crash,traceback,exit code",
        "talk,lines",
        "warn,lines",
        "lose,input lost",
        "leave,part left",
        "loop,exit code,hang",
        "fill,over memory",
        "odd,exit code",
    ]


def test_an_input_is_the_same_for_the_same_number(seeds_folder: Path) -> None:
    seeds = load_seeds(seeds_folder)
    for kind in KINDS:
        one, same, other = (make_case(kind, Random(number), seeds) for number in (5, 5, 6))  # noqa: S311
        assert one == same
        assert one != other


def test_every_kind_is_picked() -> None:
    rng = Random(1)  # noqa: S311
    assert {pick_kind(rng) for _ in range(2000)} == set(KINDS)


def test_what_is_spoilt_is_spoilt() -> None:
    rng = Random(2)  # noqa: S311
    content = bytes(range(256)) * 4
    assert sum(spoil_bytes(rng, content) != content for _ in range(100)) > 90
    fields = {"beads": [{"along_mm": 6.0}] * 5, "strand": {"length_mm": 30.0}}
    assert len({spoil_json(rng, fields) for _ in range(100)}) > 60
    assert fields == {"beads": [{"along_mm": 6.0}] * 5, "strand": {"length_mm": 30.0}}
    assert len({spoil_toml(rng, "piece = 1\n[wire]\ntail = 1\n") for _ in range(100)}) > 60


def test_the_table_counts_kinds_codes_and_problems() -> None:
    rows = [
        {"kind": "lengths", "code": code, "problems": problems, "busy_s": 0.5 + code, "memory": 1 << 20}
        for code, problems in ((0, []), (2, []), (2, ["lines"]), (1, ["exit code", "traceback"]))
    ]
    head, lengths, total = table(rows).splitlines()
    assert re.split(r"  +", head.strip())[:5] == ["inputs", "exit 0", "exit 2", "exit 3", "other"]
    assert lengths.split() == ["lengths", "4", "1", "2", "0", "1", "1", "0", "0", "1", "0", "0", "2.5", "1"]
    assert total.split()[1:] == lengths.split()[1:]


def test_the_whole_is_one_command() -> None:
    given = parsed(["--count", "10000", "--jobs", "8"])
    assert (given.count, given.jobs, given.seed, given.kind) == (10000, 8, 1, None)
