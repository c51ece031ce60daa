"""Inputs that are typed wrongly, or name spoilt piece files and measurements, or odd places."""

import json
from random import Random

from sizing.piece.toml.read import PIECE_HELP
from tests.fuzz.case import MEASURING_S, OTHER_S, Case
from tests.fuzz.mangle import ODD_TEXTS, odd_length, spoil_json, spoil_toml
from tests.fuzz.seeds import LOT, STRAND, Seeds


def piece_case(rng: Random, seeds: Seeds) -> Case:
    """Spoil a piece file."""
    piece = spoil_toml(rng, PIECE_HELP).encode("utf-8", "surrogatepass")
    if rng.random() < 0.1:
        words: tuple[str, ...] = ("strand", "photo.jpg", "--piece", "p.toml")
        return Case(words=words, files={"p.toml": piece, "photo.jpg": seeds.photos[STRAND]})
    outputs = rng.choice(
        ((), ("--json",), ("--csv", "out.csv", "--save", "out.toml"), ("--report", "out.html"))
    )
    sizes = rng.choice(((), (), ("--sizes", "women"), ("--wrist", "6in")))
    return Case(words=("plan", "p.toml", *outputs, *sizes), files={"p.toml": piece})


def beads_case(rng: Random, seeds: Seeds) -> Case:
    """Spoil a saved measurement."""
    content = spoil_json(rng, seeds.saved[rng.choice((STRAND, LOT))]).encode("utf-8", "surrogatepass")
    target = rng.choice(
        (("--wrist", "6 1/2 in"), ("--strung", "40cm"), ("--neck", "13in", "--sizes", "women"))
    )
    outputs = rng.choice(
        ((), ("--json",), ("--csv", "out.csv", "--save", "out.toml"), ("--report", "out.html"))
    )
    order = rng.choice(((), ("--graduated",), ("--symmetric",)))
    return Case(words=("plan", "--beads", "b.json", *target, *order, *outputs), files={"b.json": content})


_OPTIONS: dict[str, tuple[str, ...]] = {
    "strand": (
        "--strung",
        "--finished",
        "--wrist",
        "--ankle",
        "--neck",
        "--ease",
        "--findings",
        "--check-length",
        "--bed-height",
    ),
    "lot": ("--step", "--graduated", "--wrist", "--findings", "--check-length", "--bed-height", "--finished"),
    "check": ("--label", "--tolerance", "--check-length", "--bed-height"),
    "plan": ("--bead", "--strung", "--finished", "--wrist", "--ease", "--findings", "--sizes", "--neck"),
}
_FLAGS: dict[str, tuple[str, ...]] = {
    "strand": ("--json",),
    "lot": ("--json", "--pearl", "--natural", "--flat", "--round"),
    "check": ("--json", "--flat"),
    "plan": ("--json", "--graduated", "--symmetric", "--example"),
    "sheet": ("--card", "--measured"),
}
_CORRECTIONS = (
    "--not-a-bead",
    "--is-a-bead",
    "--spacer",
    "--one-bead",
    "--two-beads",
    "--size-of",
    "--bead-at",
)
_VALUES: dict[str, tuple[str, ...]] = {
    "strand": (*_CORRECTIONS, "--cover", "--stopper"),
    "lot": ("--by", "--pairs", "--uniform", *_CORRECTIONS),
    "check": _CORRECTIONS,
    "sheet": ("--paper", "--bed", "-o", "--with", "--forget"),
}


def lengths_case(rng: Random, seeds: Seeds) -> Case:
    """Give odd lengths to the options that take one."""
    command = rng.choice(list(_OPTIONS))
    words = [command]
    files: dict[str, bytes | None] = {}
    if command == "plan":
        words += ["--bead", "8mm"] if rng.random() < 0.5 else ["--strung", "16cm"]
    else:
        files["photo.jpg"] = seeds.photos[STRAND if command == "strand" else LOT]
        words.append("photo.jpg")
        words += ["--label", "8mm"] if command == "check" else []
    for _ in range(rng.choice((1, 1, 2))):
        value = odd_length(rng)
        if rng.random() < 0.2:
            value += rng.choice(("x", "-", ",", " to ")) + odd_length(rng)
        words += [rng.choice(_OPTIONS[command]), value]
    return Case(words=_typable(words), files=files)


