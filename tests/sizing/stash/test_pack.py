"""What is exported comes back equal; what is broken or hostile changes nothing and is refused in one line."""

import io
import json
import struct
import zipfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from sizing.base.errors import OutputError, StashError
from sizing.stash.book import DATA_VARIABLE, reading, stash_file, writing
from sizing.stash.counts import use
from sizing.stash.details import Details
from sizing.stash.entries import Entry, changes, entries, find, measured_fields, thumbnail_of
from sizing.stash.keep import keep
from sizing.stash.pack import export_stash
from sizing.stash.photos import delete_photo, is_picture, keep_photo, photo_of, thumbnail
from sizing.stash.soundness import problems
from sizing.stash.unpack import Added, add_pack, open_pack
from tests.helpers.stash import kept, lot_fields
from vision.common.records import Photo

THUMBNAIL_PX = (240, 180)
Everything = list[tuple[Any, ...]]


def everything() -> Everything:
    """Return all that the stash holds, but for the numbers, which are those of this book."""
    with reading() as book:
        assert problems(book) == ()
        return [
            (
                (each.uuid, each.form, each.details, each.target, each.sizes, each.count, each.kept),
                changes(book, each),
                measured_fields(book, each),
                thumbnail_of(book, each),
                photo_of(book, each),
            )
            for each in entries(book)
        ]


def exported(path: Path) -> Path:
    with reading() as book:
        export_stash(book, path)
    return path


def imported(path: Path) -> Added:
    with open_pack(path) as pack, writing() as book:
        return add_pack(book, pack)


