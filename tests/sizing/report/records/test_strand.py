"""A strand as JSON and CSV keeps what the command line promises."""

import csv
import io
import json
import math
from typing import Any

import pytest

from sizing.base.target import make_target
from sizing.report.records.field import Record
from sizing.report.records.output import to_csv, to_json
from sizing.report.records.strand import strand_record, strand_rows
from sizing.strand.advice import advise
from tests.helpers.strands import make_strand
from vision.common.flags import IRREGULAR, UNMEASURED

MM = 1e-6


def parsed(record: Record) -> dict[str, Any]:
    """Read as RFC 8259 does, without JavaScript's NaN and Infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    result: dict[str, Any] = json.loads(to_json(record), parse_constant=refuse)
    return result


def test_a_strand_has_every_promised_field() -> None:
    strand = make_strand([6.0, 6.2], across_mm=[6.5, 6.6], flags={2: ("odd-size",)}, gap_mm=1.5)
    data = parsed(strand_record(strand))
    first, second = data["beads"]
    assert [first["number"], second["number"]] == [1, 2]
    assert first["px"] == [100.0, 400.0]
    assert (first["along_mm"], first["across_mm"]) == (6.0, 6.5)
    assert (first["along_u95_mm"], first["across_u95_mm"]) == (0.08, 0.08)
    assert first["gap_after_mm"] == 1.5
    assert (first["flags"], second["flags"]) == ([], ["odd-size"])
    assert data["strand"]["count"] == 2
    assert data["strand"]["length_mm"] == pytest.approx(13.7, abs=MM)
    assert data["strand"]["length_u95_mm"] == 0.4
    assert data["strand"]["closed_up_mm"] == pytest.approx(12.2, abs=MM)
    assert data["sheet"]["name"] == "mat-a4"
    assert data["sheet"]["tags_found"] == 26
    assert data["photos"][0]["name"] == "strand.jpg"


def test_without_a_target_there_is_no_sizing() -> None:
    assert parsed(strand_record(make_strand([6.0] * 5)))["sizing"] is None


def test_with_a_target_there_is_a_change() -> None:
    strand = make_strand([8.0] * 20)
    target = make_target({"strung": 144.0})
    assert target is not None
    sizing = parsed(strand_record(strand, advise(strand, target)))["sizing"]
    assert sizing["change_beads"] == -2
    assert sizing["best"]["strung_mm"] == pytest.approx(144.0, abs=MM)
    assert sizing["sentence"].startswith("Remove 2 beads")


def test_one_bead_has_no_other_way() -> None:
    strand = make_strand([8.0])
    target = make_target({"strung": 4.0})
    assert target is not None
    sizing = parsed(strand_record(strand, advise(strand, target)))["sizing"]
    assert (sizing["beyond"], sizing["margin_mm"]) == (None, None)


def test_a_size_that_could_not_be_measured_is_null() -> None:
    strand = make_strand([6.0, math.nan, 6.0], flags={2: (UNMEASURED,)})
    bead = parsed(strand_record(strand))["beads"][1]
    assert bead["along_mm"] is None
    assert bead["flags"] == ["unmeasured"]


def test_csv_has_a_row_a_bead_in_order() -> None:
    strand = make_strand([6.0, 6.25], across_mm=[7.0, 7.5], gap_mm=0.5, flags={2: (UNMEASURED, IRREGULAR)})
    first, second = csv.DictReader(io.StringIO(to_csv(strand_rows(strand)), newline=""), strict=True)
    assert first == {
        "number": "1",
        "across_mm": "7.000",
        "across_u95_mm": "0.080",
        "along_mm": "6.000",
        "along_u95_mm": "0.080",
        "gap_after_mm": "0.500",
        "x_px": "100.000",
        "y_px": "400.000",
        "colour": "#283c78",
        "flags": "",
    }
    assert (second["along_mm"], second["flags"]) == ("6.250", "unmeasured irregular")
