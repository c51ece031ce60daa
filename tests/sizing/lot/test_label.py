"""Labels as the trade writes them."""

import math

import pytest

from sizing.base.errors import SizingError
from sizing.lot.label import parse_label

ROUNDING_MM = 1e-9


@pytest.mark.parametrize(
    ("text", "kind", "limits_mm"),
    [
        ("8mm", "size", [(7.5, 8.5)]),
        (" 8  MM ", "size", [(7.5, 8.5)]),
        ("0.8 cm", "size", [(7.5, 8.5)]),
        ("1/4in", "size", [(5.85, 6.85)]),
        ('1/4"', "size", [(5.85, 6.85)]),
        ("7.0-7.5mm", "class", [(7.0, 7.5)]),
        ("7,0 – 7,5 mm", "class", [(7.0, 7.5)]),  # noqa: RUF001 - as a word processor types it
        ("7mm to 7.5mm", "class", [(7.0, 7.5)]),
        ("7.5-7.0mm", "class", [(7.0, 7.5)]),
        ("6x4mm", "pair", [(5.5, 6.5), (3.5, 4.5)]),
        ("4 x 6 mm", "pair", [(5.5, 6.5), (3.5, 4.5)]),
        ("6mm×4mm", "pair", [(5.5, 6.5), (3.5, 4.5)]),  # noqa: RUF001 - the trade's own sign
        ("6 by 4 mm", "pair", [(5.5, 6.5), (3.5, 4.5)]),
        ("7½x6 mm", "pair", [(7.0, 8.0), (5.5, 6.5)]),
        ("11/0", "numbered", [(1.8, 2.4)]),
        ("8°", "numbered", [(2.5, 3.1)]),
    ],
)
def test_spellings(text: str, kind: str, limits_mm: list[tuple[float, float]]) -> None:
    label = parse_label(text)
    assert label.kind == kind
    read = [(each.low_mm, each.high_mm) for each in label.stated]
    assert read == [pytest.approx(pair, abs=ROUNDING_MM) for pair in limits_mm]


def test_strands_sold_as_8_mm() -> None:
    # They span 7.5 to 8.4 mm: common practice, no source.
    stated = parse_label("8mm").stated[0]
    assert stated.low_mm <= 7.5
    assert stated.high_mm >= 8.4


@pytest.mark.parametrize(
    ("label", "per_momme"),
    [
        ("5.0-5.5mm", 19),
        ("6.0-6.5mm", 12),
        ("7.0-7.5mm", 7),
        ("8.0-8.5mm", 5),
        ("9.0-9.5mm", 3.5),
        ("10.0-10.5mm", 2.5),
    ],
)
def test_pearl_classes_hold_the_pearls_that_weigh_so(label: str, per_momme: float) -> None:
    # Trade table of pearls per momme (3.75 g) at 2.70 g/cm3: pi/6 d^3 rho n = 3.75 g.
    diameter_mm = 10 * (6 * 3.75 / (math.pi * 2.70 * per_momme)) ** (1 / 3)
    stated = parse_label(label).stated[0]
    assert stated.low_mm <= diameter_mm < stated.high_mm


@pytest.mark.parametrize(
    ("text", "limits_mm"),
    [("8mm", (7.8, 8.2)), ("7.0-7.5mm", (6.8, 7.7)), ("11/0", (1.6, 2.6))],
)
def test_a_typed_tolerance_counts_from_each_end(text: str, limits_mm: tuple[float, float]) -> None:
    stated = parse_label(text, tolerance_mm=0.2).stated[0]
    assert (stated.low_mm, stated.high_mm) == pytest.approx(limits_mm, abs=ROUNDING_MM)
    assert "as asked" in parse_label(text, tolerance_mm=0.2).basis


def test_a_class_counts_from_its_middle() -> None:
    assert parse_label("7.0-7.5mm").stated[0].nominal_mm == pytest.approx(7.25)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("8", "label '8' cannot be read, 8 has no unit: write it like 8mm, 7.0-7.5mm, 6x4mm or 11/0"),
        ("6x4", "label '6x4' cannot be read, 6 has no unit"),
        ("7.0-7.5", "label '7.0-7.5' cannot be read"),
        ("", "label '' cannot be read"),
        ("large", "'large' is not a length: write it like 8mm"),
        ("0mm", "0mm is zero: write it like 8mm"),
        ("-8mm", "-8mm is negative: write it like 8mm"),
        ("8mm-8mm", "has the same size twice"),
        ("8x6x4mm", "has 3 sizes"),
        ("x4mm", "label 'x4mm' cannot be read"),
        ("12/0", "label '12/0' is not one of 6/0, 8/0, 11/0, 15/0: give the size in mm instead"),
        ("8\nmm8", "label '8 mm8' cannot be read"),
    ],
)
def test_what_is_not_a_label_is_refused_in_one_line(text: str, sentence: str) -> None:
    with pytest.raises(SizingError) as error:
        parse_label(text)
    assert sentence in str(error.value)
    assert "\n" not in str(error.value)
