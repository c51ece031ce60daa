"""The only module that opens and encodes images: a file to upright sRGB pixels, and back to bytes.

It reads JPEG, PNG, TIFF, WebP and HEIC in their usual pixel formats. The orientation that the camera noted is
applied, an embedded colour profile is converted to sRGB, transparent pixels become white.
"""

import contextlib
import io
import logging
import math
import os
import struct
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from PIL import Image, PngImagePlugin, UnidentifiedImageError

from vision.common.errors import UnreadablePhotoError
from vision.common.records import ImageArray, Photo
from vision.image.memory import is_free, keep_freed, libraries_bytes
from vision.image.srgb import srgb_converter

MOST_BYTES = 800_000_000
"""Memory for opening a photo, the decoder's included: a JPEG or PNG of 114 megapixels, a HEIC of 61."""
MIN_SIDE_PX = 200
"""On fewer pixels no tag of a mat can be read: its modules are then narrower than 1.8 pixels."""

# Pillow warns at one limit and raises at another; `_check_size` replaces both.
Image.MAX_IMAGE_PIXELS = None

# A logger without a handler prints.
logging.getLogger("PIL").addHandler(logging.NullHandler())
_TIFF_HEADS = {b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"}
_BUILT_IN_HEADS = _TIFF_HEADS | {b"\xff\xd8\xff\xe0", b"\xff\xd8\xff\xe1", b"\x89PNG", b"RIFF"}
"""The first bytes of what Pillow opens by itself: JFIF and EXIF files, PNG, WebP, TIFF."""
_STANDARD_ERROR = 2

_BUILT_IN_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")
_FORMATS = (*_BUILT_IN_FORMATS, "HEIF")
_KINDS = "JPEG, PNG, TIFF, WebP or HEIC"

# Bytes a pixel when photos of 24 megapixels are opened: 4 in the decoder, 3 in the result, and what each kind
# of file takes besides. A progressive JPEG is decoded from all its coefficients at once. Of an MPO, a JPEG
# that holds more pictures, such as a gain map, only the first is decoded.
_PIXEL_BYTES = {"JPEG": 7, "MPO": 7, "PNG": 7, "TIFF": 15, "WEBP": 17, "HEIF": 13}
_PROGRESSIVE_BYTES = 11

# Measuring 0.6 to 27 megapixels took 0.4 to 0.74 GB of address space, 108 megapixels 0.2 GB beyond opening.
# Without so much, a library for linear algebra ends the whole program.
_LEAST_WORK_BYTES, _WORK_BYTES = 750_000_000, 250_000_000

# What Pillow's decoders raise on broken files, found by feeding them cut and altered ones.
_DECODER_ERRORS = (
    OSError,
    SyntaxError,
    ValueError,
    EOFError,
    RuntimeError,
    LookupError,
    TypeError,
    AttributeError,
    struct.error,
    Image.DecompressionBombError,
)

# Numbers of EXIF 2.3: of tags, and of orientations with the stored rows in the upright picture.
_ORIENTATION, _EXIF_IFD, _FOCAL_LENGTH_IN_35MM = 0x0112, 0x8769, 0xA405
_PIXEL_COUNTS = (0xA002, 0xA003)
_LYING = range(5, 9)
"""Orientations whose rows as stored are the columns of the upright picture."""
_AS_STORED: dict[int, Callable[[ImageArray], ImageArray]] = {
    2: lambda upright: upright[:, ::-1],
    3: lambda upright: upright[::-1, ::-1],
    4: lambda upright: upright[::-1],
    5: lambda upright: upright.transpose(1, 0, 2),
    6: lambda upright: upright.transpose(1, 0, 2)[::-1],
    7: lambda upright: upright.transpose(1, 0, 2)[::-1, ::-1],
    8: lambda upright: upright.transpose(1, 0, 2)[:, ::-1],
}

_MADE_BY = "strandgauge"
_PNG_NOTE = PngImagePlugin.PngInfo()
_PNG_NOTE.add_text("Software", _MADE_BY)
_ENCODERS: dict[str, tuple[str, dict[str, object]]] = {
    # Lines of a few pixels stay crisp (common practice, no source).
    ".jpg": ("JPEG", {"quality": 90, "comment": _MADE_BY}),
    ".jpeg": ("JPEG", {"quality": 90, "comment": _MADE_BY}),
    # Three times as fast as the usual level 6 on a photo, and a tenth larger.
    ".png": ("PNG", {"compress_level": 3, "pnginfo": _PNG_NOTE}),
}
WRITABLE_SUFFIXES = tuple(_ENCODERS)
_COPIED_ROWS = 256
"""At a time, of a decoded picture."""


def load_photo(path: str | Path) -> Photo:
    """Open a photo file.

    Parameters
    ----------
    path : str or Path
        JPEG, PNG, TIFF, WebP or HEIC; of several pictures in one file the first is taken.

    Returns
    -------
    Photo
        Upright, sRGB, 8 bits a channel; its pixels may be written to.

    Raises
    ------
    UnreadablePhotoError
        If the file is missing, a folder, not readable, empty, not a picture of a known kind, cut short,
        damaged, in need of more memory than is free or than `MOST_BYTES`, or smaller than `MIN_SIDE_PX` on
        a side.
    """
    path = Path(path)
    head = _checked_head(path)
    keep_freed()
    if head not in _BUILT_IN_HEADS:
        import pillow_heif  # noqa: PLC0415 - takes its time, and most photos are no HEIC

        pillow_heif.register_heif_opener()
    with _quiet(head):
        # Asked for a kind that nobody has registered, Pillow raises an error about that kind alone.
        return _load(path, _BUILT_IN_FORMATS if head in _BUILT_IN_HEADS else _FORMATS)


def _load(path: Path, formats: tuple[str, ...]) -> Photo:
    try:
        with Image.open(path, formats=formats) as image:
            _check_size(path, image)
            _check_memory(path, image)
            # Loading comes before EXIF is read: a TIFF turns itself upright, a PNG may keep its EXIF last.
            image.load()
            exif = _exif(image)
            rgb = _pixels(image, exif.get(_ORIENTATION, 1))
            return Photo(name=path.name, rgb=rgb, focal_35mm=_focal_35mm(exif, image.size))
    except UnidentifiedImageError:
        raise UnreadablePhotoError(
            f"{path}: no {_KINDS} picture was found in this file; give the photo as the phone saved it."
        ) from None
    except _DECODER_ERRORS as error:
        raise UnreadablePhotoError(
            f"{path}: the picture is cut short or damaged ({_one_line(error)}); copy it from the phone again."
        ) from error


def encode_image(pixels: ImageArray, suffix: str, *, dpi: float | None = None) -> bytes:
    """Encode pixels as a JPEG or PNG file, in whose first bytes the name of this program stands.

    By that name a picture made here is told from a photo, which no output takes the place of.

    Parameters
    ----------
    pixels : ndarray, shape (H, W) or (H, W, 3), uint8
        Grey or sRGB.
    suffix : str
        One of `WRITABLE_SUFFIXES`, in either case.
    dpi : float, optional
        Printing density noted in the file, in pixels an inch.

    Raises
    ------
    ValueError
        If the suffix is another.

    Examples
    --------
    >>> encode_image(np.zeros((20, 30, 3), np.uint8), ".png")[1:4]
    b'PNG'
    """
    if suffix.lower() not in _ENCODERS:
        allowed = ", ".join(WRITABLE_SUFFIXES)
        raise ValueError(f"suffix must be one of {allowed}, got {suffix!r}")
    kind, options = _ENCODERS[suffix.lower()]
    if dpi is not None:
        options = options | {"dpi": (dpi, dpi)}
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, kind, **options)
    return stream.getvalue()


