"""Orders of colours, and advice that keeps them."""

from collections.abc import Sequence

import numpy as np
import pytest

from sizing.base.target import make_target
from sizing.report.advice import advice_lines
from sizing.strand.advice import advise
from sizing.strand.colour_order import ColourOrder, colour_order
from tests.helpers.strands import make_strand

BLUE, WHITE, GREEN = (40, 60, 140), (225, 220, 210), (60, 130, 70)
COLOURS = {"b": BLUE, "w": WHITE, "g": GREEN}
Colour = tuple[int, int, int]


def order(names: str, *, shaded: float = 0.0) -> ColourOrder | None:
    """Order of beads so named, in light that falls off by a share along the strand."""
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
def test_one_colour_or_none_has_no_order(names: str) -> None:
    assert order(names) is None


def test_uneven_light_is_no_colour() -> None:
    assert order("b" * 20, shaded=0.4) is None
    assert order("bwg" * 6, shaded=0.3) == ColourOrder(repeat=3, symmetric=False)


def lines(strung_mm: float, colours: Sequence[Colour], along_mm: Sequence[float] = (8.0,) * 21) -> list[str]:
    target = make_target({"strung": strung_mm})
    assert target is not None
    return advice_lines(advise(make_strand(along_mm, colours=colours), target))


@pytest.mark.parametrize(
    ("strung_mm", "said"),
    [
        (155.0, "to keep that: remove 3 beads (numbers 19-21): strung 144.0 mm"),
        (144.0, "to keep that: remove 3 beads (numbers 19-21): strung 144.0 mm"),
        (176.0, "to keep that: leave it as it is: strung 168.0 mm"),
        (186.0, "to keep that: add 3 beads: 3 of 8.0 mm at the right end: strung 192.0 mm"),
    ],
)
def test_whole_repeats_come_and_go(strung_mm: float, said: str) -> None:
    told = lines(strung_mm, (BLUE, WHITE, GREEN))
    assert any(line.startswith(f"  The colours repeat every 3 beads; {said}") for line in told)


def test_the_number_stays_that_of_the_sizes() -> None:
    """Size alone decides the first answer; colours add another."""
    told = lines(160.0, (BLUE, WHITE, GREEN))
    assert told[0].startswith("Remove 1 bead for")


def test_what_mirrors_the_centre_loses_a_bead_at_either_end() -> None:
    mirrored = (BLUE, *(WHITE,) * 4, GREEN, *(WHITE,) * 4, BLUE)
    told = lines(72.0, mirrored, (8.0,) * 11)
    assert any(
        "mirror each other about the centre; to keep that: remove 2 beads (numbers 1, 11)" in t for t in told
    )


def test_of_one_colour_nothing_is_said() -> None:
    assert not any("colours" in line for line in lines(160.0, (BLUE,)))


def test_where_nothing_changes_nothing_is_said() -> None:
    assert not any("colours" in line for line in lines(168.0, (BLUE, WHITE, GREEN)))
