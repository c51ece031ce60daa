"""Converts decoded pictures of every usual pixel format to sRGB, a part at a time."""

import io
from collections.abc import Callable

import numpy as np
from PIL import Image, ImageCms

Convert = Callable[[Image.Image], Image.Image]


def srgb_converter(image: Image.Image) -> Convert:
    """Return a function that converts parts of a loaded image to sRGB, mode RGB, transparent pixels white.

    Parameters
    ----------
    image : Image
        Of any mode but I and F, whose samples have no fixed white. An embedded profile is applied if it fits.
    """
    # One pixel shows what the whole becomes: the profile is prepared once, and tried.
    transform = _transform(_plain(image.crop((0, 0, 1, 1))), image.info.get("icc_profile"))

    def convert(part: Image.Image) -> Image.Image:
        plain = _plain(part)
        converted = plain if transform is None else _applied(plain, transform)
        if converted.mode == "RGB":
            return converted
        return _on_white(converted) if converted.mode == "RGBA" else converted.convert("RGB")

    return convert


def _plain(image: Image.Image) -> Image.Image:
    """Return an image of 8 bits a channel without palette, mode RGBA if parts of it may be transparent."""
    if image.mode.startswith("I;16"):
        # Pillow's own conversion has meant clipping in some releases and scaling in others.
        image = Image.fromarray((np.asarray(image) >> 8).astype(np.uint8))
    if image.has_transparency_data:
        return image.convert("RGBA")
    return image.convert("RGB") if image.mode == "P" else image


def _transform(pixel: Image.Image, icc: bytes | None) -> ImageCms.ImageCmsTransform | None:
    """Return what applies an embedded profile to images like this one; None without one that fits."""
    mode = "RGBA" if pixel.mode == "RGBA" else "RGB"
    try:
        if icc is None:
            # Lab is the one mode that cannot become RGB without a profile.
            if pixel.mode != "LAB":
                return None
            profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
        else:
            profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
            if pixel.mode == mode and "sRGB" in ImageCms.getProfileDescription(profile):
                return None
        transform = ImageCms.buildTransform(profile, ImageCms.createProfile("sRGB"), pixel.mode, mode)
        _applied(pixel, transform)
    except (ImageCms.PyCMSError, OSError, ValueError):
        # A broken profile, or one for other channels than the picture has: colours are taken as they are.
        return None
    return transform


def _applied(image: Image.Image, transform: ImageCms.ImageCmsTransform) -> Image.Image:
    return ImageCms.applyTransform(image, transform) or image


def _on_white(image: Image.Image) -> Image.Image:
    """Return an RGBA image laid on white, mode RGB."""
    paper = Image.new("RGB", image.size, "white")
    paper.paste(image, mask=image.getchannel("A"))
    return paper
