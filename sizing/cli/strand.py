"""`strandgauge strand`: measures a strand and says how many beads to add or remove."""

from dataclasses import dataclass, replace
from pathlib import Path

import click

from sizing.base.files import write_whole
from sizing.base.measured_sheets import CheckReading, reading_for
from sizing.base.target import Target
from sizing.cli.files import FileCommand
from sizing.cli.options import target_options
from sizing.cli.photo_options import (
    Outputs,
    Scale,
    message_if_slow,
    output_options,
    scale_options,
)
from sizing.report.records.output import to_csv, to_json
from sizing.report.records.strand import strand_record, strand_rows
from sizing.report.sentences.count import length_said
from sizing.report.text.strand import strand_text
from sizing.strand.advice import Advice, advise
from vision.common.records import ImageArray, Photo, Strand
from vision.image.photo import encode_image, load_photo
from vision.measure import measure_strand

_EPILOG = """
\b
Examples:
  strandgauge strand anklet.jpg
  strandgauge strand anklet.jpg --finished 25cm --findings 22mm
  strandgauge strand bracelet.jpg --wrist "6 1/2 in" --annotated marked.jpg
  strandgauge strand bracelet.jpg --strung 6.5in --check-length 272.4mm --json
  strandgauge strand bracelet.jpg --wrist 6.5in --report bracelet.html

Put the beads on a wire or a rod between stoppers, touching each other if you can, and lay it on the
printed sheet. Photograph it from straight above with the whole sheet in the picture. Without a target
(--strung, --finished, --wrist, --ankle, --neck or --piece) the strand is only measured.
"""


@click.command(cls=FileCommand, epilog=_EPILOG)
@click.argument("photo", type=click.Path(path_type=Path))
@target_options
@scale_options
@output_options
def strand(photo: Path, *, target: Target | None, scale: Scale, outputs: Outputs) -> None:
    """Measure the strand in PHOTO: the size of each bead, the strung length, beads to add or remove."""
    with message_if_slow(f"Measuring {photo} ..."):
        picture = load_photo(photo)
        measured = _measured(picture, scale)
    advice = advise(measured, target) if target else None
    _write_files(_Result(photo=picture, strand=measured, advice=advice), outputs)
    text = to_json(strand_record(measured, advice)) if outputs.as_json else strand_text(measured, advice)
    click.echo(text, nl=False)


def _measured(photo: Photo, scale: Scale) -> Strand:
    typed = CheckReading(length_mm=scale.check_length_mm, u_mm=scale.check_length_u_mm)
    reading = reading_for(photo, typed, remembered=scale.remembered)
    measured = measure_strand(
        photo,
        check_length_mm=reading.length_mm,
        check_length_u_mm=reading.u_mm,
        bed_height_mm=scale.bed_height_mm,
    )
    return replace(measured, conditions=reading.noted(measured.conditions))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Result:
    """A photo, the strand on it and the advice for it."""

    photo: Photo
    strand: Strand
    advice: Advice | None


def _write_files(result: _Result, outputs: Outputs) -> None:
    if outputs.csv_file:
        write_whole(outputs.csv_file, to_csv(strand_rows(result.strand)))
    if not (outputs.annotated_file or outputs.report_file):
        return
    marked = _annotated(result)
    if outputs.annotated_file:
        write_whole(outputs.annotated_file, encode_image(marked, outputs.annotated_file.suffix))
    if outputs.report_file:
        write_whole(outputs.report_file, _page(result, marked))


def _annotated(result: _Result) -> ImageArray:
    from vision.marks.annotate import annotate_strand  # noqa: PLC0415 - takes its time to import

    return annotate_strand(result.photo, result.strand, length_text=length_said(result.strand))


def _page(result: _Result, marked: ImageArray) -> str:
    from sizing.report.html.photo import cut_to_marks, pictures  # noqa: PLC0415 - takes its time to import
    from sizing.report.html.strand import strand_alt, strand_page  # noqa: PLC0415

    [picture] = pictures([cut_to_marks(result.photo.rgb, marked)], [(strand_alt(result.strand), "")])
    return strand_page(result.strand, result.advice, picture=picture)
