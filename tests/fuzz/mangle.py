"""Spoils bytes, JSON, piece files, lengths and pictures, by a seeded generator."""

import copy
import json
from collections.abc import Callable
from random import Random
from typing import Any

import numpy as np
from PIL import Image, ImageEnhance, ImageFilter, ImageOps

ODD_TEXTS = (
    "",
    " ",
    "0",
    "-1",
    "7",
    "nan mm",
    "1e400 mm",
    "9" * 40 + " mm",
    "1/0 in",
    "7 1/4 in",
    "½ in",
    "６ mm",  # noqa: RUF001 - a wide six
    "6 mm\n7 mm",
    "\x1b[31m6 mm",
    "=1+1",
    "'; --",
    "x" * 5000,
    "../../x",
    "%s{}",
    "\u202e6 mm",
)
ODD_VALUES = (
    None,
    True,
    0,
    -1,
    1e-300,
    0.001,
    1e308,
    10**40,
    [],
    {},
    [[]],
    {"a": 1},
    float("nan"),
    float("inf"),
    *ODD_TEXTS,
)
ODD_TOML = (
    *('"7 mm"', '"3 in"', '"1/4 in"', '"40 cm"', "2", "0.5", "25", '"sterling silver"', '"women"'),
    "0",
    "-1",
    "1e308",
    "nan",
    "inf",
    "9" * 400,
    "true",
    "[]",
    "{}",
    '""',
    '"0 mm"',
    '"0.001 mm"',
    '"999 m"',
    '"-6 mm"',
    '"1/0 in"',
    '"""a\nb"""',
    '"' + "x" * 5000 + '"',
    r'"a\u001b[31mb"',
    "1979-05-27",
    "10000",
    "[" * 3000 + "]" * 3000,
    "{a = " * 300 + "1" + "}" * 300,
)
_LENGTH_PARTS = (
    *("0", "1", "6", "7", "12", "1/2", "3/0", "½", "¼", ".", ",", "-", "+", "e5", "E", "1e9", "nan"),
    *("mm", "cm", "in", "ft", '"', " ' ", "″", "m", "km", "inches", "x", "×", "\t", "\n", "\0", ""),  # noqa: RUF001
)


