"""What is spoilt: small photos in every format with their measurements, a piece file, saved measurements."""

import functools
import hashlib
import io
import json
import os
import pickle
import subprocess
import sys
import webbrowser
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pillow_heif
from PIL import Image

from tests.helpers.paths import ROOT, SAMPLES
from vision.common.records import ImageArray, Lot, Photo, Strand

pillow_heif.register_heif_opener()
WIDTH_PX = 900
"""Small, so that measuring takes seconds; every tag can still be read."""
STRAND, LOT = "mixed-strand", "mixed-lot"
ENTRIES = ("blue glass", "mixed lot")
BOOK, _PACK = "stash.sqlite3", "stash.zip"
FORMATS = {
    "jpg": ("JPEG", {"quality": 85}),
    "prog.jpg": ("JPEG", {"quality": 70, "progressive": True}),
    "png": ("PNG", {"compress_level": 1}),
    "tif": ("TIFF", {}),
    "lzw.tif": ("TIFF", {"compression": "tiff_lzw"}),
    "jpeg.tif": ("TIFF", {"compression": "jpeg"}),
    "webp": ("WEBP", {"quality": 70, "method": 0}),
    "heic": ("HEIF", {"quality": 60}),
}
Measured = tuple[Strand, ...] | Lot


@dataclass(frozen=True, slots=True, kw_only=True)
class Seeds:
    """Attributes are by name of a photo where they are dictionaries.

    Attributes
    ----------
    pictures : dict of Image
        A strand and a lot on their sheets.
    photos : dict of bytes
        They as JPEG files.
    plain : dict of bytes
        A small picture without a sheet, by format.
    saved : dict
        What `--json` prints of them.
    measured : dict
        Their measurements by the digest of their pixels.
    book, pack : bytes
        A stash book that keeps both, and what it exports.
    """

    pictures: dict[str, Image.Image]
    photos: dict[str, bytes]
    plain: dict[str, bytes]
    saved: dict[str, Any]
    measured: dict[str, Measured]
    book: bytes
    pack: bytes


def digest(rgb: ImageArray) -> str:
    """Return a mark of pixels."""
    return hashlib.blake2b(np.ascontiguousarray(rgb).tobytes(), digest_size=16).hexdigest()


def encoded(picture: Image.Image, suffix: str) -> bytes:
    """Return a picture as a file of one of `FORMATS`."""
    kind, options = FORMATS[suffix]
    stream = io.BytesIO()
    picture.save(stream, kind, **options)
    return stream.getvalue()


def prepare_seeds(folder: Path) -> None:
    """Make the seeds in a process of its own: one that has measured cannot be forked."""
    call = "import sys, pathlib, tests.fuzz.seeds as seeds; seeds.make_seeds(pathlib.Path(sys.argv[1]))"
    subprocess.run([sys.executable, "-c", call, folder], check=True, cwd=ROOT)


