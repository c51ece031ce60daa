"""Orders of colours, and advice that keeps them."""

from collections.abc import Sequence

import numpy as np
import pytest
from skimage.color import lab2rgb

from sizing.base.target import make_target
from sizing.strand.advice import Advice, advise
from sizing.strand.colour_order import ColourOrder, colour_order
from tests.helpers.strands import make_strand

BLUE, WHITE, GREEN = (40, 60, 140), (225, 220, 210), (60, 130, 70)
COLOURS = {"b": BLUE, "w": WHITE, "g": GREEN}
Colour = tuple[int, int, int]
SUM_MM = 1e-9


def order(names: str, *, shaded: float = 0.0) -> ColourOrder | None:
    """Return the order of beads with these colours, in light that falls off by a share along the strand."""
    light = np.linspace(1, 1 - shaded, len(names))
    seen = [tuple(int(v * f) for v in COLOURS[n]) for n, f in zip(names, light, strict=True)]
    return colour_order(make_strand([6.0] * len(names), colours=seen).beads)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("names", "repeat", "symmetric"),
    [
        ("bw" * 6, 2, False),
        ("bwg" * 4, 3, False),
        ("bww" * 3 + "bw", 3, False),
        ("bwb" * 3, 3, True),
        ("bwgwb", 0, True),
        ("bbbbwbbbb", 0, True),
    ],
)
def test_orders_are_found(names: str, repeat: int, symmetric: bool) -> None:  # noqa: FBT001
    assert order(names) == ColourOrder(repeat=repeat, symmetric=symmetric)


@pytest.mark.parametrize("names", ["b" * 12, "bwwbgbwgggwb", "bwb"])
def test_one_colour_or_no_repeat_has_no_order(names: str) -> None:
    assert order(names) is None


def test_uneven_light_makes_no_second_colour() -> None:
    assert order("b" * 20, shaded=0.4) is None
    assert order("bwg" * 6, shaded=0.3) == ColourOrder(repeat=3, symmetric=False)


def lab_rgb(lightness: float, a: float) -> Colour:
    """Return the sRGB colour, 0 to 255, of a CIELAB colour with b = 0."""
    red, green, blue = (round(255 * float(v)) for v in lab2rgb([lightness, a, 0.0]))
    return red, green, blue


@pytest.mark.parametrize(
    ("one", "other", "are_two"),
    [
        ((60, 0), (60, 16), True),
        ((60, 0), (60, 9), False),  # a photo's colours are wrong by several units
        ((40, 0), (72, 0), True),
        ((50, 0), (70, 0), False),  # a bead in the shade
    ],
)
def test_colours_differ_by_hue_sooner_than_by_lightness(
    one: tuple[float, float],
    other: tuple[float, float],
    are_two: bool,  # noqa: FBT001
) -> None:
    # CIELAB (lightness, a) of every second bead; common practice, no source.
    beads = make_strand([6.0] * 12, colours=[lab_rgb(*one), lab_rgb(*other)]).beads
    assert (colour_order(beads) is not None) is are_two


def advice(strung_mm: float, colours: Sequence[Colour], count: int = 21) -> Advice:
    """Advice for so many rounds of 8 mm whose colours come again and again."""
    target = make_target({"strung": strung_mm})
    assert target is not None
    return advise(make_strand([8.0] * count, colours=colours), target)


@pytest.mark.parametrize(
    ("strung_mm", "change", "removed", "reached_mm"),
    [
        (155.0, -3, (19, 20, 21), 144.0),
        (144.0, -3, (19, 20, 21), 144.0),
        (176.0, 0, (), 168.0),
        (186.0, 3, (), 192.0),
    ],
)
def test_whole_repeats_are_added_and_removed(
    strung_mm: float, change: int, removed: tuple[int, ...], reached_mm: float
) -> None:
    kept = advice(strung_mm, (BLUE, WHITE, GREEN)).in_colour
    assert kept is not None
    assert (kept.change_beads, kept.remove) == (change, removed)
    assert kept.strung_mm == pytest.approx(reached_mm, abs=SUM_MM)


def test_size_alone_decides_the_first_answer() -> None:
    found = advice(160.0, (BLUE, WHITE, GREEN))
    assert found.change_beads == -1
    assert found.best.strung_mm == pytest.approx(160.0, abs=SUM_MM)
    assert found.colours == ColourOrder(repeat=3, symmetric=False)


def test_a_symmetric_strand_loses_a_bead_at_either_end() -> None:
    kept = advice(72.0, (BLUE, *(WHITE,) * 4, GREEN, *(WHITE,) * 4, BLUE), 11).in_colour
    assert kept is not None
    assert kept.remove == (1, 11)
    assert kept.strung_mm == pytest.approx(72.0, abs=SUM_MM)


@pytest.mark.parametrize(
    ("strung_mm", "colours"),
    [(160.0, (BLUE,)), (168.0, (BLUE, WHITE, GREEN))],
    ids=["one colour", "nothing changes"],
)
def test_no_advice_on_colours_where_none_is_needed(strung_mm: float, colours: Sequence[Colour]) -> None:
    assert advice(strung_mm, colours).in_colour is None
