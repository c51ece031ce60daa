"""Gives the program thousands of spoilt inputs and prints what became of them.

    python -m tests.fuzz --count 10000 --jobs 8 [--seed 1] [--kind "piece file"]
    python -m tests.fuzz --show 4711            (one input: what is typed, its files, what the program says)

Every run is a process of its own with limits of time and memory. It must end with exit code 0, 2 or 3, print
an answer alone or one line on standard error alone, keep every file that it was given, and leave no part.
"""

import argparse
import importlib
import json
import os
import selectors
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from random import Random

from tests.fuzz.cage import MOST_MEMORY, PROBLEMS, run_case
from tests.fuzz.case import Case, write_files
from tests.fuzz.cases import KINDS, make_case, pick_kind
from tests.fuzz.seeds import Seeds, load_seeds, prepare_seeds, use_measured

MODULES = (
    *(f"sizing.cli.{name}" for name in ("main", "strand", "lot", "check", "plan", "sheet", "page")),
    *(f"sizing.cli.stash.{name}" for name in ("group", "keep", "look", "counts", "carry", "make")),
    *(f"sizing.report.html.{name}" for name in ("strand", "lot", "check", "plan")),
    *(
        "vision.lot.measure",
        "vision.marks.annotate",
        "vision.reference.measure",
        "sizing.piece.toml.document",
        "sizing.stash.unpack",
        "sizing.web.server",
    ),
)
"""Imported once, before each run is forked."""
# A fork loses the threads that numerical libraries start as they are imported.
ONE_THREAD = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
Row = dict[str, object]


def numbered_case(number: int, given: argparse.Namespace, seeds: Seeds) -> tuple[str, Case]:
    """Return the kind and the input of a number: the same for the same seed."""
    rng = Random(f"{given.seed}-{number}")  # noqa: S311 - nothing is kept secret
    kind = given.kind or pick_kind(rng)
    return kind, make_case(kind, rng, seeds)


def work(given: argparse.Namespace, folder: Path) -> Iterator[Row]:
    """Run every `jobs`th input from number `first` on."""
    for module in MODULES:
        importlib.import_module(module)
    seeds = load_seeds(folder)
    use_measured(seeds)
    for number in range(given.first, given.count, given.jobs):
        kind, case = numbered_case(number, given, seeds)
        outcome = run_case(case, folder / f"case-{given.first}")
        yield {"number": number, "kind": kind, **asdict(outcome), "words": case.words}


def share_out(given: argparse.Namespace, folder: Path) -> Iterator[Row]:
    """Run all inputs in as many processes as there are jobs."""
    workers = [_worker(given, folder, first) for first in range(given.jobs)]
    try:
        yield from _lines(workers)
    finally:
        for worker in workers:
            worker.kill()
            worker.wait()


def _worker(given: argparse.Namespace, folder: Path, first: int) -> "subprocess.Popen[str]":
    words = ["--count", str(given.count), "--jobs", str(given.jobs), "--seed", str(given.seed)]
    words += ["--kind", given.kind] if given.kind else []
    call = [sys.executable, "-m", "tests.fuzz", "--folder", str(folder), "--first", str(first), *words]
    # Sheets that somebody has measured on this computer are not used.
    env = os.environ | ONE_THREAD | {"XDG_CONFIG_HOME": str(folder / "settings")}
    return subprocess.Popen(call, stdout=subprocess.PIPE, text=True, env=env)


def _lines(workers: Sequence["subprocess.Popen[str]"]) -> Iterator[Row]:
    """Yield rows as they come from any worker."""
    waiting = selectors.DefaultSelector()
    for worker in workers:
        waiting.register(worker.stdout or sys.stdin, selectors.EVENT_READ)
    while waiting.get_map():
        for key, _ in waiting.select():
            line = key.fileobj.readline()  # type: ignore[union-attr]
            if line:
                yield json.loads(line)
            else:
                waiting.unregister(key.fileobj)


def table(rows: Iterable[Row]) -> str:
    """Return how many inputs of each kind ended how."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    longest: dict[str, float] = defaultdict(float)
    largest: dict[str, int] = defaultdict(int)
    for row in rows:
        for kind in (str(row["kind"]), "all"):
            code = f"exit {row['code']}" if row["code"] in {0, 2, 3} else "other"
            counts[kind].update(["inputs", code, *row["problems"]])  # type: ignore[misc]
            longest[kind] = max(longest[kind], float(row["busy_s"]))  # type: ignore[arg-type]
            largest[kind] = max(largest[kind], int(row["memory"]))  # type: ignore[call-overload]
    columns = ("inputs", "exit 0", "exit 2", "exit 3", "other", *PROBLEMS[1:])
    head = f"{'':13}" + "".join(f"{column:>12}" for column in columns) + f"{'longest s':>12}{'most MB':>9}"
    lines = [head]
    for kind in [kind for kind in (*KINDS, "all") if kind in counts]:
        numbers = "".join(f"{counts[kind][column]:>12}" for column in columns)
        lines.append(f"{kind:13}{numbers}{longest[kind]:>12.1f}{largest[kind] / 2**20:>9.0f}")
    return "\n".join(lines)


def show(number: int, given: argparse.Namespace, folder: Path) -> None:
    """Print one input and what the program says; its files stay in a folder."""
    kind, case = numbered_case(number, given, load_seeds(folder))
    kept = Path(tempfile.mkdtemp(prefix=f"fuzz-{number}-"))
    write_files(case, kept)
    print(f"{kind}: {list(case.words)}\nfiles in {kept}")
    given.count, given.jobs = number + 1, 1
    for row in _lines([_worker(given, folder, number)]):
        print(json.dumps(row, indent=2))


def parsed(words: Sequence[str] | None = None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=list(KINDS))
    parser.add_argument("--show", type=int, metavar="NUMBER")
    parser.add_argument("--first", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    return parser.parse_args(words)


def main() -> int:
    """Run what was asked for; 1 if any input did what none may."""
    given = parsed()
    if given.first is not None:
        for row in work(given, given.folder):
            print(json.dumps(row), flush=True)
        return 0
    with tempfile.TemporaryDirectory() as name:
        folder = given.folder or Path(name)
        prepare_seeds(folder)
        if given.show is not None:
            show(given.show, given, folder)
            return 0
        rows = []
        for row in share_out(given, folder):
            rows.append(row)
            if row["problems"]:
                print(f"{row['number']} {row['kind']}: {', '.join(row['problems'])}")  # type: ignore[call-overload]
                print(f"    {row['words']}\n    {str(row['said'])[-600:]}", flush=True)
    print(f"memory over {MOST_MEMORY / 2**20:.0f} MB counts; seed {given.seed}")
    print(table(rows))
    lacking = given.count - len(rows)
    if lacking:
        print(f"{lacking} inputs were not run: a worker ended early")
    return int(lacking > 0 or any(row["problems"] for row in rows))


if __name__ == "__main__":
    sys.exit(main())
