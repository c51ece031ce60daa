"""The JSON keeps what the command line promises."""

import json
import math
from typing import Any

import pytest

from sizing.base.target import make_target
from sizing.report.json_strand import lot_fields, strand_fields, to_json
from sizing.strand.advice import advise
from tests.helpers.lots import lot_of
from tests.helpers.strands import make_strand
from vision.common.flags import UNMEASURED
from vision.common.records import Lot

MM = 1e-6


def parsed(fields: dict[str, object]) -> dict[str, Any]:
    """Read as RFC 8259 does, without JavaScript's NaN and Infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    result: dict[str, Any] = json.loads(to_json(fields), parse_constant=refuse)
    return result


def test_strand_has_every_promised_field() -> None:
    strand = make_strand([6.0, 6.2], across_mm=[6.5, 6.6], flags={2: ("odd-size",)}, gap_mm=1.5)
    data = parsed(strand_fields(strand))
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
    assert parsed(strand_fields(make_strand([6.0] * 5)))["sizing"] is None


def test_with_a_target_the_change_is_told() -> None:
    strand = make_strand([6.0] * 30)
    target = make_target({"strung": 168.0})
    assert target is not None
    assert parsed(strand_fields(strand, advise(strand, target)))["sizing"]["change_beads"] == -2


def test_size_that_could_not_be_measured_is_null() -> None:
    strand = make_strand([6.0, math.nan, 6.0], flags={2: (UNMEASURED,)})
    bead = parsed(strand_fields(strand))["beads"][1]
    assert bead["along_mm"] is None
    assert bead["flags"] == ["unmeasured"]


def test_lot_has_every_promised_field() -> None:
    data = parsed(lot_fields(lot_of([6.0, 7.0], [6.5, 7.5])))
    bead = data["beads"][1]
    assert bead["number"] == 2
    assert (bead["min_feret_mm"], bead["max_feret_mm"]) == (7.0, 7.5)
    assert (bead["min_feret_u95_mm"], bead["max_feret_u95_mm"]) == (0.06, 0.06)
    assert bead["flags"] == []
    assert len(bead["px"]) == 2
    assert bead["photo"] == "lot.jpg"
    assert data["lot"] == {"count": 2, "flat": False, "flags": []}
    assert data["sheet"]["tags_found"] == 26


def test_several_photos_are_all_told() -> None:
    one, two = lot_of([6.0]), lot_of([7.0])
    both = Lot(conditions=one.conditions + two.conditions, beads=one.beads + two.beads)
    assert len(parsed(lot_fields(both))["photos"]) == 2
