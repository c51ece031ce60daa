"""Times each stage of measuring a photo, and the whole command beside a script that a maker would write.

Not a test::

    python -m tests.benchmark [PHOTO] [--strand | --lot] [--repeat 5] [--megapixels 6.8 12 50] [--processor]

Without a photo a sample is used. With `--megapixels` the photo is resized to each of them in turn. Times are
medians of the repeats, in seconds: wall time, or with `--processor` the time of all cores together, which
other work on the computer lengthens less. Stages are timed in a warm process, each without the stages in it;
"other" is what none accounts for. Commands run in fresh processes, in turn: decoding the photo alone, the
script (`tests/peer.py`), and ours. Their bytecode is kept, as of an installed package, so each runs once
untimed. Memory is the peak of a process, MB.
"""

import argparse
import contextlib
import functools
import importlib
import json
import operator
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from PIL import Image

from sizing.__main__ import LIBRARIES

Clock = Callable[[], float]
Stage = tuple[str, str, str]
ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "sample_images" / "anklet.jpg"
SAMPLES = {"strand": SAMPLE, "lot": ROOT / "sample_images" / "mixed-lot.jpg"}
IMPORTS = ("sizing.cli.main", "sizing.cli.strand")
COMMON: tuple[Stage, ...] = (
    ("vision.measure", "find_tags", "find the tags"),
    ("vision.measure", "resect", "fit the camera"),
    ("vision.measure", "edge_blur_px", "blur of the photo"),
    ("vision.topview.reading", "orthophoto", "top view"),
    ("vision.topview.reading", "bed_region", "where beads may lie"),
    ("vision.topview.reading", "bead_map", "maps of beads and kinds"),
    ("vision.topview.bead_map", "each_tile", "network of the top view"),
    ("vision.topview.reading", "possible_beads", "separate the beads"),
)
STAGES: dict[str, tuple[Stage, ...]] = {
    "strand": (
        *COMMON,
        ("vision.strand.search", "courses_on", "trace the strings"),
        ("vision.strand.search", "smooth_axis", "smooth the axis"),
        ("vision.strand.straightened", "recentred", "smooth the axis"),
        ("vision.strand.straightened", "straighten", "straighten it"),
        ("vision.strand.straightened", "laid_on", "lay maps on the strip"),
        ("vision.strand.straightened", "sides_of", "find its sides"),
        ("vision.strand.search", "strand_map", "picture for the strand network"),
        ("vision.strand.strand_map", "logit_maps", "network of the strand"),
        ("vision.strand.search", "beads_on", "divide into beads"),
        ("vision.strand.search", "bead_range", "tell stoppers from beads"),
        ("vision.strand.search", "beads_and_stoppers", "tell stoppers from beads"),
        ("vision.strand.search", "moved_to_edges", "edges near its sides"),
        ("vision.strand.straightened", "View.with_kinds", "kind of each part"),
        ("vision.strand.search", "_lying_apart", "what lies apart"),
        ("vision.strand.search", "wide_things", "what lies apart"),
        ("vision.strand.measure", "size_across", "size across"),
        ("vision.strand.row", "lengths_along", "lengths"),
        ("vision.strand.uncertainty", "Budget.of", "uncertainties"),
        ("vision.strand.row", "BeadRow.with_network", "second estimate"),
        ("vision.strand.measure", "_pooled", "pooling"),
        ("vision.strand.measure", "doubts_about", "doubts of the count"),
        ("vision.strand.measure", "_assembled", "records"),
    ),
    "lot": (
        *COMMON,
        ("vision.lot.measure", "Shown.by", "count them"),
        ("vision.lot.measure", "weighed", "count them"),
        ("vision.lot.measure", "whole_pieces", "count them"),
        ("vision.pieces.wholes", "second_look", "pictures of the pieces"),
        ("vision.pieces.second_look", "estimates", "network of the pieces"),
        ("vision.lot.measure", "mark_overlaps", "count them"),
        ("vision.lot.measure", "count_probability", "count them"),
        ("vision.lot.measure", "things_among", "what lies apart"),
        ("vision.lot.measure", "trace", "trace outlines"),
        ("vision.lot.contour", "closed_paths", "paths of outlines"),
        ("vision.lot.contour", "edge_shifts", "edges of outlines"),
        ("vision.lot.measure", "fit_outlines", "fit curves"),
        ("vision.lot.measure", "estimate_bodies", "heights of the bodies"),
        ("vision.lot.measure", "edge_sizes", "uncertainties"),
        ("vision.lot.measure", "close_up", "draw close-ups"),
        ("vision.lot.measure", "correct_sizes", "estimate sizes again"),
        ("vision.lot.close_up", "estimates", "network of close-ups"),
        ("vision.lot.measure", "pooled", "pooling"),
        ("vision.lot.measure", "_record", "records"),
        ("vision.lot.measure", "_flags", "records"),
    ),
}
"""What is timed: module, function or method, label. A label may stand for several, each called often."""


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("photo", type=Path, nargs="?")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--strand", dest="command", action="store_const", const="strand", default="strand")
    kind.add_argument("--lot", dest="command", action="store_const", const="lot")
    parser.add_argument("--repeat", type=int, default=5)
    parser.add_argument("--megapixels", type=float, nargs="+", default=[0.0])
    parser.add_argument("--processor", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as bytecode:
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = bytecode
        _print_all(given)


def _print_all(given: argparse.Namespace) -> None:
    _print_table("start-up, each in a fresh process", _start_up(given.repeat))
    for megapixels in given.megapixels:
        with tempfile.TemporaryDirectory() as folder:
            photo = given.photo or SAMPLES[given.command]
            photo = resized(photo, megapixels, Path(folder)) if megapixels else photo
            _report(_Run(command=given.command, photo=photo, repeat=given.repeat), processor=given.processor)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """What is timed, and how often."""

    command: str
    photo: Path
    repeat: int


def _report(run: _Run, *, processor: bool) -> None:
    width, height = Image.open(run.photo).size
    print(
        f"\n{run.photo.name}, {width} x {height} px ({width * height / 1e6:.1f} MP), {os.cpu_count()} cores"
    )
    clock = time.process_time if processor else time.perf_counter
    # in a process of its own: one that was large lends its peak to those that it starts
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as apart:
        _print_table(f"stages of {run.command}, warm", apart.submit(_stages, run, clock).result())
    rows = _in_turn(run)
    script = rows["the script beside it"]
    print(f"\n{'commands, in turn':<42} {'wall s':>8} {'cores s':>8} {'peak MB':>8} {'of script':>10}")
    for name, figures in rows.items():
        share = figures["cpu"] / script["cpu"] if processor else figures["wall"] / script["wall"]
        print(
            f"  {name:<40} {figures['wall']:8.2f} {figures['cpu']:8.2f} {figures['peak']:8.0f} {share:10.2f}"
        )


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
        print(f"  {name:<42} {value:8.3f} s")


def _start_up(repeat: int) -> dict[str, float]:
    lines = {"python alone": "pass"} | {f"import {name}": f"import {name}" for name in IMPORTS}
    lines["strandgauge --help"] = "from sizing.cli.main import cli; cli(['--help'], standalone_mode=False)"
    runs = {name: [_run(["-c", line])["wall"] for _ in range(repeat + 1)] for name, line in lines.items()}
    return {name: statistics.median(walls[1:]) for name, walls in runs.items()}


def _run(arguments: list[str]) -> dict[str, float]:
    """Run Python in a fresh process: wall time, and what the kernel says of its time and memory."""
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


def _in_turn(run: _Run) -> dict[str, dict[str, float]]:
    """Return the medians of each command, run in turn, so that what slows one slows all."""
    photo = str(run.photo)
    decode = f"from PIL import Image; Image.open({photo!r}).convert('RGB')"
    lines = {
        "decoding the photo": ["-c", decode],
        "the script beside it": ["-m", "tests.peer", photo],
        f"strandgauge {run.command}": ["-m", "sizing", run.command, photo, "--json"],
    }
    runs = [{name: _run(line) for name, line in lines.items()} for _ in range(run.repeat + 1)][1:]
    return {
        name: {key: statistics.median(each[name][key] for each in runs) for key in ("wall", "cpu", "peak")}
        for name in lines
    }


def _stages(run: _Run, clock: Clock) -> dict[str, float]:
    """Return the median of each stage, after a first run that nobody times, in a process that is to stay."""
    for name, value in LIBRARIES.items():
        os.environ.setdefault(name, value)
    runs = [_staged(run, clock) for _ in range(run.repeat + 1)][1:]
    return {name: statistics.median(each[name] for each in runs) for name in runs[0]}


def _staged(run: _Run, clock: Clock) -> dict[str, float]:
    photos, measure = (importlib.import_module(name) for name in ("vision.image.photo", "vision.measure"))
    watch = _Stopwatch(clock=clock)
    with contextlib.ExitStack() as timed:
        for module, name, label in STAGES[run.command]:
            timed.enter_context(_timed(module, name, functools.partial(watch.stage, label)))
        with watch.stage("other"):
            with watch.stage("load the photo"):
                photo = photos.load_photo(run.photo)
            call = measure.measure_lot if run.command == "lot" else measure.measure_strands
            call(photo, check_length_mm=None, check_length_u_mm=0.0, bed_height_mm=_bed_height(run.photo))
    order = ["load the photo", *dict.fromkeys(label for _, _, label in STAGES[run.command]), "other"]
    return {label: watch.seconds[label] for label in order} | {"all together": sum(watch.seconds.values())}


def _bed_height(path: Path) -> float:
    truth = path.with_suffix(".json")
    return float(json.loads(truth.read_text())["bed_height_mm"]) if truth.exists() else 0.0


@dataclass(kw_only=True)
class _Stopwatch:
    """Adds up under each label how long blocks of code take, less the blocks within them."""

    clock: Clock
    seconds: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    within: list[float] = field(default_factory=list)

    @contextlib.contextmanager
    def stage(self, label: str) -> Iterator[None]:
        began = self.clock()
        self.within.append(0.0)
        try:
            yield
        finally:
            took = self.clock() - began
            self.seconds[label] += took - self.within.pop()
            if self.within:
                self.within[-1] += took


def timed_function(module_name: str, name: str) -> tuple[Any, Callable[..., Any]]:
    """Return what holds the function or method that is to be timed, a module or a class, and itself.

    Raises
    ------
    LookupError
        There is no such module or no such function in it.
    """
    *owner, last = name.split(".")
    try:
        module = importlib.import_module(module_name)
        holder = operator.attrgetter(*owner)(module) if owner else module
        return holder, getattr(holder, last)
    except (ImportError, AttributeError):
        raise LookupError(
            f"{module_name}.{name} does not exist: put its new name into STAGES in tests/benchmark.py"
        ) from None


@contextlib.contextmanager
def _timed(
    module_name: str, name: str, stage: Callable[[], contextlib.AbstractContextManager[None]]
) -> Iterator[None]:
    """Time a module's function, or a method, while the context lasts."""
    holder, plain = timed_function(module_name, name)
    last = name.rsplit(".", maxsplit=1)[-1]
    kept = vars(holder)[last]

    @functools.wraps(plain)
    def timed(*args: Any, **options: Any) -> Any:  # noqa: ANN401 - passed through
        with stage():
            return plain(*args, **options)

    setattr(holder, last, timed if plain is kept else staticmethod(timed))
    try:
        yield
    finally:
        setattr(holder, last, kept)


if __name__ == "__main__":
    main()
