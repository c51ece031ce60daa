"""`strandgauge strand`: measures a loaded strand and says what to add or remove."""

from pathlib import Path

import click

from sizing.base.files import write_whole
from sizing.base.target import Target
from sizing.base.units import format_length
from sizing.cli.options import target_options
from sizing.cli.photo_options import Outputs, Scale, output_options, patience, scale_options
from sizing.report.records.output import to_csv, to_json
from sizing.report.records.strand import strand_record, strand_rows
from sizing.report.text.strand import strand_text
from sizing.strand.advice import Advice, advise
from vision.common.records import Photo, Strand
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

Load the beads on a wire or a rod with stoppers, touching if you can, lay it on the printed sheet and
photograph it from straight above, the whole sheet in the picture. Without a target the strand is
only measured.
"""


@click.command(epilog=_EPILOG)
@click.argument("photo", type=click.Path(path_type=Path))
@target_options
@scale_options
@output_options
def strand(photo: Path, *, target: Target | None, scale: Scale, outputs: Outputs) -> None:
    """Measure the strand in PHOTO: each bead's size, the strung length, and what to add or remove."""
    _keep_photo(photo, outputs)
    with patience(f"Measuring {photo} ..."):
        picture = load_photo(photo)
        measured = measure_strand(
            picture,
            check_length_mm=scale.check_length_mm,
            check_length_u_mm=scale.check_length_u_mm,
            bed_height_mm=scale.bed_height_mm,
        )
    advice = advise(measured, target) if target else None
    _write_files(picture, measured, advice, outputs)
    text = to_json(strand_record(measured, advice)) if outputs.as_json else strand_text(measured, advice)
    click.echo(text, nl=False)


def _keep_photo(photo: Path, outputs: Outputs) -> None:
    """Refuse an output file that would take the photo's place."""
    for file in (outputs.csv_file, outputs.annotated_file, outputs.report_file):
        if file and file.resolve() == photo.resolve():
            raise click.UsageError(f"{file} is the photo itself: give the output another name")


def _write_files(picture: Photo, measured: Strand, advice: Advice | None, outputs: Outputs) -> None:
    if outputs.csv_file:
        write_whole(outputs.csv_file, to_csv(strand_rows(measured)))
    if not (outputs.annotated_file or outputs.report_file):
        return
    from vision.marks.annotate import annotate_strand  # noqa: PLC0415  (what draws takes its time to import)

    length = format_length(measured.length_mm, measured.length_u95_mm)
    marked = annotate_strand(picture, measured, length_text=length)
    if outputs.annotated_file:
        write_whole(outputs.annotated_file, encode_image(marked, outputs.annotated_file.suffix))
    if outputs.report_file:
        # so does what fills pages
        from sizing.report.html.photo import cut_to_marks, pictures  # noqa: PLC0415
        from sizing.report.html.strand import strand_alt, strand_page  # noqa: PLC0415

        [shown] = pictures([cut_to_marks(picture.rgb, marked)], [(strand_alt(measured), "")])
        write_whole(outputs.report_file, strand_page(measured, advice, picture=shown))
