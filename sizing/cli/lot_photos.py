"""What `lot` and `check` share: photos as arguments, measuring with a progress bar, files to write."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sizing.base.files import write_whole
from sizing.cli.files import named_copies
from sizing.cli.many import Many, handfuls_of, photos_argument, progress
from sizing.cli.options import gather
from sizing.cli.photo_options import Outputs, Scale, scale_options
from sizing.lot.handfuls import Handful, complaint, with_name
from sizing.lot.marking import Marking
from vision.common.errors import PhotoError
from vision.common.records import ImageArray, Lot, Photo

if TYPE_CHECKING:
    from sizing.report.html.page import Picture


def _handfuls(*, photos: Sequence[Path], flat: bool | None, scale: Scale) -> tuple[Handful, ...]:
    return handfuls_of(photos, scale, flat=flat)


handful_options = gather(
    "handfuls",
    _handfuls,
    photos_argument,
    click.option(
        "--flat/--round",
        default=None,
        help="Pieces are flat (coins, discs), or round; if not given, the photos decide.",
    ),
    scale_options,
)
"""The photos and options about them; the command receives them as `handfuls`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedLot:
    """A lot, its photos, and how its beads are to be coloured on them."""

    handfuls: Sequence[Handful]
    lot: Lot
    marking: Marking


def measure(handfuls: Sequence[Handful], many: Many) -> Lot:
    """Measure the photos of a lot; those that cannot be measured are left out, and the lot names them.

    Raises
    ------
    PhotoError
        No photo can be measured; the message names each, with the reason.
    """
    from sizing.batch.lots import measure_handfuls

    crew, kept = many.crew(len(handfuls)), many.kept(len(handfuls))
    with progress([handful.path for handful in handfuls]) as done:
        lot = measure_handfuls(handfuls, crew, progress=done, kept=kept)
    if kept:
        kept.trim()
    return lot


def measured_ones(handfuls: Sequence[Handful], lot: Lot) -> list[Handful]:
    """Return the handfuls that a lot holds."""
    left_out = {each.photo for each in lot.left_out}
    return [handful for handful in handfuls if handful.name not in left_out]


def tell_left_out(lot: Lot) -> None:
    """End with the message and exit code of a photo that cannot be measured, where there is one.

    Raises
    ------
    PhotoError
    """
    if lot.left_out:
        reasons = [with_name(each.photo, each.reason) for each in lot.left_out]
        raise PhotoError(complaint(reasons, len(lot.left_out) + len(lot.conditions)))


def write_files(
    marked: MarkedLot,
    outputs: Outputs,
    *,
    table: Callable[[], str],
    page: Callable[[list["Picture"]], str],
) -> None:
    """Write the files that were asked for.

    Parameters
    ----------
    table, page : callable, keyword-only
        Make the CSV table, and the HTML page from its pictures; called only for a file asked for.
    """
    # Drawn before anything is written: a photo that has disappeared leaves no half of the files.
    copies = _marked_copies(marked, outputs.annotated_file) if outputs.annotated_file else []
    if outputs.csv_file:
        write_whole(outputs.csv_file, table())
    for path, content in copies:
        write_whole(path, content)
    if outputs.report_file:
        write_whole(outputs.report_file, page(_page_pictures(marked)))


def first_photo(handfuls: Sequence[Handful]) -> ImageArray:
    """Return the pixels of the first photo of a lot, shape (H, W, 3)."""
    from vision.image.photo import load_photo

    return load_photo(handfuls[0].path).rgb


def _marked_copies(marked: MarkedLot, path: Path) -> list[tuple[Path, bytes]]:
    """Return the annotated photos, encoded, and where to write them."""
    from vision.image.photo import encode_image

    paths = named_copies(marked.lot.photos, path)
    return [(paths[photo.name], encode_image(copy, path.suffix)) for photo, copy in _annotated(marked)]


def _page_pictures(marked: MarkedLot) -> "list[Picture]":
    """Return the annotated photos as an HTML page shows them."""
    from sizing.report.html.lot_sections import lot_texts
    from sizing.report.html.photo import cut_to_marks, pictures

    cuts = (cut_to_marks(photo.rgb, copy) for photo, copy in _annotated(marked))
    return pictures(cuts, lot_texts(marked.lot))


def _annotated(marked: MarkedLot) -> Iterator[tuple[Photo, ImageArray]]:
    """Yield each photo, named as its handful, and its annotated copy."""
    from vision.image.photo import load_photo
    from vision.marks.annotate import annotate_lot

    for handful in marked.handfuls:
        photo = replace(load_photo(handful.path), name=handful.name)
        beads = [bead for bead in marked.lot.beads if bead.photo == handful.name]
        colours = [marked.marking.colour_of[bead.photo, bead.number] for bead in beads]
        said = [each for each in marked.lot.corrections if each.photo == handful.name]
        others = [each for each in marked.lot.others if each.photo == handful.name]
        legend = marked.marking.legend
        yield (
            photo,
            annotate_lot(photo, beads, colours=colours, legend=legend, corrections=said, others=others),
        )
