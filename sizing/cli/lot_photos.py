"""What `lot` and `check` share: photos on the command line, a bar while they are measured, marked copies."""

import functools
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sizing.cli.options import Command
from sizing.cli.photo_options import Outputs, Scale, patience, scale_options
from sizing.lot.bead_names import letters_for, photo_letters
from sizing.lot.handfuls import Handful, measure_handfuls, photo_names
from sizing.lot.marking import Marking
from vision.common.records import ImageArray, Lot, Photo

if TYPE_CHECKING:
    from sizing.report.html.page import Picture


def handful_options(command: Command) -> Command:
    """Add the photos and the options about them; the command receives them as `handfuls`."""

    @click.argument("photos", type=click.Path(path_type=Path), nargs=-1, required=True, metavar="PHOTO...")
    @click.option(
        "--flat/--round",
        default=None,
        help="Measure flat pieces (coins, discs) or rounds; otherwise the photos decide.",
    )
    @scale_options
    @functools.wraps(command)
    def with_handfuls(
        *args: Any,  # noqa: ANN401 - passed through
        photos: tuple[Path, ...],
        flat: bool | None,
        scale: Scale,
        **kwargs: Any,  # noqa: ANN401 - passed through
    ) -> Any:  # noqa: ANN401 - passed through
        return command(*args, handfuls=_handfuls(photos, flat=flat, scale=scale), **kwargs)

    return with_handfuls


def _handfuls(photos: Sequence[Path], *, flat: bool | None, scale: Scale) -> list[Handful]:
    return [
        Handful(
            path=path,
            name=name,
            check_length_mm=scale.check_length_mm,
            check_length_u_mm=scale.check_length_u_mm,
            bed_height_mm=scale.bed_height_mm,
            flat=flat,
        )
        for path, name in zip(photos, photo_names(photos), strict=True)
    ]


def keep_photos(handfuls: Sequence[Handful], outputs: Outputs) -> None:
    """Refuse an output file that would take a photo's place.

    Raises
    ------
    click.UsageError
    """
    photos = {handful.path.resolve() for handful in handfuls}
    letters = letters_for([handful.name for handful in handfuls]).values()
    files = [file for file in (outputs.csv_file, outputs.report_file) if file]
    if outputs.annotated_file:
        files += [_copy_path(outputs.annotated_file, letter) for letter in letters or [None]]
    for file in files:
        if file.resolve() in photos:
            raise click.UsageError(f"{file} is one of the photos: give the output another name")


def measure(handfuls: Sequence[Handful]) -> Lot:
    """Measure the photos of a lot, with a bar on a terminal where there are several.

    Raises
    ------
    PhotoError
        Photos that cannot be measured, a line each.
    """
    if len(handfuls) == 1:
        with patience(f"Measuring {handfuls[0].path} ..."):
            return measure_handfuls(handfuls)
    hidden = not sys.stderr.isatty()
    label = f"Measuring {len(handfuls)} photos"
    with click.progressbar(length=len(handfuls), label=label, file=sys.stderr, hidden=hidden) as bar:
        return measure_handfuls(handfuls, progress=functools.partial(bar.update, 1))


def marked_copies(
    handfuls: Sequence[Handful], lot: Lot, marking: Marking, path: Path
) -> list[tuple[Path, bytes]]:
    """Return the annotated photos and where to write them.

    One photo's copy goes to the path given; of several, each goes beside it with the photo's letter
    in the name: `marked-A.jpg`, `marked-B.jpg` for `marked.jpg`.
    """
    from vision.image.photo import encode_image  # noqa: PLC0415 - draws only where asked to

    letters = photo_letters(lot)
    return [
        (_copy_path(path, letters.get(photo.name)), encode_image(marked, path.suffix))
        for photo, marked in _marked(handfuls, lot, marking)
    ]


def page_pictures(handfuls: Sequence[Handful], lot: Lot, marking: Marking) -> "list[Picture]":
    """Return the annotated photos as a page shows them."""
    from sizing.report.html.lot_sections import lot_texts  # noqa: PLC0415 - draws only where asked to
    from sizing.report.html.photo import cut_to_marks, pictures  # noqa: PLC0415

    cuts = (cut_to_marks(photo.rgb, marked) for photo, marked in _marked(handfuls, lot, marking))
    return pictures(cuts, lot_texts(lot))


def _marked(handfuls: Sequence[Handful], lot: Lot, marking: Marking) -> Iterator[tuple[Photo, ImageArray]]:
    """Yield each photo, named as its handful, and its annotated copy."""
    from vision.image.photo import load_photo  # noqa: PLC0415
    from vision.marks.annotate import annotate_lot  # noqa: PLC0415 - draws only where asked to

    for handful in handfuls:
        photo = replace(load_photo(handful.path), name=handful.name)
        beads = [bead for bead in lot.beads if bead.photo == handful.name]
        colours = [marking.colour_of[bead.photo, bead.number] for bead in beads]
        yield photo, annotate_lot(photo, beads, colours=colours, legend=marking.legend)


def _copy_path(path: Path, letter: str | None) -> Path:
    """Return where the copy of a lettered photo goes."""
    return path.with_stem(f"{path.stem}-{letter}") if letter else path
