"""Lengths as people type them, checked against the definitions of the units."""

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants

from sizing.base.typed_mm import TypedMm
from sizing.base.units import (
    converted,
    format_inches,
    format_length,
    format_mm,
    format_pair,
    parse_length,
    printed_as,
    read_length,
)

ROUNDING_MM = 1e-9
INCH_MM = 25.4  # exactly, international yard and pound agreement, 1959


@pytest.mark.parametrize(
    ("text", "value_mm"),
    [
        ("7mm", 7),
        ("7 MM", 7),
        ("7. mm", 7),
        ("0.5 cm", 5),
        ("16 cm", 160),
        ("6,5 cm", 65),
        ("0.2 m", 200),
        ("6.5in", 6.5 * INCH_MM),
        ('6.5"', 6.5 * INCH_MM),
        ("6.5”", 6.5 * INCH_MM),
        ("6.5″", 6.5 * INCH_MM),
        ("6.5''", 6.5 * INCH_MM),
        (".015in", 0.381),
        ('6 1/2"', 6.5 * INCH_MM),
        ("6-1/2 in", 6.5 * INCH_MM),
        ("7 1/4 in", 7.25 * INCH_MM),
        ("7¼ in", 7.25 * INCH_MM),
        ("7¹\N{FRACTION SLASH}₂ in", 7.5 * INCH_MM),
        ("7\N{NO-BREAK SPACE}¼\N{NO-BREAK SPACE}in.", 7.25 * INCH_MM),
        ("½ inch", 0.5 * INCH_MM),
        ("3/8 in", 0.375 * INCH_MM),
        ("1'", 12 * INCH_MM),
        ("1' 6 1/2\"", 18.5 * INCH_MM),
        ("1 ft 6 in", 18 * INCH_MM),
    ],
)
def test_reads_what_people_type(text: str, value_mm: float) -> None:
    assert parse_length(text) == pytest.approx(value_mm, abs=ROUNDING_MM)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("7", r"^7 has no unit: write 7mm, 7cm or 7in$"),
        ("6 1/2", r"^6 1/2 has no unit"),
        ("6.5inn", "^'6.5inn' is not a length: write it like 7mm, 6.5in or \"6 1/2 in\"$"),
        ("", "is not a length"),
        ("seven mm", "is not a length"),
        ("7² mm", "is not a length"),
        ("nan mm", "is not a length"),
        ("inf mm", "is not a length"),
        ("1e3 mm", "is not a length"),
        ("7 parsec", "is not a length"),
        ("1,234 mm", "is not a length"),
        ("6in 2in", "is not a length"),
        ("1m 20cm", "is not a length"),
        ('6"1/2', "is not a length"),
        ("1/0 in", "divides by zero"),
        ("0 mm", r"^0 mm is zero: a length must be more than zero$"),
        ("0/4 in", "must be more than zero"),
        ("-3 mm", r"^-3 mm is negative: a length must be more than zero$"),
        ("−3 mm", "must be more than zero"),  # noqa: RUF001
        ("1000.1 m", r"^1000\.1 m is too long: a length is at most 1000 m"),
        ("9" * 400 + " mm", "at most 1000 m"),
    ],
)
def test_refuses_in_one_line_that_says_what_to_do(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message) as refusal:
        parse_length(text)
    assert "\n" not in str(refusal.value)
    assert len(str(refusal.value)) < 120


def test_allows_zero_only_where_asked() -> None:
    assert parse_length("0 mm", allow_zero=True) == 0
    with pytest.raises(ValueError, match=r"^-1 mm is negative: a length must be zero or more$"):
        parse_length("-1 mm", allow_zero=True)


@pytest.mark.parametrize(
    ("text", "resolution_mm"),
    [
        ("273mm", 1),
        ("273.0 mm", 0.1),
        ("27.30 cm", 0.1),
        ("27.3cm", 1),
        ("10 3/4 in", INCH_MM / 4),
        ("10 12/16 in", INCH_MM / 16),
        ("10.75 in", INCH_MM / 100),
        ("1' 6\"", INCH_MM),
    ],
)
def test_resolution_is_one_unit_of_the_last_place_typed(text: str, resolution_mm: float) -> None:
    assert read_length(text).resolution_mm == pytest.approx(resolution_mm, abs=ROUNDING_MM)


