"""One photo to measure, and the function that measures it wherever it runs."""

import contextlib
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from sizing.base.measured_sheets import CheckReading, reading_for
from sizing.lot.handfuls import Handful
from vision.common.errors import PhotoError
from vision.common.records import Lot, Photo, Strand

What = Literal["strand", "loose"]
Measured = tuple[Strand, ...] | Lot
"""The strands of a photo, or its loose beads."""
NO_MEMORY = "there is too little memory for this photo: close other programs, or save it at a smaller size"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A photo to measure.

    Attributes
    ----------
    handful : Handful
        The file, and what the maker says about it.
    what : str
        `strand` for whatever is strung, `loose` for loose beads.
    content : bytes
        The photo itself, for a computer that does not have the file; else empty.
    """

    handful: Handful
    what: What
    content: bytes = b""


def measure(job: Job) -> Measured:
    """Measure a photo.

    Raises
    ------
    PhotoError
        It cannot be measured.
    """
    # Imported late, by the process that measures, to keep the start of the program quick.
    from vision.image.photo import load_photo  # noqa: PLC0415

    handful = job.handful
    if not job.content:
        return measured_on(replace(load_photo(handful.path), name=handful.name), job)
    with file_of(job.content) as path:
        try:
            photo = load_photo(path)
        except PhotoError as error:
            raise type(error)(str(error).replace(str(path), str(handful.path))) from None
    return measured_on(replace(photo, name=handful.name), job)


def measured_on(photo: Photo, job: Job) -> Measured:
    """Measure an opened photo.

    Raises
    ------
    PhotoError
    """
    # After the photo: one that cannot be opened needs none of what this imports.
    import vision.image.lab  # noqa: F401, PLC0415 - first: it computes while the others are imported
    from vision.measure import measure_lot, measure_strands  # noqa: PLC0415
    from vision.sheet.tags import find_tags  # noqa: PLC0415

    handful = job.handful
    tags = find_tags(photo) if handful.remembered else None
    typed = CheckReading(length_mm=handful.check_length_mm, u_mm=handful.check_length_u_mm)
    reading = reading_for(tags.sheet.name, typed, remembered=handful.remembered) if tags else typed
    if job.what == "loose":
        lot = measure_lot(
            photo,
            tags=tags,
            check_length_mm=reading.length_mm,
            check_length_u_mm=reading.u_mm,
            bed_height_mm=handful.bed_height_mm,
            flat=handful.flat,
        )
        return replace(lot, conditions=tuple(reading.noted(each) for each in lot.conditions))
    strands = measure_strands(
        photo,
        tags=tags,
        check_length_mm=reading.length_mm,
        check_length_u_mm=reading.u_mm,
        bed_height_mm=handful.bed_height_mm,
    )
    return tuple(replace(each, conditions=reading.noted(each.conditions)) for each in strands)


def strands_of(measured: Measured) -> tuple[Strand, ...]:
    """Return the strands that a job measured whose photo shows some.

    Raises
    ------
    TypeError
        It measured loose beads.
    """
    if isinstance(measured, Lot):
        raise TypeError("a lot was measured where a strand was asked for")
    return measured


def named(measured: Measured, photo: str) -> Measured:
    """Return a measurement as that of a photo of another name."""
    if not isinstance(measured, Lot):
        return tuple(replace(each, conditions=replace(each.conditions, photo=photo)) for each in measured)
    return replace(
        measured,
        conditions=tuple(replace(each, photo=photo) for each in measured.conditions),
        beads=tuple(replace(bead, photo=photo) for bead in measured.beads),
        others=tuple(replace(other, photo=photo) for other in measured.others),
    )


@contextlib.contextmanager
def file_of(content: bytes) -> Iterator[Path]:
    """Give a file that holds a photo that was sent; it is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="strandgauge-") as folder:
        path = Path(folder, "photo")
        path.write_bytes(content)
        yield path
