"""What runs in a worker process: a photo file is measured, and a smaller copy made to show."""

import contextlib
import signal
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from sizing.base.measured_sheets import MeasuredSheet
from sizing.base.memory import is_memory_error
from sizing.batch.job import NO_MEMORY, Job, file_of, measured_on
from sizing.batch.room import cores
from sizing.batch.sheet import measured_sheet
from sizing.batch.worker import begin_worker
from sizing.lot.handfuls import Handful
from sizing.report.sentences.sheet import sheet_said
from vision.common.errors import PhotoError
from vision.common.records import Lot, Photo, Strand

SHOWN_SIDE_PX = 2400
"""Longer side of the copy that a page shows: a bead of 4 mm has then 30 pixels, enough to judge it by eye."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A photo to measure.

    Attributes
    ----------
    handful : Handful
        The file, and what the maker says about it.
    what : str
        `strand` for whatever is strung, `loose` for loose beads, `sheet` for an empty sheet.
    thing : str
        What lies on an empty sheet, by its name in `vision.reference.objects.REFERENCES`.
    content : bytes
        The photo itself, for a computer that does not have the file; else empty.
    """

    handful: Handful
    what: Literal["strand", "loose", "sheet"]
    thing: str = ""
    content: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A photo as a page shows it: pixels alone, without what the camera noted of time and place.

    Attributes
    ----------
    name : str
    size_px : tuple of int
        (width, height) of the upright photo that was measured, in whose pixels all points are.
    jpeg : bytes
        At most `SHOWN_SIDE_PX` on its longer side.
    small : bytes
        A JPEG for a list.
    """

    name: str
    size_px: tuple[int, int]
    jpeg: bytes
    small: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What one photo gave: strands, loose beads, or the measure of an empty sheet and what is said of it."""

    shown: Shown
    strands: tuple[Strand, ...] = ()
    lot: Lot | None = None
    sheet: MeasuredSheet | None = None
    said: tuple[str, ...] = ()


def begin(most_bytes: int) -> None:
    """Make a new process ready to measure: limits first, then all that takes its time to import."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which ends its workers
    _limit_memory(most_bytes)
    begin_worker()
    import cv2  # noqa: PLC0415

    cv2.setNumThreads(cores())  # mostly one photo is measured at a time: on one core it takes twice as long
    import vision.lot.measure  # noqa: PLC0415
    import vision.measure  # noqa: F401, PLC0415


def measure(order: Order) -> Outcome:
    """Measure a photo.

    Raises
    ------
    PhotoError
        It cannot be measured.
    """
    if not order.content:
        return _measured(order.handful.path, order)
    with file_of(order.content) as path:
        return _measured(path, order)


def _measured(path: Path, order: Order) -> Outcome:
    from vision.image.photo import load_photo  # noqa: PLC0415 - only where photos are measured

    name = order.handful.name
    try:
        photo = replace(load_photo(path), name=name)
        if order.what == "sheet":
            return _sheet(photo, order.thing)
        measured = measured_on(photo, Job(handful=order.handful, what=order.what))
        if isinstance(measured, Lot):
            return Outcome(shown=_shown(photo), lot=measured)
        return Outcome(shown=_shown(photo), strands=measured)
    except PhotoError as error:
        raise PhotoError(str(error).replace(str(path), name)) from None
    except Exception as error:
        if is_memory_error(error):
            raise PhotoError(f"{name}: {NO_MEMORY}") from None
        raise


def _sheet(photo: Photo, thing: str) -> Outcome:
    """Measure the empty sheet in a photo by what lies on it, and say what it measures."""
    sheet, found = measured_sheet(photo, thing)
    said = tuple(sheet_said(sheet, scale=found.scale, questioned=found.questioned))
    return Outcome(shown=_shown(photo), sheet=sheet, said=said)


def _shown(photo: Photo) -> Shown:
    """Return copies that hold nothing but pixels."""
    import cv2  # noqa: PLC0415

    from sizing.stash.photos import thumbnail  # noqa: PLC0415
    from vision.image.photo import encode_image  # noqa: PLC0415

    height, width = photo.rgb.shape[:2]
    scale = min(SHOWN_SIDE_PX / max(height, width), 1.0)
    size = round(width * scale), round(height * scale)
    smaller = cv2.resize(photo.rgb, size, interpolation=cv2.INTER_AREA).astype("uint8")
    return Shown(
        name=photo.name,
        size_px=(width, height),
        jpeg=encode_image(smaller, ".jpg"),
        small=thumbnail(smaller),
    )


def _limit_memory(most_bytes: int) -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):  # where the system has no such limit
        import resource  # noqa: PLC0415

        resource.setrlimit(resource.RLIMIT_AS, (most_bytes, most_bytes))
