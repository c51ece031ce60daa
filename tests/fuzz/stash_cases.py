"""Inputs of `stash` and `page`: spoilt books, packs and measurements, odd words, certificates and ports."""

import io
import json
import warnings
import zipfile
from random import Random

from tests.fuzz.case import Case
from tests.fuzz.mangle import ODD_TEXTS, odd_length, spoil_bytes, spoil_json
from tests.fuzz.seeds import BOOK, ENTRIES, LOT, STRAND, Seeds

_EPOCH = (1980, 1, 1, 0, 0, 0)
_LOOKS = (
    ("list",),
    ("list", "--json"),
    ("show", "1"),
    ("show", "2", "--json"),
    ("check",),
    ("export", "out.zip"),
)
_CHANGES = (("use", "1", "3"), ("recount", "2", "5"), ("describe", "1", "--note", "from the fair"))
_CHANGES += (("forget", "1"), ("forget", ENTRIES[1], "--photo"))
_MAKES = (("make", "--wrist", "6 1/2 in"), ("make", "--strung", "40cm", "--sizes", "women", "--json"))
_ENTRY = ("1", "2", "3", "0", "-1", *ENTRIES, f"{ENTRIES[1]}:1", "nothing", *ODD_TEXTS)
_NUMBERS = ("1", "0", "-1", "7", "100000", "9" * 30, "1.5", "", "nan", "\u0663")
_SAID = ("--from", "--price", "--material", "--note", "--date", "--name", "--hole")
_VALUES = (
    "12.50 EUR",
    "EUR",
    "-1 EUR",
    "1e400 EUR",
    "12",
    "2024-02-30",
    "2024-02-29",
    "blue",
    "#3c5a96",
    "#12",
)
_PEM = b"-----BEGIN CERTIFICATE-----\nMIIBszCCARwCCQ==\n-----END CERTIFICATE-----\n"
_PLACES = (
    "out.zip",
    "out.csv",
    "pipe",
    "loop.zip",
    "/dev/full",
    "folder",
    "missing/out.zip",
    "b.json",
    "link.zip",
)


def stash_case(rng: Random, seeds: Seeds) -> Case:
    """Spoil the stash book, a file to import or to keep, or what is typed."""
    return rng.choice((_book_case, _pack_case, _keep_case, _words_case, _words_case))(rng, seeds)


def _book_case(rng: Random, seeds: Seeds) -> Case:
    words = rng.choice((*_LOOKS, *_CHANGES, *_MAKES))
    if rng.random() < 0.1:
        return Case(
            words=("plan", "--from-stash", "1", "--wrist", "6in"), data={BOOK: spoil_bytes(rng, seeds.book)}
        )
    return Case(words=("stash", *words), data={BOOK: spoil_bytes(rng, seeds.book)})


def _pack_case(rng: Random, seeds: Seeds) -> Case:
    pack = spoil_bytes(rng, seeds.pack) if rng.random() < 0.4 else _packed_anew(rng, seeds.pack)
    data = {BOOK: seeds.book} if rng.random() < 0.5 else {}
    return Case(words=("stash", "import", "in.zip"), files={"in.zip": pack}, data=data)