def options_case(rng: Random, seeds: Seeds) -> Case:
    """Type options that do not belong together, odd values, odd words."""
    command = rng.choice((*_FLAGS, "nonsense"))
    words = [command]
    if command in {"strand", "lot", "check"}:
        words.append("photo.jpg")
    for _ in range(rng.randrange(5)):
        words += _option(rng, command)
    rng.shuffle(words) if rng.random() < 0.1 else None
    photo = seeds.photos[rng.choice((STRAND, LOT))]
    return Case(words=_typable(words), files={"photo.jpg": photo, "a.toml": PIECE_HELP.encode()})


def _option(rng: Random, command: str) -> list[str]:
    """Return a word or two."""
    action = rng.randrange(6)
    if action == 0:
        return [rng.choice(ODD_TEXTS)]
    if action == 1:
        return [
            rng.choice(
                ("-", "--", "--help", "-h", "--version", "--csv", "--report=out.html", "--piece", "a.toml")
            )
        ]
    if action == 2 and command in _OPTIONS:
        return [rng.choice(_OPTIONS[command]), rng.choice(("6in", "16cm", "8mm", "0mm", "250 mm"))]
    if action == 3 and command in _VALUES:
        return [
            rng.choice(_VALUES[command]),
            rng.choice(
                ("1", "0", "1000000", "1,2", "3-5", "2=8mm", "900,700", "width", "a4", "card", *ODD_TEXTS)
            ),
        ]
    if action == 4:
        outputs = (
            ("--csv", "out.csv"),
            ("--report", "out.html"),
            ("--annotated", "out.jpg"),
            ("--save", "out.toml"),
        )
        return list(rng.choice(outputs))
    return [rng.choice(_FLAGS.get(command, ("--json",)))]


def _typable(words: list[str]) -> tuple[str, ...]:
    """Drop what no command line can carry."""
    return tuple(word.replace("\0", "") for word in words)


_PLACES = (
    "pipe",
    "loop",
    "loop.csv",
    "/dev/full",
    "/dev/zero",
    "/dev/null",
    "missing/out.csv",
    "folder",
    "folder/",
)
_PLACES += (
    "photo.jpg",
    "p.toml",
    "b.json",
    "table.csv",
    "link.csv",
    "link.toml",
    "./photo.jpg",
    "x" * 300 + ".csv",
)
_PLACES += (
    "new\nline.csv",
    "out.csv",
    "out.toml",
    "out.html",
    "out.jpg",
    "photo.jpg/out.csv",
    "other.jpg",
    "-",
    "",
)
_READERS = (
    ("plan", "{}"),
    ("plan", "--strung", "16cm", "--beads", "{}"),
    ("strand", "{}"),
    ("lot", "{}", "photo.jpg"),
)
_READERS += (
    ("strand", "photo.jpg", "--piece", "{}"),
    ("check", "{}", "--label", "8mm"),
    ("sheet", "--measure", "{}"),
)
_WRITERS = ("--csv", "--report", "--annotated", "--save", "-o")


def places_case(rng: Random, seeds: Seeds) -> Case:
    """Name pipes, devices, links in a circle, folders and other files as inputs and outputs."""
    words = [word.replace("{}", rng.choice(_PLACES)) for word in rng.choice(_READERS)]
    for _ in range(rng.randrange(3)):
        words += [rng.choice(_WRITERS), rng.choice(_PLACES)]
    files: dict[str, bytes | None] = {
        "photo.jpg": seeds.photos[STRAND],
        "other.jpg": seeds.photos[LOT],
        "p.toml": PIECE_HELP.encode(),
        "b.json": json.dumps(seeds.saved[LOT]).encode(),
        "pipe": None,
        "folder/.keep": b"",
    }
    links = {
        "loop": "loop",
        "loop.csv": "loop.csv",
        "link.csv": "p.toml",
        "link.toml": "p.toml",
        "table.csv": "b.json",
    }
    return Case(words=tuple(words), files=files, links=links, limit_s=MEASURING_S + OTHER_S)
