"""A lot, sorted or checked, as JSON and CSV keeps what the command line promises."""

import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sizing.lot.conformity import check_label
from sizing.lot.handfuls import as_one_lot
from sizing.lot.label import parse_label
from sizing.lot.picks import Picks, make_picks
from sizing.lot.sorting import sort_lot
from sizing.report.records.check import check_record, check_rows
from sizing.report.records.lot import lot_record, lot_rows
from sizing.report.records.output import to_json
from sizing.report.sentences.check import CheckedLot
from tests.helpers.lots import lot_of
from tests.helpers.pages import handfuls
from vision.common.records import Lot, Other

MM = 1e-6


def sorted_data(lot: Lot, **asked: float) -> dict[str, Any]:
    result = sort_lot(lot)
    picks = make_picks(result.sizes, **asked)  # type: ignore[arg-type]
    data: dict[str, Any] = json.loads(to_json(lot_record(result, picks)))
    return data


def checked(lot: Lot, text: str) -> CheckedLot:
    label = parse_label(text)
    return CheckedLot(lot=lot, label=label, conformity=check_label(lot, label))


def test_a_lot_has_every_promised_field() -> None:
    data = sorted_data(lot_of([6.0, 7.0], [6.5, 7.5]))
    bead = data["beads"][1]
    assert bead["number"] == 2
    assert (bead["min_feret_mm"], bead["max_feret_mm"]) == (7.0, 7.5)
    assert (bead["min_feret_u95_mm"], bead["max_feret_u95_mm"]) == (0.06, 0.06)
    assert bead["flags"] == []
    assert len(bead["px"]) == 2
    assert (bead["photo"], bead["class"]) == ("lot.jpg", "7 mm")
    assert (data["lot"]["count"], data["lot"]["flat"], data["lot"]["flags"]) == (2, False, [])
    assert data["sheet"]["tags_found"] == 26


def test_what_is_no_bead_is_there_with_its_photo() -> None:
    one, two = (
        replace(
            lot_of([6.0, 7.0]),
            others=(Other(centre_px=(8.0, 9.0), kind="finding", outline_px=np.zeros((0, 2)), photo=name),),
        )
        for name in ("one.jpg", "two.jpg")
    )
    others = sorted_data(as_one_lot([one, two]))["others"]
    assert others == [{"photo": name, "px": [8.0, 9.0], "kind": "finding"} for name in ("one.jpg", "two.jpg")]
    assert sorted_data(lot_of([6.0]))["others"] == []


def test_every_photo_is_there() -> None:
    assert [photo["name"] for photo in sorted_data(handfuls())["photos"]] == [
        "one.jpg",
        "two.jpg",
        "three.jpg",
    ]


def test_classes_and_beads_without_a_size() -> None:
    lot = sorted_data(lot_of([6.0, 6.1, 8.0, math.nan]))["lot"]
    assert [(each["name"], each["count"]) for each in lot["classes"]] == [("6 mm", 2), ("8 mm", 1)]
    assert lot["classes"][0]["width_mean_mm"] == pytest.approx(6.05, abs=MM)
    assert lot["classes"][0]["beads"] == [{"photo": "lot.jpg", "number": n} for n in (1, 2)]
    assert lot["whole"]["count"] == 3
    assert lot["unmeasured"] == [{"photo": "lot.jpg", "number": 4}]


def test_picks_stand_only_where_asked_for() -> None:
    lot = lot_of([8.0, 7.5, 7.5, 7.0, 7.0, 6.5, 6.5])
    assert sorted_data(lot)["lot"]["picks"] == {}
    picks = sorted_data(lot, pairs=1, uniform=9, graduated_mm=50.0)["lot"]["picks"]
    assert [bead["number"] for bead in picks["pairs"][0]["beads"]] == [2, 3]
    assert picks["uniform"] is None
    assert [bead["number"] for bead in picks["graduated"]["beads"]] == [6, 4, 2, 1, 3, 5, 7]
    assert picks["graduated"]["strung_mm"] == pytest.approx(50.0, abs=MM)


def test_a_check_has_its_decisions() -> None:
    data = json.loads(to_json(check_record(checked(lot_of([8.0, 7.0, 7.5]), "8mm"))))
    assert [bead["decision"] for bead in data["beads"]] == ["conforming", "not conforming", "undecided"]
    label = data["label"]
    assert (label["conforming"], label["not_conforming"], label["undecided"]) == (1, 1, 1)
    assert label["stated"] == [{"nominal_mm": 8.0, "low_mm": 7.5, "high_mm": 8.5}]
    assert label["axes"][0]["mean_mm"] == pytest.approx(7.5, abs=MM)


def test_csv_has_the_photo_first() -> None:
    start = ["photo", "number", "max_feret_mm", "max_feret_u95_mm", "min_feret_mm", "min_feret_u95_mm"]
    start += ["x_px", "y_px", "colour", "flags", "was"]
    lot = lot_of([6.0, math.nan])
    rows = lot_rows(sort_lot(lot))
    assert list(rows[0]) == [*start, "class", "roundness", "out_of_round"]
    assert [row["class"] for row in rows] == ["6 mm", None]
    rows = check_rows(checked(lot, "6mm"))
    assert list(rows[0]) == [*start, "decision", "roundness", "out_of_round"]
    assert [row["decision"] for row in rows] == ["conforming", None]


def test_a_lot_without_picks_prints() -> None:
    assert json.loads(to_json(lot_record(sort_lot(lot_of([6.0])), Picks())))["kind"] == "lot"
