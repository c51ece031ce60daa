"""Spoils photos of known truth in many ways and tells what the answers are worth.

    python -m tests.perturbed PHOTOS [--only TEXT] [--family TEXT] [--jobs 2]

PHOTOS is a folder with NAME.jpg and its truth NAME.json, as `sample_images`. An answer is right; wrong but
flagged as unsure; refused; or wrong and silent: the count, the length outside its stated uncertainty, or more
than 15 % of the sizes outside theirs. Each silent answer is a line, then a table by family is printed.
"""

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from tests.perturbed.case import Case, Way, read_case
from tests.perturbed.verdict import KINDS, Verdict, judged
from tests.perturbed.ways import FAMILIES

Row = tuple[str, str, str, Verdict]
"""Photo, family, way, verdict."""


def chosen_ways(text: str) -> Iterator[tuple[str, str, Way]]:
    """Yield (family, name, way) of all ways in whose family or name a text stands."""
    for family, ways in FAMILIES.items():
        for name, way in ways.items():
            if text in f"{family}: {name}":
                yield family, name, way


def rows(given: argparse.Namespace) -> Iterator[Row]:
    """Yield what became of each photo and way that suits it; one photo at a time is held in memory."""
    paths = [path for path in sorted(given.photos.glob("*.jpg")) if given.only in path.stem]
    with ThreadPoolExecutor(given.jobs) as pool:
        for path in [path for path in paths if path.with_suffix(".json").exists()]:
            case = read_case(path)
            if case is not None:
                yield from filter(None, pool.map(partial(_row, case), chosen_ways(given.family)))


def _row(case: Case, chosen: tuple[str, str, Way]) -> Row | None:
    family, name, way = chosen
    spoilt = way(case)
    return None if spoilt is None else (case.name, family, name, judged(spoilt))


def table(seen: list[Row]) -> str:
    """Return how many answers of each family are of each kind, and the share of silent ones."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for _, family, _, verdict in seen:
        for name in (family, "all"):
            counts[name][verdict.kind] += 1
    lines = [f"{'':16}" + "".join(f"{head:>9}" for head in ("runs", *KINDS)) + f"{'silent':>9}"]
    for family in [family for family in (*FAMILIES, "all") if family in counts]:
        runs = counts[family].total()
        numbers = "".join(f"{number:>9}" for number in (runs, *(counts[family][kind] for kind in KINDS)))
        lines.append(f"{family:16}{numbers}{counts[family]['silent'] / runs:>8.0%} ")
    return "\n".join(lines)


def main() -> int:
    """Run what was asked for; 1 if an answer was silent or broken."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("photos", type=Path)
    parser.add_argument("--only", default="", metavar="TEXT", help="photos whose name holds this")
    parser.add_argument("--family", default="", metavar="TEXT", help="families or ways that hold this")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--all", action="store_true", help="a line for every answer")
    given = parser.parse_args()
    seen = []
    for row in rows(given):
        photo, family, name, verdict = row
        seen.append(row)
        if given.all or verdict.kind in {"silent", "broken"}:
            print(f"{verdict.kind}: {photo}, {family}: {name}: {verdict.why}", flush=True)
    print(table(seen))
    return int(any(verdict.kind in {"silent", "broken"} for *_, verdict in seen))


if __name__ == "__main__":
    sys.exit(main())