def make_seeds(folder: Path) -> None:
    """Draw and measure what is spoilt, into a folder; takes half a minute."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in (STRAND, LOT):
        with Image.open(SAMPLES / f"{name}.jpg") as whole:
            picture = whole.resize((WIDTH_PX, round(WIDTH_PX * whole.height / whole.width)))
        (folder / f"{name}.jpg").write_bytes(encoded(picture, "jpg"))
        _measure(folder, name)
    _keep(folder)


def _measure(folder: Path, name: str) -> None:
    # Here, so that importing this module imports none of it.
    from sizing.lot.picks import Picks  # noqa: PLC0415
    from sizing.lot.sorting import sort_lot  # noqa: PLC0415
    from sizing.report.records.lot import lot_record  # noqa: PLC0415
    from sizing.report.records.output import to_json  # noqa: PLC0415
    from sizing.report.records.strand import strand_record  # noqa: PLC0415
    from sizing.strand.sized import size_strands  # noqa: PLC0415
    from vision.image.photo import load_photo  # noqa: PLC0415
    from vision.measure import measure_lot, measure_strands  # noqa: PLC0415

    photo = load_photo(folder / f"{name}.jpg")
    nothing_said: dict[str, Any] = {"check_length_mm": None, "check_length_u_mm": 0.0, "bed_height_mm": 0.0}
    measured = (measure_strands if name == STRAND else measure_lot)(photo, **nothing_said)
    (folder / f"{name}.pickle").write_bytes(pickle.dumps((digest(photo.rgb), measured)))
    record = (
        lot_record(sort_lot(measured), Picks())
        if isinstance(measured, Lot)
        else strand_record(size_strands(measured))
    )
    (folder / f"{name}.json").write_text(to_json(record), encoding="utf-8")


def _keep(folder: Path) -> None:
    """Keep both in a stash book, and export it."""
    from sizing.stash.book import DATA_VARIABLE, reading, writing  # noqa: PLC0415
    from sizing.stash.details import Details  # noqa: PLC0415
    from sizing.stash.keep import keep  # noqa: PLC0415
    from sizing.stash.pack import export_stash  # noqa: PLC0415
    from sizing.stash.photos import thumbnail  # noqa: PLC0415
    from vision.image.photo import load_photo  # noqa: PLC0415

    os.environ[DATA_VARIABLE] = str(folder)
    with writing() as book:
        for entry, name in zip(ENTRIES, (STRAND, LOT), strict=True):
            fields = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
            small = thumbnail(load_photo(folder / f"{name}.jpg").rgb)
            keep(book, fields, details=Details(name=entry), thumbnail=small)
    with reading() as book:
        export_stash(book, folder / _PACK)


@functools.cache
def load_seeds(folder: Path) -> Seeds:
    """Load what `make_seeds` made."""
    photos = {name: (folder / f"{name}.jpg").read_bytes() for name in (STRAND, LOT)}
    pairs = [pickle.loads((folder / f"{name}.pickle").read_bytes()) for name in photos]  # noqa: S301 - our own
    plain = Image.radial_gradient("L").resize((300, 220)).convert("RGB")
    return Seeds(
        pictures={name: Image.open(io.BytesIO(photo)).convert("RGB") for name, photo in photos.items()},
        photos=photos,
        plain={suffix: encoded(plain, suffix) for suffix in FORMATS},
        saved={name: json.loads((folder / f"{name}.json").read_text(encoding="utf-8")) for name in photos},
        measured=dict(pairs),
        book=(folder / BOOK).read_bytes(),
        pack=(folder / _PACK).read_bytes(),
    )


def use_measured(seeds: Seeds) -> None:
    """Make the program take the measurement of a photo that is known, whatever is said about its sheet."""
    import sizing.batch.room  # noqa: PLC0415
    import sizing.web.server  # noqa: PLC0415
    import vision.measure  # noqa: PLC0415

    def known(measure: Any) -> Any:  # noqa: ANN401
        @functools.wraps(measure)
        def measured(photo: Photo, **said: Any) -> Any:  # noqa: ANN401
            found = seeds.measured.get(digest(photo.rgb))
            is_lot = isinstance(found, Lot)
            if found is None or is_lot != (measure.__name__ == "measure_lot"):
                return measure(photo, **said)
            return named(found, photo.name)

        return measured

    vision.measure.measure_strands = known(vision.measure.measure_strands)
    vision.measure.measure_lot = known(vision.measure.measure_lot)
    # A page ends as soon as a browser may ask.
    sizing.web.server._Server.run = lambda self, sockets=None: self._ready()  # type: ignore[method-assign]  # noqa: ARG005, SLF001
    webbrowser.open = lambda *_: True  # type: ignore[assignment]
    # In this process, where the measurements are known.
    sizing.batch.room.cores = lambda: 1


def named(measured: Measured, name: str) -> Measured:
    """Return a measurement as that of a photo of another name."""
    if not isinstance(measured, Lot):
        return tuple(replace(each, conditions=replace(each.conditions, photo=name)) for each in measured)
    conditions = tuple(replace(each, photo=name) for each in measured.conditions)
    return replace(
        measured, conditions=conditions, beads=tuple(replace(bead, photo=name) for bead in measured.beads)
    )