@pytest.fixture
def other_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Return a function that changes to another stash book."""
    return lambda name: monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / name))


@pytest.fixture
def full_stash() -> None:
    rgb = np.random.default_rng(3).integers(0, 255, (300, 400, 3), np.uint8)
    with writing() as book:
        details = Details(
            name="mixed",
            price=Decimal("3.50"),
            currency="€",
            hole_mm=1.0,
            note="two\nlines 珠",
            date="2026-01-02",
        )
        entry = keep(
            book, lot_fields([6.0] * 5 + [8.0] * 7 + [10.0]), details=details, thumbnail=thumbnail(rgb)
        )
        keep_photo(book, entry, Photo(name="photo.jpg", rgb=rgb))
        use(book, entry, 3, size=2, why="earrings")
    kept("blue", [8.0] * 25)


@pytest.mark.usefixtures("full_stash")
def test_what_is_exported_comes_back_equal(tmp_path: Path, other_book: Callable[[str], None]) -> None:
    before = everything()
    path = exported(tmp_path / "stash.zip")
    other_book("second")
    assert imported(path) == Added(new=("mixed", "blue"), renamed=(), changes=0, same=0)
    assert everything() == before
    assert exported(tmp_path / "again.zip").read_bytes() == path.read_bytes()


@pytest.mark.usefixtures("full_stash")
def test_importing_twice_doubles_nothing(tmp_path: Path) -> None:
    before = everything()
    assert imported(exported(tmp_path / "stash.zip")) == Added(new=(), renamed=(), changes=0, same=2)
    assert everything() == before


def take(name: str, beads: int) -> None:
    with writing() as book:
        use(book, find(book, name), beads)


def found(name: str) -> Entry:
    with reading() as book:
        return find(book, name)


@pytest.mark.parametrize(("here", "there", "left"), [(10, 5, 25), (30, 25, 0)])
def test_what_two_books_took_is_taken_together(
    tmp_path: Path, other_book: Callable[[str], None], here: int, there: int, left: int
) -> None:
    other_book("first")
    kept("blue", [8.0] * 40)
    path = exported(tmp_path / "first.zip")
    other_book("second")
    imported(path)
    take("blue", there)
    path = exported(tmp_path / "second.zip")
    other_book("first")
    take("blue", here)
    # 40 less both; where that is less than nothing, more were used than there were.
    assert imported(path).changes == 1
    assert found("blue").count == left
    assert imported(exported(tmp_path / "both.zip")) == Added(new=(), renamed=(), changes=0, same=1)


def test_a_name_that_is_taken_gets_a_number(tmp_path: Path, other_book: Callable[[str], None]) -> None:
    kept("blue", [8.0] * 40)
    path = exported(tmp_path / "first.zip")
    other_book("second")
    kept("blue", [6.0] * 9)
    assert imported(path) == Added(new=("blue (2)",), renamed=("blue (2)",), changes=0, same=0)
    assert (found("blue").count, found("blue (2)").count) == (9, 40)


@pytest.mark.usefixtures("full_stash")
def test_a_disk_that_is_full_keeps_the_old_export() -> None:
    # Every write to this device fails as on a full disk: full(4).
    with reading() as book, pytest.raises(OutputError, match="No space left on device"):
        export_stash(book, "/dev/full")


def test_a_thumbnail_is_small_and_holds_no_exif() -> None:
    jpeg = thumbnail(np.full((3000, 4000, 3), 120, np.uint8))
    with Image.open(io.BytesIO(jpeg)) as image:
        assert (image.format, image.size, dict(image.getexif())) == ("JPEG", THUMBNAIL_PX, {})
    assert is_picture(jpeg)
    exif = Image.Exif()
    exif[0x010E] = "the place"
    stream = io.BytesIO()
    Image.new("RGB", (40, 30)).save(stream, "JPEG", exif=exif, comment="strandgauge")
    assert not is_picture(stream.getvalue())
    assert not is_picture(b"<script>")


@pytest.mark.usefixtures("full_stash")
def test_a_photo_can_be_deleted_and_its_room_is_given_back() -> None:
    with reading() as book:
        entry = find(book, "mixed")
        jpeg = photo_of(book, entry)
    assert jpeg is not None
    assert entry.photo_bytes == len(jpeg)
    before = stash_file().stat().st_size
    with writing() as book:
        assert delete_photo(book, entry)
        assert not delete_photo(book, entry)
    assert found("mixed").photo_bytes == 0
    assert before - stash_file().stat().st_size > 0.9 * len(jpeg)


# Each spoils one part of a pack: its files by name come in, what is written comes out.
Files = dict[str, bytes]


def _json(files: Files, start: str, spoil: Callable[[dict[str, Any]], None]) -> Files:
    name = next(name for name in files if name.startswith(start))
    fields = json.loads(files[name])
    spoil(fields)
    return files | {name: json.dumps(fields).encode()}


def _contents(spoil: Callable[[dict[str, Any]], None]) -> Callable[[Files], Files]:
    return lambda files: _json(files, "stash.json", spoil)


def _first(spoil: Callable[[dict[str, Any]], None]) -> Callable[[Files], Files]:
    return lambda files: _json(files, "entries/", spoil)


def _set(*path: str | int, value: object) -> Callable[[dict[str, Any]], None]:
    def spoil(fields: Any) -> None:  # noqa: ANN401
        for key in path[:-1]:
            fields = fields[key]
        fields[path[-1]] = value

    return spoil


SPOILT: dict[str, Callable[[Files], Files]] = {
    "nothing in it": lambda _: {},
    "no contents": lambda files: {name: each for name, each in files.items() if name != "stash.json"},
    "a path out of the folder": lambda files: files | {"../../evil.sh": b"x"},
    "an absolute path": lambda files: files | {"/etc/evil": b"x"},
    "a file more": lambda files: files | {"photos/evil.php": b"x"},
    "a file less": lambda files: {name: each for name, each in files.items() if "entries/" not in name},
    "another version": _contents(_set("stash", value=2)),
    "no list": _contents(_set("entries", value=7)),
    "an entry twice": _contents(lambda fields: fields["entries"].append(fields["entries"][0])),
    "an identity that is a path": _contents(
        _set("entries", 0, value="../../../../../../etc/passwd-12345678")
    ),
    "another's identity": _first(_set("uuid", value="00000000-0000-4000-8000-000000000000")),
    "no name": _first(_set("details", "name", value="")),
    "a name that is none": _first(_set("details", "name", value=7)),
    "a key more": _first(_set("details", "evil", value=7)),
    "a price that is none": _first(_set("details", "price", value="NaN")),
    "a note that is a list": _first(_set("details", "note", value=["x"])),
    "no measurement": _first(_set("measurement", value={})),
    "a size that is none": _first(_set("measurement", "lot", "classes", 0, "strung_mm", value=-1)),
    "a number out of reason": _first(_set("measurement", "lot", "classes", 0, "strung_mm", value=1e300)),
    "a count below nothing": _first(_set("changes", 0, "beads", value=-5)),
    "a count that is none": _first(_set("changes", 0, "beads", value=True)),
    "a change of no size": _first(_set("changes", 0, "size", value=9)),
    "a change twice": _first(lambda fields: fields["changes"].append(fields["changes"][0])),
    "paid for nothing": _first(_set("kept", value=0)),
    "a script as a photo": lambda files: (
        files | {next(n for n in files if "photos" in n): b"<script>alert(1)"}
    ),
    "a bomb": lambda files: _json(files, "entries/", _set("details", "note", value="0" * 15_000_000)),
    "too large": lambda files: _json(files, "entries/", _set("details", "note", value="0" * 17_000_000)),
    "nested too deep": lambda files: files | {"stash.json": b"[" * 100_000},
    "no text": lambda files: files | {"stash.json": b"\xff\xfe"},
}


@pytest.mark.usefixtures("full_stash")
@pytest.mark.parametrize("how", SPOILT)
def test_a_spoilt_pack_changes_nothing(tmp_path: Path, other_book: Callable[[str], None], how: str) -> None:
    with zipfile.ZipFile(exported(tmp_path / "stash.zip")) as pack:
        files = {name: pack.read(name) for name in pack.namelist()}
    with zipfile.ZipFile(tmp_path / "spoilt.zip", "w", zipfile.ZIP_DEFLATED) as pack:
        for name, content in SPOILT[how](files).items():
            pack.writestr(name, content)
    other_book("second")
    before = sorted(tmp_path.rglob("*"))
    refused(tmp_path / "spoilt.zip")
    assert sorted(tmp_path.rglob("*")) == before


def refused(path: Path) -> None:
    with pytest.raises(StashError, match=path.name) as caught, open_pack(path):
        pass
    assert "\n" not in str(caught.value)


@pytest.mark.usefixtures("full_stash")
def test_a_pack_that_is_cut_or_altered_anywhere_is_refused_or_equal(
    tmp_path: Path, other_book: Callable[[str], None]
) -> None:
    before = everything()
    whole = exported(tmp_path / "stash.zip").read_bytes()
    rng = np.random.default_rng(5)
    path = tmp_path / "spoilt.zip"
    accepted = 0
    for at in rng.integers(0, len(whole), 60).tolist():
        path.write_bytes(whole[:at])
        refused(path)
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :])
        try:
            with open_pack(path):
                accepted += 1
        except StashError:
            continue
        # What a zip says of dates, systems and permissions is not read.
        other_book(f"second {at}")
        imported(path)
        assert everything() == before
    assert accepted < 30


@pytest.mark.usefixtures("full_stash")
def test_sizes_that_lie_and_encrypted_files_are_refused(tmp_path: Path) -> None:
    whole = exported(tmp_path / "stash.zip").read_bytes()
    central = whole.index(b"PK\1\2")
    path = tmp_path / "spoilt.zip"
    # APPNOTE 4.3.12, in the central directory: flags stand 8 bytes in, the uncompressed size 24.
    for at, form, value in ((8, "<H", 1), (24, "<I", 2**32 - 2), (24, "<I", 3)):
        spoilt = bytearray(whole)
        struct.pack_into(form, spoilt, central + at, value)
        path.write_bytes(spoilt)
        refused(path)


@pytest.mark.parametrize("content", [b"", b"PK", b"no zip", b"\0" * 1000])
def test_what_is_no_zip_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "stash.zip"
    path.write_bytes(content)
    refused(path)
    refused(tmp_path / "missing.zip")
    refused(tmp_path)


@pytest.mark.usefixtures("full_stash")
def test_an_import_that_fails_half_way_adds_nothing(
    tmp_path: Path, other_book: Callable[[str], None]
) -> None:
    path = exported(tmp_path / "stash.zip")
    other_book("second")
    kept("green", [6.0] * 9)
    before = everything()
    with pytest.raises(StashError, match="disk is full"):
        imported_into(path, pages=5)
    assert everything() == before


def imported_into(path: Path, *, pages: int) -> None:
    """Import a pack where only so many pages more are free."""
    with open_pack(path) as pack, writing() as book:
        used = book.execute("PRAGMA page_count").fetchone()[0]
        book.execute(f"PRAGMA max_page_count = {used + pages}")
        add_pack(book, pack)