def _packed_anew(rng: Random, pack: bytes) -> bytes:
    """Spoil a file of a pack, its name, or leave it out or put it in twice."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(pack)) as old, zipfile.ZipFile(stream, "w") as new:
        names = old.namelist()
        chosen = rng.choice(names)
        for name in names:
            content, wanted = old.read(name), name
            action = rng.randrange(6) if name == chosen else -1
            if action in {0, 1, 2}:
                content = _spoilt(rng, name, content)
            elif action == 3:
                wanted = rng.choice(("../" + name, "/" + name, name.upper(), "x" * 300, name + "/"))
            elif action == 4:
                continue
            for _ in range(2 if action == 5 else 1):
                info = zipfile.ZipInfo(wanted, _EPOCH)
                info.compress_type = zipfile.ZIP_DEFLATED
                with warnings.catch_warnings(action="ignore"):  # of a name that is there twice
                    new.writestr(info, content)
    return stream.getvalue()


def _spoilt(rng: Random, name: str, content: bytes) -> bytes:
    if not name.endswith(".json") or rng.random() < 0.2:
        return spoil_bytes(rng, content)
    return spoil_json(rng, json.loads(content)).encode("utf-8", "surrogatepass")


def _keep_case(rng: Random, seeds: Seeds) -> Case:
    measurement = spoil_json(rng, seeds.saved[rng.choice((STRAND, LOT))]).encode("utf-8", "surrogatepass")
    words = ["stash", "keep", "b.json", "--name", rng.choice(("new", ENTRIES[0], *ODD_TEXTS))]
    words += _said(rng) if rng.random() < 0.5 else []
    files: dict[str, bytes | None] = {"b.json": measurement}
    if rng.random() < 0.3:
        files["photo.jpg"] = spoil_bytes(rng, seeds.photos[STRAND])
        words += ["--photo", "photo.jpg"]
    return Case(words=_typable(words), files=files, data={BOOK: seeds.book})


def _said(rng: Random) -> list[str]:
    return [rng.choice(_SAID), rng.choice((*_VALUES, *ODD_TEXTS, odd_length(rng)))]


def _words_case(rng: Random, seeds: Seeds) -> Case:
    """Give odd entries, numbers, sizes, lengths and places to a sound book."""
    entry, number = rng.choice(_ENTRY), rng.choice(_NUMBERS)
    choices = (
        ["show", entry],
        ["use", entry, number],
        ["recount", entry, number, "--size", rng.choice(_NUMBERS)],
        ["describe", entry, *_said(rng)],
        ["forget", entry],
        ["list", rng.choice(("--size", "--colour", "--text")), rng.choice((*_VALUES, odd_length(rng)))],
        ["list", "--count", number],
        ["make", rng.choice(("--wrist", "--strung", "--finished")), odd_length(rng), "--with", entry],
        ["make", "--wrist", "6in", "--with", ENTRIES[0], "--with", entry, "--sizes", rng.choice(ODD_TEXTS)],
        ["export", rng.choice(_PLACES)],
        ["import", rng.choice(_PLACES)],
        [rng.choice(("nonsense", "--help", "")), entry],
    )
    return Case(
        words=_typable(["stash", *rng.choice(choices)]),
        files={"b.json": b"{}", "pipe": None, "folder/.keep": b""},
        links={"loop.zip": "loop.zip", "link.zip": "b.json"},
        data={BOOK: seeds.book},
    )


def page_case(rng: Random, _: Seeds) -> Case:
    """Open the page with odd ports and certificates; it ends as soon as a browser may ask."""
    words = ["page"]
    if rng.random() < 0.7:
        port = ("0", "-1", "1", "80", "8321", "65535", "65536", "9" * 30, *ODD_TEXTS, odd_length(rng))
        words += ["--port", rng.choice(port)]
    places = ("cert.pem", "key.pem", "pipe", "folder", "loop.pem", "/dev/zero", "missing.pem", "", "x" * 300)
    for option in rng.choice(
        ((), ("--certificate",), ("--certificate", "--key"), ("--certificate", "--key"))
    ):
        words += [option, rng.choice(places)]
    words += rng.choice(((), ("--phone",), ("--no-browser",), ("--nonsense",), ("photo.jpg",)))
    return Case(
        words=_typable(words),
        files={
            "cert.pem": spoil_bytes(rng, _PEM),
            "key.pem": _PEM,
            "pipe": None,
            "folder/.keep": b"",
        },
        links={"loop.pem": "loop.pem"},
    )


def _typable(words: list[str]) -> tuple[str, ...]:
    """Drop what no command line can carry."""
    return tuple(word.replace("\0", "") for word in words)
