"""Everything in the stash as one file to keep elsewhere or carry to another computer: a zip.

`stash.json` says which version of this format it is and names the entries by their uuid. Each has a file
`entries/UUID.json` with all that is said, measured and counted, and may have `thumbnails/UUID.jpg` and
`photos/UUID.jpg`.
"""

import json
import zipfile
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import IO

from sizing.base.files import write_whole_by
from sizing.stash.book import Book
from sizing.stash.entries import Entry, changes, entries, measured_fields, thumbnail_of
from sizing.stash.photos import photo_of

VERSION = 1
CONTENTS = "stash.json"
_WHEN = (1980, 1, 1, 0, 0, 0)  # the earliest that a zip can say: when it was written is nobody's business


def export_stash(book: Book, path: str | Path) -> int:
    """Write everything to one file, whole or not at all, and return how many entries it holds.

    Parameters
    ----------
    book : Book
        Open for `reading`.
    path : str or Path

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    stash = entries(book)

    def write(stream: IO[bytes]) -> None:
        with zipfile.ZipFile(stream, "w") as pack:
            contents = {"stash": VERSION, "entries": [entry.uuid for entry in stash]}
            _add(pack, CONTENTS, json.dumps(contents, indent=1).encode())
            for entry in stash:
                for name, content in _files(book, entry):
                    _add(pack, name, content)

    write_whole_by(path, write)
    return len(stash)


def entry_name(uuid: str) -> str:
    """Return the name of an entry's own file in the zip."""
    return f"entries/{uuid}.json"


def picture_names(uuid: str) -> tuple[str, str]:
    """Return the names of an entry's thumbnail and photo in the zip, if it has them."""
    return f"thumbnails/{uuid}.jpg", f"photos/{uuid}.jpg"


def _files(book: Book, entry: Entry) -> Iterator[tuple[str, bytes]]:
    price = entry.details.price
    fields = {
        "uuid": entry.uuid,
        "details": {**asdict(entry.details), "price": None if price is None else str(price)},
        "kept": entry.kept,
        "changes": [asdict(change) for change in changes(book, entry)],
        "measurement": measured_fields(book, entry),
    }
    yield entry_name(entry.uuid), json.dumps(fields).encode()
    pictures = thumbnail_of(book, entry), photo_of(book, entry)
    for name, jpeg in zip(picture_names(entry.uuid), pictures, strict=True):
        if jpeg is not None:
            yield name, jpeg


def _add(pack: zipfile.ZipFile, name: str, content: bytes) -> None:
    info = zipfile.ZipInfo(name, _WHEN)
    # A JPEG does not shrink.
    info.compress_type = zipfile.ZIP_STORED if name.endswith(".jpg") else zipfile.ZIP_DEFLATED
    pack.writestr(info, content)
