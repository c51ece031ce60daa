"""Times many small photos: in processes of this computer, on a cluster, and again from what is kept.

Not a test::

    python -m tests.many_benchmark [--photos 10 100 1000] [--megapixels 0.6]

The photos are the sample strands, made smaller, each encoded anew. The cluster is a scheduler and two
workers on this computer, of which one is killed after half of the photos. Every result must be there, and
the same to the last digit. Times are seconds, with the start of the processes, and seconds of one core for
each photo, which say more where others use the computer too.
"""

import argparse
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from PIL import Image

from sizing.batch.crew import Crew, Processes
from sizing.batch.job import Job, Measured
from sizing.batch.kept import Kept
from sizing.batch.room import workers_for
from sizing.batch.run import run
from sizing.lot.handfuls import Handful
from tests.helpers.cluster import cluster, crew_of
from tests.helpers.paths import SAMPLES
from tests.helpers.records import said

_NAMES = ("anklet.jpg", "mixed-strand.jpg")
_QUALITIES = range(80, 95)  # as phones and chat programs encode (common practice, no source)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--photos", type=int, nargs="+", default=[10, 100, 1000])
    parser.add_argument("--megapixels", type=float, default=0.6)
    given = parser.parse_args()
    print(f"{'photos':>7} {'processes':>10} {'a core':>7} {'cluster':>9} {'a core':>7} {'kept':>7}  results")
    for count in given.photos:
        with tempfile.TemporaryDirectory() as folder:
            print(
                _row(small_photos(Path(folder), count, megapixels=given.megapixels), Path(folder)), flush=True
            )


def small_photos(folder: Path, count: int, *, megapixels: float) -> list[Job]:
    """Write so many small photos, none the same as another, and return the jobs to measure them."""
    made = []
    small = [_smaller(SAMPLES / name, megapixels) for name in _NAMES]
    for i in range(count):
        path = folder / f"{i:04}.jpg"
        picture, exif = small[i % len(small)]
        picture.save(path, quality=_QUALITIES[i % len(_QUALITIES)], exif=exif, comment=str(i))
        made.append(Job(handful=Handful(path=path, name=path.name), what="strand"))
    return made


def _smaller(path: Path, megapixels: float) -> tuple[Image.Image, Image.Exif]:
    with Image.open(path) as picture:
        share = (megapixels * 1e6 / (picture.width * picture.height)) ** 0.5
        size = round(picture.width * share), round(picture.height * share)
        return picture.resize(size, Image.Resampling.LANCZOS), picture.getexif()


def _row(jobs: Sequence[Job], folder: Path) -> str:
    kept = Kept(folder / "kept")
    count = len(jobs)
    began_s = _cores_s()
    pool_s, by_pool = _timed(jobs, Processes(workers_for(count)), kept=kept)
    pool_cores_s = (_cores_s() - began_s) / count
    kept_s, _ = _timed(jobs, Processes(workers_for(count)), kept=kept)
    began_s = _cores_s()
    with cluster(folder) as running:
        crew = crew_of(running)
        kill_at = max(count // 2, 1)
        cluster_s, by_cluster = _timed(
            jobs, crew, when_done=lambda done: running.workers[0].kill() if done == kill_at else None
        )
        crew.close()
    cluster_cores_s = (_cores_s() - began_s) / count
    same = sum(here == there for here, there in zip(by_pool, by_cluster, strict=True))
    there = sum(each.startswith("(Strand(") for each in by_cluster)
    if min(same, there) < count:
        sys.exit(f"of {count} results {there} are there, and {same} are the same")
    times = f"{pool_s:10.1f} {pool_cores_s:7.2f} {cluster_s:9.1f} {cluster_cores_s:7.2f} {kept_s:7.2f}"
    return f"{count:7} {times}  all there, all the same"


def _cores_s() -> float:
    """Return the time that all processes took which were started here and have ended."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return ended.ru_utime + ended.ru_stime


def _timed(
    jobs: Sequence[Job],
    crew: Crew,
    *,
    kept: Kept | None = None,
    when_done: Callable[[int], None] | None = None,
) -> tuple[float, list[str]]:
    """Measure photos; return the seconds that took, and each result as a text with all its digits."""
    found: dict[int, Measured | str] = {}
    began = time.perf_counter()
    for i, outcome in run(jobs, crew, kept=kept):
        found[i] = outcome
        if when_done:
            when_done(len(found))
    took_s = time.perf_counter() - began
    return took_s, [said([found[i]])[0] for i in range(len(jobs))]


if __name__ == "__main__":
    main()
