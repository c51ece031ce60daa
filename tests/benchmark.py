"""Times each stage of measuring a photo, and the whole command in a fresh process, and prints tables.

Not a test::

    python -m tests.benchmark [PHOTO] [--strand | --lot] [--repeat 3] [--megapixels 12] [--processor]

Without a photo the sample strand is used. With `--megapixels` the photo is first resized to that many.
Times are the shortest of the repeats, in seconds: wall time, or with `--processor` the time of all cores
together, which other work on the computer does not lengthen. Memory is the peak of the command's process, MB.
"""

import argparse
import contextlib
import functools
import importlib
import importlib.util
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

from PIL import Image

Clock = Callable[[], float]
ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "sample_images" / "anklet.jpg"
IMPORTS = ("sizing.cli.main", "sizing.cli.strand")
COMMON = (
    ("vision.measure", "find_tags", "find the tags"),
    ("vision.measure", "resect", "fit the camera"),
    ("vision.topview.bead_map", "orthophoto", "top view"),
    ("vision.topview.bead_map", "bead_map", "segment beads and bed"),
)
STAGES = {
    "strand": (
        *COMMON,
        ("vision.strand.search", "courses_on", "trace the strings"),
        ("vision.strand.search", "straighten", "straighten it"),
        ("vision.strand.search", "find_sides", "find its sides"),
        ("vision.strand.search", "strand_map", "segment the strand"),
        ("vision.strand.search", "beads_on", "divide into beads"),
        ("vision.strand.search", "expected_sides", "overlay its beads"),
        ("vision.strand.measure", "size_across", "size across"),
        ("vision.strand.measure", "lengths_along", "lengths"),
    ),
    "lot": (
        *COMMON,
        ("vision.lot.measure", "possible_beads", "separate the beads"),
        ("vision.lot.measure", "trace", "trace outlines"),
        ("vision.lot.measure", "close_up", "draw close-ups"),
        ("vision.lot.measure", "correct_sizes", "estimate sizes again"),
    ),
}
"""What is timed: module, function, label. A function may be called more than once."""


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("photo", type=Path, nargs="?", default=SAMPLE)
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--strand", dest="command", action="store_const", const="strand", default="strand")
    kind.add_argument("--lot", dest="command", action="store_const", const="lot")
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--megapixels", type=float)
    parser.add_argument("--processor", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        photo = resized(given.photo, given.megapixels, Path(folder)) if given.megapixels else given.photo
        width, height = Image.open(photo).size
        size = f"{width} x {height} px ({width * height / 1e6:.1f} MP)"
        print(f"{given.photo.name}, {size}, {os.cpu_count()} cores")
        _print_table("start-up, each in a fresh process", _start_up(given.repeat))
        clock = time.process_time if given.processor else time.perf_counter
        stages = functools.partial(_staged, given.command, photo, clock)
        _print_table(f"stages of {given.command}", _best([stages() for _ in range(given.repeat)]))
        _print_table("the whole command, in a fresh process", _whole(given.command, photo, given.repeat))


def resized(photo: Path, megapixels: float, folder: Path) -> Path:
    """Write a photo anew with so many megapixels, and return the file."""
    with Image.open(photo) as picture:
        share = (megapixels * 1e6 / (picture.width * picture.height)) ** 0.5
        size = round(picture.width * share), round(picture.height * share)
        path = folder / photo.name
        picture.resize(size, Image.Resampling.BICUBIC).save(path, quality=92, exif=picture.getexif())
    return path


def _print_table(title: str, rows: dict[str, float]) -> None:
    print(f"\n{title}")
    for name, value in rows.items():
        unit = "MB" if name.startswith("peak") else "s"
        print(f"  {name:<42} {value:8.2f} {unit}")


def _start_up(repeat: int) -> dict[str, float]:
    lines = {"python alone": "pass"} | {f"import {name}": f"import {name}" for name in IMPORTS}
    lines["strandgauge --help"] = "from sizing.cli.main import cli; cli(['--help'], standalone_mode=False)"
    return {name: min(_run(["-c", line])["wall"] for _ in range(repeat)) for name, line in lines.items()}


def _run(arguments: list[str]) -> dict[str, float]:
    """Run Python in a fresh process: wall time, and what the kernel says of its memory."""
    began = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *arguments], cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.perf_counter() - began
    if status:
        sys.exit(f"{' '.join(arguments)} failed: {process.stderr.read().decode() if process.stderr else ''}")
    kilobytes = usage.ru_maxrss / (1024 if sys.platform == "darwin" else 1)
    return {"wall": wall, "cpu": usage.ru_utime + usage.ru_stime, "peak": kilobytes / 1024}