@pytest.mark.parametrize(
    ("value_mm", "u95_mm", "printed"),
    [
        (234.555, 0.41, "234.6 ± 0.4 mm"),
        (6.35, None, "6.4 mm"),
        (6.304, 0.14, "6.30 ± 0.14 mm"),
        (5.1234, 0.0296, "5.12 ± 0.03 mm"),
        (5.1234, 0.0996, "5.12 ± 0.10 mm"),
        (123.4, 12.2, "123 ± 12 mm"),
        (1234.0, 80.0, "1234 ± 80 mm"),
        (8.0, None, "8.0 mm"),
        (8.0, math.nan, "8.0 mm"),
        (-0.04, None, "0.0 mm"),
        (math.nan, 0.1, "not measured"),
    ],
)
def test_value_stops_at_the_place_of_its_uncertainty(
    value_mm: float, u95_mm: float | None, printed: str
) -> None:
    # JCGM 100:2008, 7.2.6: at most two significant digits, the estimate rounded to match.
    assert format_mm(value_mm, u95_mm) == printed


@pytest.mark.parametrize(
    ("value_mm", "printed"),
    [
        (234.6, "9 1/4 in"),
        (0, "0 in"),
        (12.7, "1/2 in"),
        (25.4, "1 in"),
        (387.35, "15 1/4 in"),
        (-3.175, "-1/8 in"),
        (25.39, "1 in"),
        (math.nan, "not measured"),
    ],
)
def test_inches_are_ruler_fractions(value_mm: float, printed: str) -> None:
    assert format_inches(value_mm) == printed


def test_prints_both_units() -> None:
    assert format_length(234.6, 0.4) == "234.6 ± 0.4 mm (9 1/4 in)"
    assert format_length(math.nan) == "not measured"


@given(st.integers(1, 40 * 16))
@settings(deadline=None)
def test_a_printed_fraction_reads_back(sixteenths: int) -> None:
    value_mm = sixteenths * INCH_MM / 16
    assert parse_length(format_inches(value_mm)) == pytest.approx(value_mm, abs=ROUNDING_MM)


@given(st.decimals("0.01", "999", places=2), st.sampled_from(["mm", "cm", "in", "ft"]))
@settings(deadline=None)
def test_units_in_and_out_agree(number: object, unit: str) -> None:
    per_unit = {"mm": 1, "cm": 10, "in": Fraction(254, 10), "ft": Fraction(254 * 12, 10)}[unit]
    expected = float(Fraction(str(number)) * per_unit)
    typed = read_length(f"{number} {unit}")
    assert typed.value_mm == pytest.approx(expected, rel=1e-12)
    assert typed.resolution_mm == pytest.approx(0.01 * float(per_unit), rel=1e-12)


def outcome(text: str) -> float | str:
    try:
        return parse_length(text)
    except ValueError as refusal:
        return str(refusal)


@given(st.text(max_size=30))
@settings(deadline=None)
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    got = outcome(text)
    if isinstance(got, float):
        assert 0 < got <= 1e6
    else:
        assert len(got.splitlines()) == 1
        assert "write" in got or "must be" in got or "at most" in got


@pytest.mark.parametrize(
    ("unit", "metres"), [("cm", constants.centi), ("inch", constants.inch), ("ft", constants.foot)]
)
def test_units_are_those_of_a_table_of_constants(unit: str, metres: float) -> None:
    assert converted(1, unit, "m") == pytest.approx(metres, rel=1e-12)  # scipy.constants


def test_a_metric_carat_is_a_fifth_of_a_gram() -> None:
    # 4th CGPM, 1907.
    assert converted(1, "carat", "g") == pytest.approx(0.2, rel=1e-12)


@pytest.mark.parametrize(
    ("typed", "first"),
    [("6 1/2 in", "9 1/4 in"), ("1' 6\"", "9 1/4 in"), ("16 cm", "235.0 mm"), ("7mm", "235.0 mm")],
)
def test_the_unit_typed_is_printed_first(typed: str, first: str) -> None:
    # 9 1/4 in are 234.95 mm.
    with printed_as(parse_length(typed)):
        assert format_pair(9.25 * INCH_MM)[0] == first
        assert format_length(9.25 * INCH_MM).startswith(first)
    assert format_pair(9.25 * INCH_MM)[0] == "235.0 mm"
    with printed_as(165.1):
        assert format_pair(9.25 * INCH_MM) == ("235.0 mm", "9 1/4 in")


@given(st.integers(1, 400), st.sampled_from(["in", '"', "mm", "cm", "ft"]))
def test_a_length_remembers_how_it_was_typed(number: int, unit: str) -> None:
    length = parse_length(f" {number}  {unit}")
    assert isinstance(length, TypedMm)
    assert length.typed == f"{number} {unit}"
    assert parse_length(length.typed) == length
    assert length.in_inches == (unit not in {"mm", "cm"})
    assert type(length + 0.0) is float
