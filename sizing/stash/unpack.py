"""Reads a file that `pack` wrote, checks all of it, and adds it to the stash without doubling anything.

Names in the zip are never paths: each file that should be there is read by the name that it must have, and
anything else in it is refused.
"""

import contextlib
import itertools
import uuid
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from sizing.base.errors import SizingError, StashError
from sizing.base.files import MOST_READ_BYTES
from sizing.base.json_file import parse_json
from sizing.base.printable import printable
from sizing.stash.book import Book
from sizing.stash.counts import MOST_COUNT, count_of, insert_changes, new_change
from sizing.stash.details import LONGEST_LINE, Details, checked, checked_date, checked_line
from sizing.stash.entries import Change, entries, find
from sizing.stash.keep import insert_entry, set_thumbnail
from sizing.stash.measurement import Measurement, read_measurement
from sizing.stash.pack import CONTENTS, VERSION, entry_name, picture_names
from sizing.stash.photos import insert_photo, is_picture

_MOST_ENTRIES = 10_000  # a stash of a large shop: common practice, no source
_MOST_PICTURE_BYTES = 64_000_000  # of 114 megapixels, the largest photo there is, a JPEG takes 40 MB
# A saved measurement shrinks to a fifteenth. What shrinks to less than this is made to fill a disk.
_MOST_SHRUNK = 200
_UNREADABLE = (
    OSError,
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    ArithmeticError,
    RuntimeError,  # it is encrypted
    NotImplementedError,
    EOFError,
    zipfile.BadZipFile,
    zlib.error,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedEntry:
    """An entry as it stands in a pack, checked."""

    uuid: str
    details: Details
    kept: int
    changes: tuple[Change, ...]
    measured: Measurement


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What an import changed.

    Attributes
    ----------
    new : tuple of str
        Names of the entries that the stash did not have, as they are called now.
    renamed : tuple of str
        Those of them that were called otherwise, as the stash has their names already.
    changes : int
        Changes of count that entries of the stash did not have.
    same : int
        Entries of which nothing was new.
    """

    new: tuple[str, ...]
    renamed: tuple[str, ...]
    changes: int
    same: int


class Pack:
    """A pack that is open and was checked; `open_pack` makes it."""

    def __init__(self, file: zipfile.ZipFile, packed: Sequence[PackedEntry]) -> None:
        self._file = file
        self.entries = tuple(packed)

    def pictures(self, identity: str) -> tuple[bytes | None, bytes | None]:
        """Return thumbnail and photo of an entry; None where it has none."""
        there = set(self._file.namelist())
        small, large = (
            _read(self._file, name, most=_MOST_PICTURE_BYTES) if name in there else None
            for name in picture_names(identity)
        )
        if not all(jpeg is None or is_picture(jpeg) for jpeg in (small, large)):
            raise ValueError("a picture that this program did not write")
        return small, large


@contextlib.contextmanager
def open_pack(path: str | Path) -> Iterator[Pack]:
    """Open a file that `export_stash` wrote, and check all of it.

    Raises
    ------
    StashError
        It is no such file, is damaged, holds anything else, or is larger than any stash.
    """
    name = Path(path).name
    with contextlib.ExitStack() as stack:
        try:
            if not Path(path).is_file():  # a pipe that nobody writes into would be waited for
                raise ValueError("it is no file")
            file = stack.enter_context(zipfile.ZipFile(path))
            pack = Pack(file, list(_entries(file)))
            for packed in pack.entries:
                pack.pictures(packed.uuid)
        except SizingError as error:
            raise StashError(f"{name} cannot be imported: {error}") from error
        except _UNREADABLE as error:
            raise StashError(
                f"{name} is no stash that was exported whole ({_reason(error)}): nothing was imported, "
                "export it once more"
            ) from error
        yield pack


def add_pack(book: Book, pack: Pack) -> Added:
    """Add everything in a pack to the stash.

    An entry that the stash has, by its uuid, stays as it is, and takes the changes of count that it does
    not have. An entry whose name is taken by another gets a number behind it.

    Parameters
    ----------
    book : Book
        Open for `writing`.
    """
    known = {entry.uuid: entry.number for entry in entries(book)}
    new: list[str] = []
    renamed: list[str] = []
    counts = []
    for packed in pack.entries:
        if packed.uuid in known:
            counts.append(_add_changes(book, known[packed.uuid], packed))
        else:
            name = _free_name(book, packed.details.name)
            _insert(book, pack, replace(packed, details=replace(packed.details, name=name)))
            new.append(name)
            renamed += [name] if name != packed.details.name else []
    return Added(new=tuple(new), renamed=tuple(renamed), changes=sum(counts), same=counts.count(0))


def _insert(book: Book, pack: Pack, packed: PackedEntry) -> None:
    number = insert_entry(
        book, packed.measured, identity=packed.uuid, kept=packed.kept, details=packed.details
    )
    _refuse_known(book, packed.changes)
    insert_changes(book, number, packed.changes)
    small, photo = pack.pictures(packed.uuid)
    set_thumbnail(book, number, small)
    if photo is not None:
        insert_photo(book, number, photo)


def _add_changes(book: Book, number: int, packed: PackedEntry) -> int:
    """Add the changes that an entry does not have; where both books used the same beads, put that right."""
    known = {row[0] for row in book.execute("SELECT uuid FROM change WHERE entry = ?", (number,))}
    missing = [change for change in packed.changes if change.uuid not in known]
    _refuse_known(book, missing)
    insert_changes(book, number, missing)
    entry = find(book, number)
    short = {place: count_of(entry, place) for place in (0, *(size.place for size in entry.sizes))}
    insert_changes(
        book,
        number,
        [
            new_change(place, -count, why="more were used than there were")
            for place, count in short.items()
            if count < 0
        ],
    )
    return len(missing)


def _refuse_known(book: Book, changes: Sequence[Change]) -> None:
    """Refuse a change that belongs to another entry of the stash: no export writes that."""
    for change in changes:
        if book.execute("SELECT 1 FROM change WHERE uuid = ?", (change.uuid,)).fetchone():
            raise StashError("two entries share a change of count: nothing was imported, export once more")


def _free_name(book: Book, name: str) -> str:
    """Return a name, with a number behind it where the stash has that name already."""
    taken = {row[0] for row in book.execute("SELECT name FROM entry")}
    numbered = (f"{name[: LONGEST_LINE - 8]} ({number})" for number in itertools.count(2))
    return next(free for free in itertools.chain([name], numbered) if free not in taken)


def _entries(file: zipfile.ZipFile) -> Iterator[PackedEntry]:
    """Read and check what the zip says it holds, and refuse a zip that holds anything else."""
    contents = parse_json(_read(file, CONTENTS).decode())
    if contents["stash"] != VERSION:
        raise StashError("it was written by another version of this program, use that one")
    identities = [_uuid(each) for each in contents["entries"]]
    expected = {CONTENTS, *(entry_name(each) for each in identities)}
    pictures = {name for each in identities for name in picture_names(each)}
    names = file.namelist()
    if len(set(identities)) != len(identities) or len(set(names)) != len(names):
        raise ValueError("something in it stands twice")
    if len(identities) > _MOST_ENTRIES or not expected <= set(names) <= expected | pictures:
        raise ValueError("it holds more or less than it says")
    seen: set[str] = set()
    for identity in identities:
        packed = _entry(parse_json(_read(file, entry_name(identity)).decode()), identity)
        own = {change.uuid for change in packed.changes}
        if len(own) != len(packed.changes) or own & seen:
            raise ValueError("a change of count stands twice")
        seen |= own
        yield packed


def _entry(fields: dict[str, Any], identity: str) -> PackedEntry:
    if fields["uuid"] != identity:
        raise ValueError("an entry stands in another's place")
    said = fields["details"]
    details = checked(Details(**{**said, "price": None if said["price"] is None else Decimal(said["price"])}))
    measured = read_measurement(fields["measurement"], details.name)
    changes = tuple(_change(each) for each in fields["changes"])
    left = Counter({size.place: 0 for size in measured.sizes})
    for change in changes:
        left[change.size] += change.beads
    places = {size.place for size in measured.sizes} | ({0} if len(measured.sizes) > 1 else set())
    if not left.keys() <= places or min(left.values()) < 0:
        raise ValueError("a count that cannot be")
    return PackedEntry(
        uuid=identity,
        details=details,
        kept=_whole(fields["kept"], least=1),
        changes=changes,
        measured=measured,
    )


def _change(fields: dict[str, Any]) -> Change:
    return Change(
        uuid=_uuid(fields["uuid"]),
        size=_whole(fields["size"], least=0),
        beads=_whole(fields["beads"], least=-MOST_COUNT),
        date=checked_date(fields["date"]),
        why=checked_line("reason", fields["why"]),
    )


def _whole(value: object, *, least: int) -> int:
    if type(value) is not int or not least <= value <= MOST_COUNT:
        raise ValueError(f"{value!r} is no count")
    return value


def _uuid(text: str) -> str:
    if str(uuid.UUID(text)) != text:
        raise ValueError("no uuid as this program writes it")
    return text


def _read(file: zipfile.ZipFile, name: str, *, most: int = MOST_READ_BYTES) -> bytes:
    """Read a file of the zip; `zipfile` reads no more than its stated size and compares its checksum."""
    info = file.getinfo(name)
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise ValueError("compressed in a way that this program does not use")
    if info.file_size > min(most, _MOST_SHRUNK * info.compress_size):
        raise ValueError(f"{name} is larger than any stash has it")
    return file.read(info)


def _reason(error: Exception) -> str:
    return printable(str(error)) or type(error).__name__
