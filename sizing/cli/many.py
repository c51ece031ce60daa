"""What the commands for photos share where there are many: folders, who measures, progress, what is kept."""

import contextlib
import functools
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sizing.base.errors import SizingError
from sizing.cli.files import MARKED_COPY
from sizing.cli.options import gather
from sizing.cli.photo_options import Scale, message_if_slow
from sizing.lot.handfuls import Handful, photo_names

if TYPE_CHECKING:
    from sizing.batch.crew import Crew
    from sizing.batch.kept import Kept

_PHOTO_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".hif"}
)  # of what `vision.image.photo` reads
_HEAD_BYTES = 4096  # of a photo: a marked copy shows itself here

MANY_PHOTOS = """
\b
Many photos:
  Name a folder for all photos in it. They are measured side by side, as many at once as this computer can.
  A photo that cannot be measured is named and left out. What was measured is kept: after Ctrl-C, or with
  more photos, the same command measures only what is new or changed.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Many:
    """How many photos are to be measured.

    Attributes
    ----------
    cluster : str or None
        Address of other computers that do it.
    anew : bool
        Neither use nor keep what was measured before.
    """

    cluster: str | None
    anew: bool

    def crew(self, photos: int) -> "Crew":
        """Return who measures so many photos, until the command ends.

        Raises
        ------
        SizingError
            The cluster does not answer.
        """
        from sizing.batch.crew import Processes, ThisProcess
        from sizing.batch.room import workers_for

        if self.cluster is not None:
            from sizing.batch.cluster import Cluster

            return click.get_current_context().with_resource(contextlib.closing(Cluster(self.cluster)))
        workers = workers_for(photos)
        return ThisProcess() if workers < 2 else Processes(workers)

    def kept(self, photos: int) -> "Kept | None":
        """Return what was measured before; a single photo is always measured."""
        from sizing.batch.kept import Kept, cache_folder

        return None if self.anew or photos < 2 else Kept(cache_folder())


cluster_option = click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Let other computers measure: address of a Dask scheduler, as tcp://192.168.1.20:8786.",
)

many_options = gather(
    "many",
    Many,
    click.option(
        "--anew",
        is_flag=True,
        help="Measure all of several photos, and neither use nor keep earlier results.",
    ),
    cluster_option,
)
"""Options about many photos; the command receives them as one `many`, a Many."""


def _with_folders(_: click.Context, __: click.Parameter, paths: tuple[Path, ...]) -> tuple[Path, ...]:
    """Put the photos in it in the place of each folder.

    Raises
    ------
    SizingError
        A folder holds no photo.
    """
    found: list[Path] = []
    for path in paths:
        # pathlib's own test raises an error for a name that is too long.
        found += _photos_in(path) if os.path.isdir(path) else [path]  # noqa: PTH112
    return tuple(found)


photos_argument = click.argument(
    "photos",
    type=click.Path(readable=False, path_type=Path),  # opening says it, and leaves out that photo alone
    nargs=-1,
    required=True,
    metavar="PHOTO...",
    callback=_with_folders,
)
"""Photos and folders of photos; the command receives the photos as `photos`."""


def handfuls_of(photos: Sequence[Path], scale: Scale, *, flat: bool | None = None) -> tuple[Handful, ...]:
    """Return each photo with what was said about its sheet.

    Raises
    ------
    SizingError
        A photo is given twice.
    """
    return tuple(
        Handful(
            path=path,
            name=name,
            check_length_mm=scale.check_length_mm,
            check_length_u_mm=scale.check_length_u_mm,
            bed_height_mm=scale.bed_height_mm,
            remembered=scale.remembered,
            flat=flat,
        )
        for path, name in zip(photos, photo_names(photos), strict=True)
    )


@contextlib.contextmanager
def progress(photos: Sequence[Path]) -> Iterator[Callable[[], None]]:
    """Show on a terminal how far many photos are, and the time left; call what is given after each."""
    hidden = not sys.stderr.isatty()
    if len(photos) == 1:
        with message_if_slow(f"Measuring {photos[0]} ..."):
            yield lambda: None
        return
    label = f"Measuring {len(photos)} photos"
    with click.progressbar(
        length=len(photos), label=label, file=sys.stderr, hidden=hidden, show_pos=True, show_eta=True
    ) as bar:
        yield functools.partial(bar.update, 1)


def _photos_in(folder: Path) -> list[Path]:
    """Return the photos in a folder by name, without the marked copies that this program made of them."""
    try:
        found = sorted(each for each in folder.iterdir() if each.suffix.lower() in _PHOTO_SUFFIXES)
    except OSError as error:
        raise SizingError(f"{folder} cannot be read ({error.strerror}): check its permissions") from error
    photos = [each for each in found if not each.name.startswith(".") and not _is_marked_copy(each)]
    if not photos:
        raise SizingError(f"the folder {folder} holds no photo: name the photos, or the folder they are in")
    return photos


def _is_marked_copy(path: Path) -> bool:
    try:
        if not path.is_file():
            return True
        with path.open("rb") as file:
            return bool(MARKED_COPY.mark.search(file.read(_HEAD_BYTES)))
    except OSError:
        return False  # opening it will say why it cannot be read