def spoil_bytes(rng: Random, content: bytes) -> bytes:
    """Change, cut, add or repeat some bytes; the beginning, where headers stand, more often."""
    data = bytearray(content)
    for _ in range(rng.choice((1, 1, 2, 5, 30))):
        if not data:
            break
        at = rng.randrange(len(data)) if rng.random() < 0.5 else rng.randrange(min(len(data), 700))
        action = rng.randrange(6)
        if action == 0:
            data[at] ^= 1 << rng.randrange(8)
        elif action == 1:
            data[at] = rng.choice((0, 1, 127, 128, 255, rng.randrange(256)))
        elif action == 2:
            data[at : at + 4] = rng.choice(
                (b"\0\0\0\0", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", rng.randbytes(4))
            )
        elif action == 3:
            data[at:at] = rng.randbytes(rng.randrange(1, 40))
        elif action == 4:
            end = at + rng.randrange(1, 400)
            data[at:end] = data[at:end] * rng.choice((0, 2, 3))
        elif rng.random() < 0.3:
            del data[at:]
    return bytes(data)


def spoil_json(rng: Random, fields: Any) -> str:  # noqa: ANN401 - JSON is of any type
    """Put odd values into a JSON document, drop or repeat parts of it, or spoil its text."""
    spoilt = copy.deepcopy(fields)
    for _ in range(rng.choice((1, 1, 2, 4))):
        holder, key = _place(rng, spoilt)
        action = rng.randrange(10)
        if action < 6:
            holder[key] = copy.deepcopy(rng.choice(ODD_VALUES))
        elif action == 6 and isinstance(holder, dict):
            del holder[key]
        elif action == 7 and isinstance(holder, list):
            holder *= rng.choice((0, 2, 30))
        elif action == 8:
            holder[key] = [holder[key]]
    text = json.dumps(spoilt)
    action = rng.randrange(12)
    if action == 0:
        return spoil_bytes(rng, text.encode()).decode("latin-1")
    if action == 1:
        depth = rng.choice((50, 1000, 100_000))
        return text.replace("0", "[" * depth + "]" * depth, 1)
    if action == 2:
        return text.replace("1", "1" * rng.choice((30, 5000)), 3)
    return text


def _place(rng: Random, document: Any) -> tuple[Any, Any]:  # noqa: ANN401
    """Return a part of a document and one of its keys, at any depth."""
    holder, key = {"all": document}, "all"
    while isinstance(holder[key], dict | list) and holder[key] and rng.random() < 0.85:
        holder = holder[key]
        key = rng.choice(list(holder)) if isinstance(holder, dict) else rng.randrange(len(holder))
    if holder.keys() == {"all"} if isinstance(holder, dict) else False:
        inner = document
        if isinstance(inner, dict) and inner:
            return inner, rng.choice(list(inner))
    return holder, key


def spoil_toml(rng: Random, text: str) -> str:
    """Put odd values into a piece file, drop, repeat or swap lines, or spoil its text."""
    lines = text.splitlines()
    for _ in range(rng.choice((1, 1, 2, 4))):
        at = rng.randrange(len(lines))
        action = rng.randrange(10)
        if action < 6 and "=" in lines[at]:
            lines[at] = f"{lines[at].partition('=')[0]}= {rng.choice(ODD_TOML)}"
        elif action == 6:
            del lines[at]
        elif action == 7:
            lines.insert(at, rng.choice(lines))
        elif action == 8:
            lines[at] = rng.choice(
                ("[[bead]]", "[bead]", "bead = 1", "[a.b.c]", "x.y = 1", "\0", "\x7f", "= 1")
            )
        else:
            block = '[[bead]]\nsize = "3 mm"\ncount = 10000\n'
            lines.append(block * rng.choice((1, 20, 500)))
        lines = lines or [""]
    spoilt = "\n".join(lines)
    return spoil_bytes(rng, spoilt.encode()).decode("latin-1") if rng.random() < 0.1 else spoilt


def odd_length(rng: Random) -> str:
    """Return something like a length, or nothing like one."""
    if rng.random() < 0.3:
        return rng.choice(ODD_TEXTS)
    if rng.random() < 0.6:
        number = rng.choice(
            ("0.0001", "0.05", "1", "6.5", "6 1/2", "100", "1e3", "99999", f"{rng.random():.15f}")
        )
        return number + rng.choice((" ", "")) + rng.choice(("mm", "cm", "in", '"', "m", "ft", ""))
    return rng.choice(("", " ")).join(rng.choice(_LENGTH_PARTS) for _ in range(rng.randrange(1, 7)))


def spoil_picture(rng: Random, picture: Image.Image) -> Image.Image:
    """Change what a picture shows: light, sharpness, framing, what lies on it."""
    for _ in range(rng.choice((1, 1, 2, 3))):
        picture = rng.choice(_SPOILERS)(rng, picture)
    return picture


def _framed(rng: Random, picture: Image.Image) -> Image.Image:
    width, height = picture.size
    left, top = rng.uniform(0, 0.4) * width, rng.uniform(0, 0.4) * height
    right, bottom = rng.uniform(0.6, 1) * width, rng.uniform(0.6, 1) * height
    return picture.crop((int(left), int(top), int(right), int(bottom)))


def _turned(rng: Random, picture: Image.Image) -> Image.Image:
    return picture.rotate(rng.uniform(0, 360), expand=rng.random() < 0.5, resample=Image.Resampling.BILINEAR)


def _stretched(rng: Random, picture: Image.Image) -> Image.Image:
    width, height = picture.size
    return picture.resize(
        (max(int(width * rng.uniform(0.2, 1.3)), 1), max(int(height * rng.uniform(0.2, 1.3)), 1))
    )


def _seen_aslant(rng: Random, picture: Image.Image) -> Image.Image:
    width, height = picture.size
    corners = [(0, 0), (0, height), (width, height), (width, 0)]
    quad = [
        value for x, y in corners for value in (x + rng.gauss(0, width / 8), y + rng.gauss(0, height / 8))
    ]
    return picture.transform(picture.size, Image.Transform.QUAD, quad, Image.Resampling.BILINEAR)


def _lit(rng: Random, picture: Image.Image) -> Image.Image:
    return ImageEnhance.Brightness(picture).enhance(rng.choice((0.02, 0.3, 1.8, 8)))


def _flat(rng: Random, picture: Image.Image) -> Image.Image:
    return ImageEnhance.Contrast(picture).enhance(rng.choice((0.0, 0.05, 4)))


def _blurred(rng: Random, picture: Image.Image) -> Image.Image:
    return picture.filter(ImageFilter.GaussianBlur(rng.choice((1, 3, 12))))


def _noisy(rng: Random, picture: Image.Image) -> Image.Image:
    pixels = np.asarray(picture).astype(float)
    noise = np.random.default_rng(rng.randrange(1 << 30)).normal(0, rng.choice((5, 30, 120)), pixels.shape)
    return Image.fromarray(np.clip(pixels + noise, 0, 255).astype(np.uint8))


def _covered(rng: Random, picture: Image.Image) -> Image.Image:
    width, height = picture.size
    covered = picture.copy()
    for _ in range(rng.randrange(1, 4)):
        size = (max(int(width * rng.uniform(0.01, 0.5)), 1), max(int(height * rng.uniform(0.01, 0.5)), 1))
        patch = Image.new("RGB", size, tuple(rng.randrange(256) for _ in range(3)))
        if rng.random() < 0.5:  # something else of the photo lies there
            patch = picture.resize(size)
        covered.paste(patch, (rng.randrange(width), rng.randrange(height)))
    return covered


def _inverted(_: Random, picture: Image.Image) -> Image.Image:
    return ImageOps.invert(picture)


def _coarse(rng: Random, picture: Image.Image) -> Image.Image:
    return ImageOps.posterize(picture, rng.choice((1, 2, 3)))


def _mirrored(_: Random, picture: Image.Image) -> Image.Image:
    return ImageOps.mirror(picture)


_SPOILERS: tuple[Callable[[Random, Image.Image], Image.Image], ...] = (
    _framed,
    _turned,
    _stretched,
    _seen_aslant,
    _lit,
    _flat,
    _blurred,
    _noisy,
    _covered,
    _inverted,
    _coarse,
    _mirrored,
)
