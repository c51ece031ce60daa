"""Colours of kept beads: how far apart two are, and which word people have for one."""

import functools
from collections.abc import Sequence

import numpy as np

from sizing.stash.entries import Colour
from vision.common.records import FloatArray

WORDS = (
    "black", "white", "grey", "red", "orange", "yellow", "green", "blue", "purple", "pink", "brown",
)  # fmt: skip
"""The basic colour terms of English (Berlin and Kay, "Basic Color Terms", 1969)."""

DIFFERENT = 10.0
"""CIEDE2000 difference from which two photos show different colours. About 1 is just noticeable, and the
colours of a photo are wrong by several units, those of two photos by more (common practice, no source)."""


def colour_difference(one: Colour, other: Colour) -> float:
    """Return the CIEDE2000 difference of two sRGB colours (CIE 142-2001).

    Examples
    --------
    >>> round(colour_difference((0, 0, 0), (255, 255, 255)))
    100
    """
    from skimage.color import deltaE_ciede2000  # noqa: PLC0415 - takes its time to import

    return float(deltaE_ciede2000(*_lab([one, other])))


def colour_word(colour: Colour) -> str:
    """Return the basic colour term for an sRGB colour.

    It is the last word of the nearest colour name in a survey of 200 000 people, of those names that end in
    a basic term: `dusky blue` for the blue of an old bottle. The survey's colours come with matplotlib.

    Examples
    --------
    >>> colour_word((68, 93, 153)), colour_word((110, 150, 110)), colour_word((90, 20, 30))
    ('blue', 'green', 'brown')
    """
    from skimage.color import deltaE_ciede2000  # noqa: PLC0415 - takes its time to import

    terms, lab = _survey()
    return terms[int(np.argmin(deltaE_ciede2000(_lab([colour]), lab)))]


@functools.cache
def _survey() -> tuple[tuple[str, ...], FloatArray]:
    """Return the term and the CIELAB colour of each name that ends in a basic term, shape (N, 3)."""
    from matplotlib.colors import XKCD_COLORS, to_rgb  # noqa: PLC0415 - takes its time to import

    names = [name for name in XKCD_COLORS if name.split(":")[-1].split()[-1] in WORDS]
    terms = tuple(name.split(":")[-1].split()[-1] for name in names)
    return terms, _from_srgb(np.array([to_rgb(name) for name in names]))


def _lab(colours: Sequence[Colour]) -> FloatArray:
    return _from_srgb(np.array(colours, dtype=float) / 255)


def _from_srgb(rgb: FloatArray) -> FloatArray:
    """Return the CIELAB colours of sRGB ones from 0 to 1, shape (N, 3)."""
    from skimage.color import rgb2lab  # noqa: PLC0415 - takes its time to import

    lab: FloatArray = rgb2lab(rgb)
    return lab
