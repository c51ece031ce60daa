"""The strands of many photos: each photo is answered as soon as it, and all before it, are measured."""

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sizing.base.files import write_whole
from sizing.batch.job import Job, Measured, strands_of
from sizing.batch.run import run
from sizing.cli.files import copy_paths
from sizing.cli.many import Many, progress
from sizing.cli.photo_options import Outputs
from sizing.cli.strand import annotated
from sizing.lot.handfuls import Handful, complaint, with_name
from sizing.report.records.output import to_csv, to_json_line
from sizing.report.records.photo import left_out_record
from sizing.report.records.strand import strand_record, strand_rows
from sizing.report.text.strand import strand_text
from sizing.strand.sized import SizedStrand
from vision.common.errors import PhotoError
from vision.common.records import LeftOut, Strand

if TYPE_CHECKING:
    from sizing.report.records.field import Record

Size = Callable[[tuple[Strand, ...]], tuple[SizedStrand, ...]]
_CLEAR_LINE = "\r\x1b[K"


def answer_each(handfuls: Sequence[Handful], many: Many, outputs: Outputs, size: Size) -> None:
    """Measure the strands of many photos, and print and write what they are.

    Raises
    ------
    PhotoError
        Some cannot be measured: after all others are answered.
    """
    crew, kept = many.crew(len(handfuls)), many.kept(len(handfuls))
    copies = copy_paths([h.path for h in handfuls], outputs.annotated_file) if outputs.annotated_file else {}
    jobs = [Job(handful=handful, what="strand") for handful in handfuls]
    left_out: list[LeftOut] = []
    rows: list[Record] = []
    with progress([handful.path for handful in handfuls]) as done:
        for handful, outcome in zip(handfuls, _in_order(run(jobs, crew, kept=kept), done), strict=True):
            if isinstance(outcome, str):
                missing = LeftOut(photo=handful.name, reason=with_name(handful.name, outcome))
                left_out.append(missing)
                _print_missing(missing, outputs)
                continue
            sized = size(strands_of(outcome))
            rows += strand_rows(sized)
            if copies:
                _write_copy(handful, sized, copies[handful.name])
            _print(handful, sized, outputs)
    if kept:
        kept.trim()
    if outputs.csv_file and rows:
        write_whole(outputs.csv_file, to_csv(rows))
    if left_out:
        raise PhotoError(complaint([each.reason for each in left_out], len(handfuls)))


def _in_order(
    outcomes: Iterable[tuple[int, Measured | str]], done: Callable[[], None]
) -> Iterator[Measured | str]:
    """Yield outcomes in the order of their photos, each as soon as those before it are there."""
    waiting: dict[int, Measured | str] = {}
    following = 0
    for i, outcome in outcomes:
        done()
        waiting[i] = outcome
        while following in waiting:
            yield waiting.pop(following)
            following += 1


def _print(handful: Handful, sized: tuple[SizedStrand, ...], outputs: Outputs) -> None:
    _make_room()
    if outputs.as_json:
        click.echo(to_json_line(strand_record(sized)), nl=False)
    else:
        click.echo(f"{handful.name}\n\n{strand_text(sized)}")


def _print_missing(missing: LeftOut, outputs: Outputs) -> None:
    _make_room()
    if outputs.as_json:
        click.echo(to_json_line(left_out_record("strand", missing)), nl=False)
    else:
        click.echo(f"{missing.photo}\n\nLeft out: {missing.reason}\n")


def _make_room() -> None:
    """Take the progress bar off a terminal's line; it comes back with the next photo."""
    if sys.stderr.isatty():
        click.echo(_CLEAR_LINE, nl=False, err=True)


def _write_copy(handful: Handful, sized: Sequence[SizedStrand], path: Path) -> None:
    from vision.image.photo import encode_image, load_photo

    photo = replace(load_photo(handful.path), name=handful.name)
    write_whole(path, encode_image(annotated(photo, sized), path.suffix))
