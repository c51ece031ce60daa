"""A plan as JSON and CSV keeps what the command line promises."""

import csv
import io
import json

import pytest

from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.piece.toml.read import PIECE_HELP, read_piece
from sizing.report.records.output import to_csv, to_json
from sizing.report.records.plan import plan_record, plan_rows

MONEY = 0.001


def test_a_plan_has_every_promised_field() -> None:
    data = json.loads(to_json(plan_record(make_plan(read_piece(PIECE_HELP)))))
    assert (data["kind"], data["best"]["count"], data["other"]["count"]) == ("plan", 38, 39)
    assert data["best"]["order"] == ["blue glass, 6 mm"] * 38
    assert data["target"]["findings_mm"] == 12.0
    assert [row["beads"] for row in data["sizes"]] == [34, 36, 38, 40, 42]
    # Beads 4.56, clasp 0.80, wire 0.15, work 8.33: half of the price is left.
    assert data["cost"]["price"] == pytest.approx(27.68, abs=MONEY)
    assert data["cost"]["currency"] == "USD"
    assert set(data["fits"]["shares"]) == {"women", "men"}


def test_csv_has_a_row_a_size() -> None:
    rows = plan_rows(make_plan(read_piece(PIECE_HELP)))
    assert [row["size"] for row in rows] == [f"women P{percent}" for percent in (5, 25, 50, 75, 95)]
    assert len({tuple(row) for row in rows}) == 1
    assert (rows[2]["finished_mm"], rows[2]["finished"]) == (240.0, "240.0 mm (9 7/16 in)")


def test_csv_without_a_size_run_has_the_piece_as_asked() -> None:
    piece = Piece(beads=(BeadPart(along_mm=7.0, across_mm=7.0),), target_mm={"strung": 168.0}, findings=())
    [row] = plan_rows(make_plan(piece))
    assert (row["size"], row["beads"], row["price"]) == ("as asked", 24, None)
    assert to_csv([row]).startswith("size,target_mm,beads,strung_mm,finished_mm,finished,")


def test_a_mass_that_is_not_known_is_no_number() -> None:
    piece = Piece(beads=(BeadPart(along_mm=7.0, across_mm=7.0),), target_mm={"strung": 168.0}, sizes="16 cm")
    plan = make_plan(piece)
    data = json.loads(to_json(plan_record(plan)))
    assert (data["mass"]["total_g"], data["mass"]["by_material_g"]) == (None, {})
    assert data["mass"]["unknown"] == ["bead 7 mm"]
    assert data["sizes"][0]["mass_g"] is None
    [row] = csv.DictReader(io.StringIO(to_csv(plan_rows(plan))))
    assert row["mass_g"] == ""
