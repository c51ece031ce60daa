"""Class colours: distinct in every kind of colour vision, in even steps."""

from itertools import pairwise

import numpy as np
import pytest
from matplotlib import colormaps
from skimage.color import deltaE_ciede2000, rgb2lab

from sizing.lot import palette

# Machado, Oliveira & Fernandes, IEEE TVCG 15 (2009): linear-RGB matrices for severity 1.0.
VISIONS = {
    "full": np.eye(3),
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
LEAST_DIFFERENCE = 7.0  # CIEDE2000; about 1 is just noticeable side by side
EVENNESS = 1.25


def lab_as_seen(colours: np.ndarray, vision: str) -> np.ndarray:
    """CIELAB of sRGB colours (0 to 1) after simulated vision; IEC 61966-2-1 for the curve."""
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ np.asarray(VISIONS[vision]).T, 0, 1)
    encoded = np.where(seen <= 0.0031308, seen * 12.92, 1.055 * seen ** (1 / 2.4) - 0.055)
    return np.asarray(rgb2lab(encoded))


def unit(colours: tuple[palette.Colour, ...]) -> np.ndarray:
    return np.array(colours, dtype=float) / 255


def least_difference(colours: np.ndarray, vision: str) -> float:
    lab = lab_as_seen(colours, vision)
    first, second = np.triu_indices(len(lab), k=1)
    return float(np.min(deltaE_ciede2000(lab[first], lab[second])))


@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.parametrize("count", [2, 4, 6, 9])
def test_classes_differ_in_every_vision(vision: str, count: int) -> None:
    colours = (*palette.class_colours(count), palette.BETWEEN)
    assert least_difference(unit(colours), vision) >= LEAST_DIFFERENCE


@pytest.mark.parametrize("vision", VISIONS)
def test_decisions_differ_in_every_vision(vision: str) -> None:
    colours = (*palette.DECISION_COLOURS.values(), palette.UNMEASURED)
    assert least_difference(unit(colours), vision) >= LEAST_DIFFERENCE


@pytest.mark.parametrize("count", [9, 17])
def test_steps_are_even_in_the_vision_that_shows_least_of_them(count: int) -> None:
    seen = [lab_as_seen(unit(palette.class_colours(count)), vision) for vision in VISIONS]
    steps = np.min([deltaE_ciede2000(lab[:-1], lab[1:]) for lab in seen], axis=0)
    assert np.max(steps) / np.min(steps) <= EVENNESS


@pytest.mark.parametrize("count", [2, 5, 9])
def test_larger_is_lighter(count: int) -> None:
    lightness = rgb2lab(unit(palette.class_colours(count)))[:, 0]
    assert all(a < b for a, b in pairwise(lightness))


def test_the_path_is_viridis() -> None:
    lut = np.array(colormaps["viridis"].colors)
    anchors = unit(palette.class_colours(17))
    nearest = np.min(np.linalg.norm(anchors[:, None] - lut[None], axis=2), axis=1)
    assert np.max(nearest) <= 0.01  # within one step of its 256 colours


@pytest.mark.parametrize("count", [0, 1])
def test_few_classes(count: int) -> None:
    assert len(palette.class_colours(count)) == count
