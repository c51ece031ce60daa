"""The only module that opens and encodes images: a file to upright sRGB pixels, and back to bytes.

It reads JPEG, PNG, TIFF, WebP and HEIC in their usual pixel formats. The orientation that the camera noted is
applied, an embedded colour profile is converted to sRGB, transparent pixels become white.
"""

import io
import math
import struct
import warnings
from pathlib import Path

import numpy as np
import pillow_heif
from PIL import Image, ImageCms, PngImagePlugin, UnidentifiedImageError

from vision.common.errors import UnreadablePhotoError
from vision.common.records import ImageArray, Photo

MAX_PIXELS = 200_000_000
"""As many as the largest phone cameras have; they take 0.6 GB in memory."""
MIN_SIDE_PX = 200
"""On fewer pixels no tag of a mat can be read: its modules are then narrower than 1.8 pixels."""

pillow_heif.register_heif_opener()
# Pillow warns at one limit and raises at another; `_check_size` replaces both.
Image.MAX_IMAGE_PIXELS = None

_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF")
_KINDS = "JPEG, PNG, TIFF, WebP or HEIC"

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

# Numbers of EXIF 2.3: of tags, and of orientations with the turn that makes each upright.
_ORIENTATION, _EXIF_IFD, _FOCAL_LENGTH_IN_35MM = 0x0112, 0x8769, 0xA405
_UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
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
        damaged, larger than `MAX_PIXELS` in all or smaller than `MIN_SIDE_PX` on a side.
    """
    path = Path(path)
    _check_file(path)
    try:
        # A maker can do nothing about a decoder's warnings on a file that opens nevertheless.
        with warnings.catch_warnings(action="ignore"), Image.open(path, formats=_FORMATS) as image:
            _check_size(path, image)
            # Loading comes before EXIF is read: a TIFF turns itself upright, a PNG may keep its EXIF last.
            image.load()
            exif = _exif(image)
            rgb = _pixels(_upright(_to_srgb(path, image), exif))
            return Photo(name=path.name, rgb=rgb, focal_35mm=_focal_35mm(exif))
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


def _check_file(path: Path) -> None:
    """Refuse what is not a file with bytes in it: a decoder's message would be less clear."""
    try:
        if path.is_dir():
            raise UnreadablePhotoError(f"{path}: this is a folder, not a photo; name the photo file itself.")
        with path.open("rb") as file:
            empty = not file.read(1)
    except FileNotFoundError:
        raise UnreadablePhotoError(f"{path}: no such file; check the name and the folder.") from None
    except PermissionError:
        raise UnreadablePhotoError(f"{path}: the file may not be read; change its permissions.") from None
    except (OSError, ValueError) as error:
        raise UnreadablePhotoError(f"{path}: the file cannot be opened ({_one_line(error)}).") from error
    if empty:
        raise UnreadablePhotoError(f"{path}: the file is empty (0 bytes); copy it from the phone again.")


def _check_size(path: Path, image: Image.Image) -> None:
    """Refuse pictures too large for memory or too small to show a tag, before pixels are decoded."""
    width, height = image.size
    if width * height > MAX_PIXELS:
        raise UnreadablePhotoError(
            f"{path}: {width} x {height} pixels are more than {MAX_PIXELS // 1_000_000} megapixels;"
            " save the photo at a smaller size."
        )
    if min(width, height) < MIN_SIDE_PX:
        raise UnreadablePhotoError(
            f"{path}: {width} x {height} pixels are too few to measure"
            f" (at least {MIN_SIDE_PX} on each side); send the photo at its full size."
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


def _focal_35mm(exif: Image.Exif) -> float | None:
    """Return the 35 mm equivalent focal length (EXIF 2.3, 0xA405, where 0 means unknown)."""
    try:
        focal_35mm = float(exif.get_ifd(_EXIF_IFD)[_FOCAL_LENGTH_IN_35MM])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    return focal_35mm if math.isfinite(focal_35mm) and focal_35mm > 0 else None


def _upright(image: Image.Image, exif: Image.Exif) -> Image.Image:
    """Return the image turned upright."""
    turn = _UPRIGHT.get(exif.get(_ORIENTATION, 1))
    return image if turn is None else image.transpose(turn)


def _to_srgb(path: Path, image: Image.Image) -> Image.Image:
    """Return the loaded image as sRGB, mode RGB, transparent pixels white."""
    icc = image.info.get("icc_profile")
    if image.mode.startswith("I;16"):
        # Pillow's own conversion has meant clipping in some releases and scaling in others.
        image = Image.fromarray((np.asarray(image) >> 8).astype(np.uint8))
    elif image.mode in {"I", "F"}:
        raise UnreadablePhotoError(
            f"{path}: 32-bit samples have no fixed white; save the photo with 8 or 16 bits a channel."
        )
    if image.has_transparency_data:
        image = image.convert("RGBA")
    elif image.mode == "P":
        image = image.convert("RGB")
    converted = _by_profile(image, icc)
    return _on_white(converted) if converted.mode == "RGBA" else converted.convert("RGB")


def _by_profile(image: Image.Image, icc: bytes | None) -> Image.Image:
    """Return the image converted to sRGB by its embedded profile, or unchanged without one that fits."""
    mode = "RGBA" if image.mode == "RGBA" else "RGB"
    srgb = ImageCms.createProfile("sRGB")
    try:
        if icc is None:
            # Lab is the one mode that cannot become RGB without a profile.
            if image.mode != "LAB":
                return image
            profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
        else:
            profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
            if image.mode == mode and "sRGB" in ImageCms.getProfileDescription(profile):
                return image
        converted = ImageCms.profileToProfile(image, profile, srgb, outputMode=mode)
    except (ImageCms.PyCMSError, OSError, ValueError):
        # A broken profile, or one for other channels than the picture has: colours are taken as they are.
        return image
    return image if converted is None else converted


def _on_white(image: Image.Image) -> Image.Image:
    """Return an RGBA image laid on white, mode RGB."""
    paper = Image.new("RGB", image.size, "white")
    paper.paste(image, mask=image.getchannel("A"))
    return paper


def _pixels(image: Image.Image) -> ImageArray:
    """Return the pixels of an RGB image, shape (H, W, 3), writable.

    Copied some rows at a time: `np.asarray` of all holds the pixels twice more and takes three times as long.
    """
    width, height = image.size
    rgb = np.empty((height, width, 3), np.uint8)
    for top in range(0, height, _COPIED_ROWS):
        bottom = min(top + _COPIED_ROWS, height)
        rgb[top:bottom] = np.asarray(image.crop((0, top, width, bottom)))
    return rgb
