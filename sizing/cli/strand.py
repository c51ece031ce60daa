"""`strandgauge strand`: measures a strand and says how many beads to add or remove."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sizing.base.files import write_whole
from sizing.cli.corrections import NUMBERS_BEFORE, Typed, corrected_strands, strand_correction_options
from sizing.cli.files import FileCommand
from sizing.cli.keeping import keep_if_asked
from sizing.cli.many import MANY_PHOTOS, Many, handfuls_of, many_options, photos_argument, progress
from sizing.cli.options import Aim, aim_options
from sizing.cli.photo_options import Outputs, Scale, output_options, scale_options

if TYPE_CHECKING:
    from sizing.lot.handfuls import Handful
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
  strandgauge strand three-strands.jpg --wrist 6.5in --step touching
  strandgauge strand show-table/ --csv strands.csv

Put the beads on a wire or a rod between stoppers, touching each other if you can, and lay it on the
printed sheet. Photograph it from straight above with the whole sheet in the picture. Without a target
(--strung, --finished, --wrist, --ankle, --neck or --piece) the strand is only measured. Several strands
may lie there, all for one length, or with --step for one piece in which they lie one around the other.
A finished piece lies closed, its clasp hooked, and its inside is measured too.

Several photos are answered one after the other, with --json in a line of JSON each.
"""


@click.command(cls=FileCommand, epilog=_EPILOG + MANY_PHOTOS + NUMBERS_BEFORE)
@photos_argument
@aim_options
@strand_correction_options
@scale_options
@output_options
@many_options
def strand(
    photos: tuple[Path, ...],
    *,
    aim: Aim,
    corrections: Sequence[Typed],
    scale: Scale,
    outputs: Outputs,
    many: Many,
) -> None:
    """Measure the strands in PHOTO: the size of each bead, the strung length, beads to add or remove."""
    handfuls = handfuls_of(photos, scale)
    if len(handfuls) > 1:
        _refuse_what_is_of_one_photo(corrections, outputs)
        from sizing.cli.strands import answer_each

        answer_each(handfuls, many, outputs, lambda strands: size(aim, strands))
        return
    [handful] = handfuls
    with progress(photos):
        from vision.image.photo import load_photo

        picture = load_photo(handful.path)
        measured = corrected_strands(_measured(picture, handful, many), corrections, picture)
    # What the reports need is imported after the photo is measured: nobody waits for it before.
    from sizing.report.records.output import to_json
    from sizing.report.records.strand import strand_record

    sized = size(aim, measured)
    record = strand_record(sized)
    _write_files(picture, sized, outputs)
    keep_if_asked(outputs.keep_name, record, picture=lambda: picture.rgb)
    if outputs.as_json:
        click.echo(to_json(record), nl=False)
        return
    from sizing.report.text.strand import strand_text

    click.echo(strand_text(sized), nl=False)


def size(aim: Aim, measured: "Sequence[Strand]") -> "tuple[SizedStrand, ...]":
    """Return measured strands with what their target demands."""
    from sizing.strand.sized import size_strands

    return tuple(size_strands(measured, aim.target, planned=_planned(aim, measured)))


def annotated(photo: "Photo", sized: "Sequence[SizedStrand]") -> "ImageArray":
    """Return a photo with its strands drawn on it, shape (H, W, 3)."""
    from sizing.report.sentences.loop import length_marked
    from vision.marks.annotate import annotate_strands

    strands = [each.strand for each in sized]
    return annotate_strands(photo, strands, length_texts=[length_marked(strand) for strand in strands])


def _refuse_what_is_of_one_photo(corrections: Sequence[Typed], outputs: Outputs) -> None:
    """Refuse what says something of one photo, or makes one thing of it, where there are several."""
    given = {
        "a correction": corrections,
        "--report": outputs.report_file,
        "--keep": outputs.keep_name,
    }
    for name, value in given.items():
        if value:
            raise click.UsageError(f"{name} is for one photo: give the photo that it is for alone")


def _planned(aim: Aim, measured: "Sequence[Strand]") -> "Planned | None":
    """Return the plan to compare a finished piece with; None where there is no plan, or no such piece."""
    closed = any(strand.loop for strand in measured)
    if not closed or not aim.target:
        return None
    from sizing.piece.fit import planned_loop

    return planned_loop(aim.piece, aim.target)


def _measured(photo: "Photo", handful: "Handful", many: Many) -> "tuple[Strand, ...]":
    from sizing.batch.job import Job, measured_on, strands_of

    job = Job(handful=handful, what="strand")
    if many.cluster is None:
        return strands_of(measured_on(photo, job))
    from sizing.batch.run import only

    return strands_of(only(job, many.crew(1)))


def _write_files(photo: "Photo", sized: "Sequence[SizedStrand]", outputs: Outputs) -> None:
    if outputs.csv_file:
        from sizing.report.records.output import to_csv
        from sizing.report.records.strand import strand_rows

        write_whole(outputs.csv_file, to_csv(strand_rows(sized)))
    if not (outputs.annotated_file or outputs.report_file):
        return
    marked = annotated(photo, sized)
    if outputs.annotated_file:
        from vision.image.photo import encode_image

        write_whole(outputs.annotated_file, encode_image(marked, outputs.annotated_file.suffix))
    if outputs.report_file:
        write_whole(outputs.report_file, _page(photo, sized, marked))


def _page(photo: "Photo", sized: "Sequence[SizedStrand]", marked: "ImageArray") -> str:
    from sizing.report.html.photo import cut_to_marks, pictures
    from sizing.report.html.strand import strand_alt, strand_page

    [picture] = pictures([cut_to_marks(photo.rgb, marked)], [(strand_alt(sized), "")])
    return strand_page(sized, picture=picture)
