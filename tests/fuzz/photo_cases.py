"""Inputs whose photo is spoilt: its file, its pixels, what it shows, or the memory left for it."""

import io
from random import Random

from PIL import Image

from tests.fuzz.case import MEASURING_S, MEGABYTE, OTHER_S, Case
from tests.fuzz.mangle import spoil_bytes, spoil_picture
from tests.fuzz.seeds import FORMATS, LOT, STRAND, Seeds, encoded

_MODES = (
    *((mode, "png") for mode in ("L", "1", "P", "RGBA", "LA")),
    *((mode, "tif") for mode in ("I;16", "CMYK", "F", "I", "YCbCr")),
    *(("CMYK", "jpg"), ("L", "jpg"), ("RGBA", "webp")),
)
_SIZES = ((400, 300), (1, 1), (1, 5000), (5000, 1), (200, 200), (199, 900), (3000, 200), (2000, 1500))


def _photo_words(rng: Random, name: str) -> tuple[str, ...]:
    command = rng.choice(
        (("strand",), ("lot",), ("check", "--label", rng.choice(("8mm", "6x4mm", "7.0-7.5mm"))))
    )
    return (*command, name, *rng.choice(((), ("--json",), ("--csv", "out.csv", "--report", "out.html"))))


def file_case(rng: Random, seeds: Seeds) -> Case:
    """Spoil the bytes of a picture file."""
    suffix = rng.choice(list(seeds.plain))
    content = seeds.plain[suffix]
    if rng.random() < 0.12:
        suffix, content = "jpg", seeds.photos[rng.choice((STRAND, LOT))]
    spoilt = spoil_bytes(rng, content)
    name = f"photo.{suffix}"
    return Case(words=_photo_words(rng, name), files={name: spoilt}, limit_s=MEASURING_S + OTHER_S)


def scene_case(rng: Random, seeds: Seeds) -> Case:
    """Change what a photo of a strand or of loose beads shows; a strand is given to `lot` too."""
    picture = spoil_picture(rng, seeds.pictures[rng.choice((STRAND, LOT))])
    if min(picture.size) < 1:
        picture = picture.resize((300, 300))
    said = rng.choice(((), (), ("--check-length", "255.1mm"), ("--bed-height", "2mm"), ("--wrist", "6in")))
    words = _photo_words(rng, "photo.jpg")
    return Case(
        words=(*words, *said) if words[0] == "strand" or "--wrist" not in said else words,
        files={"photo.jpg": encoded(picture, "jpg")},
        limit_s=MEASURING_S + OTHER_S,
    )


def pixels_case(rng: Random, seeds: Seeds) -> Case:
    """Save a picture with odd pixels: depth, mode, size, EXIF, profile."""
    source = seeds.pictures[STRAND].resize((400, 300))
    mode, suffix = rng.choice(_MODES)
    size = rng.choice(_SIZES)
    stream = io.BytesIO()
    options: dict[str, object] = {}
    if rng.random() < 0.5:
        options["icc_profile"] = rng.randbytes(rng.choice((0, 10, 200, 3000)))
    if rng.random() < 0.5:
        exif = Image.Exif()
        exif[0x0112] = rng.choice((0, 1, 6, 8, 9, 65535))
        exif.get_ifd(0x8769)[0xA405] = rng.choice((0, 1, 26, 65535))
        # Of a TIFF file the EXIF is written by Pillow, which reads it first.
        is_spoilt = rng.random() < 0.3 and not suffix.endswith("tif")
        options["exif"] = spoil_bytes(rng, exif.tobytes()) if is_spoilt else exif.tobytes()
    picture = source.resize(size)
    if mode == "I;16":
        picture = picture.convert("I").point(lambda level: level * 257).convert("I;16")
    else:
        picture = picture.convert(mode)
    picture.save(stream, FORMATS[suffix][0], **options)
    name = f"photo.{suffix}"
    return Case(words=_photo_words(rng, name), files={name: stream.getvalue()}, limit_s=MEASURING_S + OTHER_S)


def memory_case(rng: Random, seeds: Seeds) -> Case:
    """Measure with too little memory."""
    name, command = rng.choice(((STRAND, "strand"), (LOT, "lot")))
    picture = seeds.pictures[name].resize((rng.choice((901, 2001, 4001)), 1500))
    words = (command, "photo.jpg", *rng.choice(((), ("--annotated", "out.jpg"), ("--report", "out.html"))))
    memory = round(rng.uniform(1, 1600) * MEGABYTE)
    return Case(
        words=words,
        files={"photo.jpg": encoded(picture, "jpg")},
        limit_s=MEASURING_S + OTHER_S,
        memory=memory,
    )