@contextlib.contextmanager
def _quiet(head: bytes) -> Iterator[None]:
    """Keep decoders from printing: a maker can do nothing about remarks on a file that opens nevertheless.

    libtiff writes its errors, which Pillow raises as well, to standard error by itself.
    """
    with warnings.catch_warnings(action="ignore"), contextlib.ExitStack() as stack:
        if head in _TIFF_HEADS:
            with contextlib.suppress(OSError):  # there is no standard error
                kept = os.dup(_STANDARD_ERROR)
                stack.callback(os.close, kept)
                stack.callback(os.dup2, kept, _STANDARD_ERROR)
                with Path(os.devnull).open("wb") as nowhere:
                    os.dup2(nowhere.fileno(), _STANDARD_ERROR)
        yield


def _checked_head(path: Path) -> bytes:
    """Return the first bytes of a file; refuse what is not one: a decoder's message would be less clear."""
    try:
        if path.is_dir():
            raise UnreadablePhotoError(f"{path}: this is a folder, not a photo; name the photo file itself.")
        if path.exists() and not path.is_file():
            # Opening a pipe that nobody writes to would wait, and a device may never end.
            raise UnreadablePhotoError(f"{path}: this is not a file; save the photo to a file first.")
        with path.open("rb") as file:
            head = file.read(4)
    except FileNotFoundError:
        raise UnreadablePhotoError(f"{path}: no such file; check the name and the folder.") from None
    except PermissionError:
        raise UnreadablePhotoError(f"{path}: the file may not be read; change its permissions.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or _one_line(error)
        raise UnreadablePhotoError(f"{path}: the file cannot be opened ({reason}): check its name") from error
    if not head:
        raise UnreadablePhotoError(f"{path}: the file is empty (0 bytes); copy it from the phone again.")
    return head


def _check_size(path: Path, image: Image.Image) -> None:
    """Refuse pictures too small to show a tag, or with samples of unknown meaning."""
    width, height = image.size
    if image.mode in {"I", "F"}:
        raise UnreadablePhotoError(
            f"{path}: 32-bit samples have no fixed white; save the photo with 8 or 16 bits a channel."
        )
    if min(width, height) < MIN_SIDE_PX:
        raise UnreadablePhotoError(
            f"{path}: {width} x {height} pixels are too few to measure"
            f" (at least {MIN_SIDE_PX} on each side); send the photo at its full size."
        )


def _check_memory(path: Path, image: Image.Image) -> None:
    """Refuse pictures too large for memory, or for what is free of it, before pixels are decoded."""
    width, height = image.size
    is_progressive = "progressive" in image.info
    pixel_bytes = (
        _PROGRESSIVE_BYTES if is_progressive else _PIXEL_BYTES.get(image.format or "", _PROGRESSIVE_BYTES)
    )
    needed = pixel_bytes * width * height
    if needed > MOST_BYTES:
        most = int((MOST_BYTES / needed) ** 0.5 * max(width, height))
        raise UnreadablePhotoError(
            f"{path}: {width} x {height} pixels take {needed / 1e9:.1f} GB of memory to open, more than"
            f" {MOST_BYTES / 1e9:.1f} GB; save the photo with a longer side of {most} pixels at most."
        )
    work = max(_LEAST_WORK_BYTES, needed + _WORK_BYTES)
    if not is_free(work + libraries_bytes()):
        raise UnreadablePhotoError(
            f"{path}: there is too little memory to measure this photo, {work / 1e9:.1f} GB;"
            " close other programs or save the photo at a smaller size."
        )


def _one_line(error: Exception) -> str:
    """Return an error's text on one line, or the name of its class if it has no text."""
    return " ".join(str(error).split()) or type(error).__name__


def _exif(image: Image.Image) -> Image.Exif:
    """Return the picture's EXIF; empty where it is missing or broken, since the pixels are still good."""
    try:
        exif = image.getexif()
        exif.get_ifd(_EXIF_IFD)
    except _DECODER_ERRORS:
        return Image.Exif()
    return exif


def _focal_35mm(exif: Image.Exif, size_px: tuple[int, int]) -> float | None:
    """Return the 35 mm equivalent focal length (EXIF 2.3, 0xA405, where 0 means unknown) of a whole picture.

    A part of a picture may keep the EXIF of the whole; then its pixel counts are of another shape.
    """
    stated = exif.get_ifd(_EXIF_IFD)
    try:
        focal_35mm = float(stated[_FOCAL_LENGTH_IN_35MM])
        counts = [int(stated.get(tag, 0)) for tag in _PIXEL_COUNTS]
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    # Scaled or turned it is still whole; either side is rounded to a pixel.
    off = max(size_px) * min(counts) - min(size_px) * max(counts)
    is_whole = min(counts) <= 0 or abs(off) <= max(*counts, *size_px)
    return focal_35mm if math.isfinite(focal_35mm) and focal_35mm > 0 and is_whole else None


def _pixels(image: Image.Image, orientation: int) -> ImageArray:
    """Return the pixels of a loaded image as upright sRGB, shape (H, W, 3), writable.

    Some rows at a time are converted and put where they belong, so that memory holds the decoded picture and
    its pixels, and no third copy.
    """
    width, height = image.size
    convert = srgb_converter(image)
    is_lying = orientation in _LYING
    rgb = np.empty((width, height, 3) if is_lying else (height, width, 3), np.uint8)
    as_stored = _AS_STORED[orientation](rgb) if orientation in _AS_STORED else rgb
    for top in range(0, height, _COPIED_ROWS):
        bottom = min(top + _COPIED_ROWS, height)
        as_stored[top:bottom] = np.asarray(convert(image.crop((0, top, width, bottom))))
    return rgb
