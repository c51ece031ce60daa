"""Entries are found by text, size, colour and count; what matches is as likely as the closed form says."""

import math

import pytest

from sizing.stash.book import reading
from sizing.stash.colours import DIFFERENT, WORDS, colour_difference, colour_word
from sizing.stash.entries import Colour, Entry, Size, entries
from sizing.stash.matching import SAME_SIZE_SHARE, matches, same_size
from sizing.stash.search import Wanted, search
from tests.helpers.stash import BLUE, kept

PROBABILITY = 1e-9
COLOUR_UNITS = 0.01
"""Of CIEDE2000: published colours have four decimals of CIELAB, sRGB has 8 bits."""
GREEN: Colour = (60, 120, 70)


def names(found: list[Entry]) -> list[str]:
    return [entry.name for entry in found]


@pytest.fixture
def stash() -> list[Entry]:
    kept("Bohemian blue", [8.0] * 30, note="darker than the last")
    kept("jade", [6.0] * 12, colour=GREEN, material="nephrite", source="Market")
    kept("tiny", [2.0] * 90, colour=(253, 253, 251))
    with reading() as book:
        return entries(book)


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (Wanted(), ["Bohemian blue", "jade", "tiny"]),
        (Wanted(text="MARKET neph"), ["jade"]),
        (Wanted(text="last dark"), ["Bohemian blue"]),
        (Wanted(text="market blue"), []),
        (Wanted(low_mm=6.0), ["Bohemian blue", "jade"]),
        (Wanted(low_mm=1.0, high_mm=6.0), ["jade", "tiny"]),
        (Wanted(low_mm=6.1, high_mm=7.9), []),
        (Wanted(colour="green"), ["jade"]),
        (Wanted(colour="white"), ["tiny"]),
        (Wanted(colour="red"), []),
        (Wanted(colour=(42, 62, 118)), ["Bohemian blue"]),
        (Wanted(least_count=30), ["Bohemian blue", "tiny"]),
        (Wanted(least_count=31, colour="blue"), []),
    ],
)
def test_what_is_wanted_is_found(stash: list[Entry], wanted: Wanted, found: list[str]) -> None:
    assert names(search(stash, wanted)) == found


@pytest.mark.parametrize(
    ("colour", "word"),
    [
        # Pure colours of CSS (CSS Color 4, 6.1), whose keywords are these words.
        ((0, 0, 0), "black"),
        ((255, 255, 255), "white"),
        ((128, 128, 128), "grey"),
        ((255, 0, 0), "red"),
        ((255, 165, 0), "orange"),
        ((255, 255, 0), "yellow"),
        ((0, 128, 0), "green"),
        ((0, 0, 255), "blue"),
        ((128, 0, 128), "purple"),
        ((255, 192, 203), "pink"),
        ((139, 69, 19), "brown"),  # saddlebrown
    ],
)
def test_words_are_those_of_the_basic_colours(colour: Colour, word: str) -> None:
    assert word in WORDS
    assert colour_word(colour) == word


def test_the_difference_of_greys_is_that_of_the_standard() -> None:
    # Of greys only lightness differs: dL / (k_L S_L), S_L = 1 + 0.015 (L - 50)^2 / sqrt(20 + (L - 50)^2) at
    # the mean lightness L (CIE 142-2001). sRGB 119 has L = 50.03, 136 has L = 56.70 (IEC 61966-2-1).
    mean = (50.0344 + 56.7032) / 2
    s_l = 1 + 0.015 * (mean - 50) ** 2 / math.sqrt(20 + (mean - 50) ** 2)
    difference = colour_difference((119, 119, 119), (136, 136, 136))
    assert difference == pytest.approx((56.7032 - 50.0344) / s_l, abs=COLOUR_UNITS)


def size(mm: float, rel_u95: float) -> Size:
    return Size(place=1, along_mm=mm, across_mm=mm, rel_u95=rel_u95, measured=9, colour_rgb=BLUE, count=9)


@pytest.mark.parametrize(
    ("one_mm", "other_mm", "rel_u95"),
    [(8.0, 8.0, 0.02), (8.0, 7.7, 0.03), (6.0, 6.5, 0.05), (4.0, 6.0, 0.01)],
)
def test_the_probability_of_one_size_is_that_of_the_normal_distribution(
    one_mm: float, other_mm: float, rel_u95: float
) -> None:
    limit = SAME_SIZE_SHARE * max(one_mm, other_mm)
    u = math.sqrt((one_mm * rel_u95 / 2) ** 2 + (other_mm * rel_u95 / 2) ** 2)
    above, below = ((sign * limit - (one_mm - other_mm)) / u for sign in (1, -1))
    one_direction = (math.erf(above / math.sqrt(2)) - math.erf(below / math.sqrt(2))) / 2
    likely = same_size(size(one_mm, rel_u95), size(other_mm, rel_u95))
    assert likely == pytest.approx(one_direction**2, abs=PROBABILITY)
    assert likely == pytest.approx(same_size(size(other_mm, rel_u95), size(one_mm, rel_u95)), abs=PROBABILITY)


def test_sizes_that_are_known_exactly_are_one_size_or_not() -> None:
    assert same_size(size(8.0, 0.0), size(7.6, 0.0)) == 1.0
    assert same_size(size(8.0, 0.0), size(7.4, 0.0)) == 0.0


def test_what_matches_is_of_the_same_size_and_colour() -> None:
    kept("blue", [8.0] * 30)
    kept("same", [8.02] * 9, colour=(44, 64, 120))
    kept("other colour", [8.0] * 9, colour=GREEN)
    kept("other size", [6.0] * 9)
    kept("nearer colour", [8.0] * 9)
    with reading() as book:
        stash = entries(book)
    found = matches(stash, stash[0], stash[0].sizes[0])
    assert [match.entry.name for match in found] == ["nearer colour", "same"]
    assert found[0].colour_difference == 0.0
    assert 0.0 < found[1].colour_difference < DIFFERENT
    assert all(match.same_size > 0.99 for match in found)