def _whole(command: str, photo: Path, repeat: int) -> dict[str, float]:
    plain = [_run(["-m", "sizing", command, str(photo), "--json"]) for _ in range(repeat)]
    return {
        "wall": min(run["wall"] for run in plain),
        "processor time of all cores": min(run["cpu"] for run in plain),
        "peak memory": max(run["peak"] for run in plain),
    }


def _best(runs: list[dict[str, float]]) -> dict[str, float]:
    """Return the best time of each stage; `other` is what no stage accounts for."""
    whole = min(sum(run.values()) for run in runs)
    return {**{name: min(run[name] for run in runs) for name in runs[0]}, "all together": whole}


def _staged(command: str, path: Path, clock: Clock) -> dict[str, float]:
    from vision.image.photo import load_photo  # noqa: PLC0415

    measure = importlib.import_module("vision.measure")
    seconds: dict[str, float] = {}
    with contextlib.ExitStack() as watch:
        for module, name, label in STAGES[command]:
            watch.enter_context(_timed(module, name, _Adder(clock, label, seconds)))
        began = clock()
        photo = load_photo(path)
        seconds["load the photo"] = clock() - began
        call = measure.measure_lot if command == "lot" else measure.measure_strand
        call(photo, check_length_mm=None, check_length_u_mm=0.0, bed_height_mm=_bed_height(path))
        whole = clock() - began
    order = ["load the photo", *dict.fromkeys(label for _, _, label in STAGES[command])]
    return {**{label: seconds.get(label, 0.0) for label in order}, "other": whole - sum(seconds.values())}


def _bed_height(path: Path) -> float:
    truth = path.with_suffix(".json")
    return float(json.loads(truth.read_text())["bed_height_mm"]) if truth.exists() else 0.0


@dataclass(frozen=True)
class _Adder:
    """Adds up under one label how long blocks of code take."""

    clock: Clock
    label: str
    seconds: dict[str, float]

    @contextlib.contextmanager
    def __call__(self) -> Iterator[None]:
        began = self.clock()
        try:
            yield
        finally:
            self.seconds[self.label] = self.seconds.get(self.label, 0.0) + self.clock() - began


def timed_function(module_name: str, name: str) -> tuple[ModuleType, Callable[..., Any]]:
    """Return a module and its function that is to be timed.

    Raises
    ------
    LookupError
        There is no such module or no such function in it.
    """
    found = importlib.util.find_spec(module_name) and importlib.import_module(module_name)
    if not (found and hasattr(found, name)):
        raise LookupError(
            f"{module_name}.{name} does not exist: put its new name into STAGES in tests/benchmark.py"
        )
    return found, getattr(found, name)


@contextlib.contextmanager
def _timed(module_name: str, name: str, add: _Adder) -> Iterator[None]:
    """Time a module's function while the context lasts."""
    module, plain = timed_function(module_name, name)

    @functools.wraps(plain)
    def timed(*args: Any, **options: Any) -> Any:  # noqa: ANN401 - passed through
        with add():
            return plain(*args, **options)

    setattr(module, name, timed)
    try:
        yield
    finally:
        setattr(module, name, plain)


if __name__ == "__main__":
    main()
