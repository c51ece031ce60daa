"""JSON and CSV as text, and what fields take."""

import csv
import io
import json
import math

import numpy as np
import pytest

from sizing.report.records.field import Field, Fields, record, row, within
from sizing.report.records.output import to_csv, to_json

PAIR: Fields[complex] = (
    Field(name="real", meaning="first", csv="column"),
    Field(name="second", meaning="second", take=lambda z: z.imag, csv="first column"),
    Field(name="big", meaning="given if large", take=abs, given=lambda z: abs(z) > 1),
)


def test_records_keep_the_order_of_declaration_and_rows_their_own() -> None:
    assert list(record(PAIR, 3 + 4j).items()) == [("real", 3.0), ("second", 4.0), ("big", 5.0)]
    assert list(record(PAIR, 0.1j)) == ["real", "second"]
    assert list(row(PAIR, 3 + 4j).items()) == [("second", 4.0), ("real", 3.0)]


def test_fields_of_a_part_are_taken_from_the_part() -> None:
    fields = within(lambda pair: pair[1], PAIR)
    assert record(fields, (0j, 3 + 4j)) == {"real": 3.0, "second": 4.0, "big": 5.0}


def test_records_stand_in_records() -> None:
    fields: Fields[list[complex]] = (
        Field(name="first", take=lambda many: many[0] if many else None, fields=PAIR),
        Field(name="all", take=lambda many: many, fields=PAIR, many=True),
    )
    assert record(fields, [1j]) == {
        "first": {"real": 0.0, "second": 1.0},
        "all": [{"real": 0.0, "second": 1.0}],
    }
    assert record(fields, []) == {"first": None, "all": []}


@pytest.mark.parametrize(
    ("name", "unit", "shown"),
    [("a_mm", "", "mm"), ("tilt_deg", "", "degrees"), ("share", "1 is all", "1 is all")],
)
def test_units_stand_in_names_or_are_declared(name: str, unit: str, shown: str) -> None:
    field: Field[object] = Field(name=name, unit=unit)
    assert field.unit_or_suffix == shown


def test_json_knows_no_nan() -> None:
    # RFC 8259, 6: "(such as Infinity and NaN) are not permitted"
    text = to_json({"a": [math.nan, np.float64(1.00000049), (math.inf, "é")]})
    assert json.loads(text) == {"a": [None, 1.0, [None, "é"]]}


def test_csv_lines_end_as_rfc_4180_says() -> None:
    assert to_csv([{"a": 1}, {"a": 2}]) == "a\r\n1\r\n2\r\n"


def test_csv_cells() -> None:
    cells = {"mm": 6.25, "none": math.nan, "flags": ("weak-edge", "irregular"), "name": 'a "large" one, 8 mm'}
    assert to_csv([cells]).splitlines()[1] == '6.250,,weak-edge irregular,"a ""large"" one, 8 mm"'


def test_no_rows_make_no_table() -> None:
    assert to_csv([]) == ""


# OWASP, "CSV Injection": cells that begin with these characters.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_of_a_table_is_a_formula(start: str) -> None:
    text = to_csv([{"name": f"{start}HYPERLINK(1)", "words": (f"{start}1", "b"), "mm": -1.5, "number": -2}])
    [cells] = csv.DictReader(io.StringIO(text, newline=""))
    assert cells == {"name": f"'{start}HYPERLINK(1)", "words": f"'{start}1 b", "mm": "-1.500", "number": "-2"}


def test_texts_that_are_no_formula_stay_as_they_are() -> None:
    assert to_csv([{"name": "8 mm", "sum": "1+1", "empty": ""}]).splitlines()[1] == "8 mm,1+1,"
