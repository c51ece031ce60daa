"""`strandgauge strand`: measures a strand and says how many beads to add or remove."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sizing.base.files import write_whole
from sizing.base.measured_sheets import CheckReading, reading_for
from sizing.cli.corrections import NUMBERS_BEFORE, Typed, corrected_strands, strand_correction_options
from sizing.cli.files import FileCommand
from sizing.cli.keeping import keep_if_asked
from sizing.cli.options import Aim, aim_options
from sizing.cli.photo_options import (
    Outputs,
    Scale,
    message_if_slow,
    output_options,
    scale_options,
)

if TYPE_CHECKING:
    from sizing.strand.planned import Planned
    from sizing.strand.sized import SizedStrand
    from vision.common.records import ImageArray, Photo, Strand

_EPILOG = """
\b
Examples:
  strandgauge strand anklet.jpg
  strandgauge strand anklet.jpg --finished 25cm --findings 22mm
  strandgauge strand bracelet.jpg --wrist "6 1/2 in" --annotated marked.jpg
  strandgauge strand bracelet.jpg --strung 6.5in --check-length 272.4mm --json
  strandgauge strand bracelet.jpg --wrist 6.5in --report bracelet.html
  strandgauge strand bracelet.jpg --stopper 1,29 --size-of 3=7.9mm

Put the beads on a wire or a rod between stoppers, touching each other if you can, and lay it on the
printed sheet. Photograph it from straight above with the whole sheet in the picture. Without a target
(--strung, --finished, --wrist, --ankle, --neck or --piece) the strand is only measured. Several strands
may lie there; a finished piece lies closed, its clasp hooked, and its inside is measured too.
"""


@click.command(cls=FileCommand, epilog=_EPILOG + NUMBERS_BEFORE)
@click.argument("photo", type=click.Path(path_type=Path))
@aim_options
@strand_correction_options
@scale_options
@output_options
def strand(
    photo: Path,
    *,
    aim: Aim,
    corrections: Sequence[Typed],
    scale: Scale,
    outputs: Outputs,
) -> None:
    """Measure the strands in PHOTO: the size of each bead, the strung length, beads to add or remove."""
    with message_if_slow(f"Measuring {photo} ..."):
        from vision.image.photo import load_photo

        picture = load_photo(photo)
        measured = corrected_strands(_measured(picture, scale), corrections, picture)
    # What the reports need is imported after the photo is measured: nobody waits for it before.
    from sizing.report.records.output import to_json
    from sizing.report.records.strand import strand_record
    from sizing.strand.sized import size_strands

    sized = size_strands(measured, aim.target, planned=_planned(aim, measured))
    record = strand_record(sized)
    _write_files(picture, sized, outputs)
    keep_if_asked(outputs.keep_name, record, picture=lambda: picture.rgb)
    if outputs.as_json:
        click.echo(to_json(record), nl=False)
        return
    from sizing.report.text.strand import strand_text

    click.echo(strand_text(sized), nl=False)


def _planned(aim: Aim, measured: "Sequence[Strand]") -> "Planned | None":
    """Return the plan to compare a finished piece with; None where there is no plan, or no such piece."""
    closed = any(strand.loop for strand in measured)
    if not closed or not aim.target:
        return None
    from sizing.piece.fit import planned_loop

    return planned_loop(aim.piece, aim.target)


def _measured(photo: "Photo", scale: Scale) -> "list[Strand]":
    from vision.measure import measure_strands

    typed = CheckReading(length_mm=scale.check_length_mm, u_mm=scale.check_length_u_mm)
    reading = reading_for(photo, typed, remembered=scale.remembered)
    measured = measure_strands(
        photo,
        check_length_mm=reading.length_mm,
        check_length_u_mm=reading.u_mm,
        bed_height_mm=scale.bed_height_mm,
    )
    return [replace(strand, conditions=reading.noted(strand.conditions)) for strand in measured]


def _write_files(photo: "Photo", sized: "Sequence[SizedStrand]", outputs: Outputs) -> None:
    if outputs.csv_file:
        from sizing.report.records.output import to_csv
        from sizing.report.records.strand import strand_rows

        write_whole(outputs.csv_file, to_csv(strand_rows(sized)))
    if not (outputs.annotated_file or outputs.report_file):
        return
    marked = _annotated(photo, sized)
    if outputs.annotated_file:
        from vision.image.photo import encode_image

        write_whole(outputs.annotated_file, encode_image(marked, outputs.annotated_file.suffix))
    if outputs.report_file:
        write_whole(outputs.report_file, _page(photo, sized, marked))


def _annotated(photo: "Photo", sized: "Sequence[SizedStrand]") -> "ImageArray":
    from sizing.report.sentences.loop import length_marked
    from vision.marks.annotate import annotate_strands

    strands = [each.strand for each in sized]
    return annotate_strands(photo, strands, length_texts=[length_marked(strand) for strand in strands])


def _page(photo: "Photo", sized: "Sequence[SizedStrand]", marked: "ImageArray") -> str:
    from sizing.report.html.photo import cut_to_marks, pictures
    from sizing.report.html.strand import strand_alt, strand_page

    [picture] = pictures([cut_to_marks(photo.rgb, marked)], [(strand_alt(sized), "")])
    return strand_page(sized, picture=picture)
