"""The table opens in a spreadsheet with a row a bead."""

import csv
import io
import math

from sizing.report.csv_tables import lot_csv, strand_csv, to_csv
from tests.helpers.lots import lot_of
from tests.helpers.strands import make_strand
from vision.common.flags import IRREGULAR, UNMEASURED


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_strand_has_a_row_a_bead_in_order() -> None:
    table = rows(strand_csv(make_strand([6.0, 6.25], across_mm=[7.0, 7.5], gap_mm=0.5)))
    assert [row["number"] for row in table] == ["1", "2"]
    assert [row["along_mm"] for row in table] == ["6.000", "6.250"]
    assert [row["across_mm"] for row in table] == ["7.000", "7.500"]
    assert table[0]["gap_after_mm"] == "0.500"
    assert table[0]["colour"] == "#283c78"
    assert (table[0]["x_px"], table[0]["y_px"]) == ("100.000", "400.000")


def test_unmeasured_size_is_an_empty_cell_and_its_flags_say_why() -> None:
    table = rows(strand_csv(make_strand([6.0, math.nan], flags={2: (UNMEASURED, IRREGULAR)})))
    assert table[1]["along_mm"] == ""
    assert table[1]["flags"] == "unmeasured irregular"


def test_lot_tells_photo_and_takes_more_columns() -> None:
    table = rows(lot_csv(lot_of([6.0, 8.0]), [{"class": "6 mm"}, {"class": 'a "large" one, 8 mm'}]))
    assert [row["min_feret_mm"] for row in table] == ["6.000", "8.000"]
    assert [row["photo"] for row in table] == ["lot.jpg", "lot.jpg"]
    assert table[1]["class"] == 'a "large" one, 8 mm'


def test_lines_end_as_rfc_4180_says() -> None:
    assert to_csv([{"a": 1}, {"a": 2}]) == "a\r\n1\r\n2\r\n"


def test_no_rows_make_no_table() -> None:
    assert to_csv([]) == ""
