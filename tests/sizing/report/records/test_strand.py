"""A strand as JSON and CSV keeps what the command line promises."""

import csv
import io
import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sizing.base.target import make_target
from sizing.report.records.field import Record
from sizing.report.records.output import to_csv, to_json
from sizing.report.records.strand import strand_record, strand_rows
from sizing.strand.sized import size_strands
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.flags import CUT_OFF, IRREGULAR, UNMEASURED
from vision.common.records import Other, Pendant

MM = 1e-6


def parsed(record: Record) -> dict[str, Any]:
    """Read as RFC 8259 does, without JavaScript's NaN and Infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    result: dict[str, Any] = json.loads(to_json(record), parse_constant=refuse)
    return result


def test_a_strand_has_every_promised_field() -> None:
    strand = make_strand([6.0, 6.2], across_mm=[6.5, 6.6], flags={2: ("odd-size",)}, gap_mm=1.5)
    data = parsed(strand_record(size_strands([strand])))
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


def test_a_part_says_what_it_is() -> None:
    sized = size_strands([make_strand([3.0, 8.0, 2.0, 8.0], kinds=["cover", "bead", "spacer", "bead"])])
    data = parsed(strand_record(sized))
    assert [bead["kind"] for bead in data["beads"]] == ["cover", "bead", "spacer", "bead"]
    assert [data["strand"][key] for key in ("count", "spacers", "covers")] == [2, 1, 1]
    assert [row["kind"] for row in strand_rows(sized)] == ["cover", "bead", "spacer", "bead"]


def test_a_loop_says_what_hangs_from_it_and_what_lies_beside() -> None:
    strand = make_loop([8.0] * 20)
    nothing = np.zeros((0, 2))
    pendant = Pendant(centre_px=(50.0, 60.0), across_mm=6.0, along_mm=7.0, outline_px=nothing)
    others = (Other(centre_px=(10.0, 20.0), kind="stray", outline_px=nothing),)
    assert strand.loop is not None
    loop = replace(strand.loop, pendant=pendant, extender_mm=35.0)
    bare, full = (
        parsed(strand_record(size_strands([each])))
        for each in (strand, replace(strand, loop=loop, others=others))
    )
    assert (bare["others"], bare["strand"]["pendant"], bare["strand"]["extender_mm"]) == ([], None, None)
    assert full["others"] == [{"px": [10.0, 20.0], "kind": "stray"}]
    assert full["strand"]["pendant"] == {"px": [50.0, 60.0], "across_mm": 6.0, "along_mm": 7.0}
    assert full["strands"][0]["extender_mm"] == 35.0


def test_strands_that_are_not_measured_stand_with_their_reasons() -> None:
    strand = replace(make_strand([6.0] * 5), refused=("the picture is blurred",))
    assert parsed(strand_record(size_strands([strand])))["refused"] == ["the picture is blurred"]


def test_without_a_target_there_is_no_sizing() -> None:
    assert parsed(strand_record(size_strands([make_strand([6.0] * 5)])))["sizing"] is None


def test_with_a_target_there_is_a_change() -> None:
    strand = make_strand([8.0] * 20)
    target = make_target({"strung": 144.0})
    assert target is not None
    sizing = parsed(strand_record(size_strands([strand], target)))["sizing"]
    assert sizing["change_beads"] == -2
    assert sizing["best"]["strung_mm"] == pytest.approx(144.0, abs=MM)
    assert sizing["sentence"].startswith("Remove 2 beads")


def test_one_bead_has_no_other_way() -> None:
    strand = make_strand([8.0])
    target = make_target({"strung": 4.0})
    assert target is not None
    sizing = parsed(strand_record(size_strands([strand], target)))["sizing"]
    assert (sizing["beyond"], sizing["margin_mm"]) == (None, None)


def test_a_size_that_could_not_be_measured_is_null() -> None:
    strand = make_strand([6.0, math.nan, 6.0], flags={2: (UNMEASURED,)})
    bead = parsed(strand_record(size_strands([strand])))["beads"][1]
    assert bead["along_mm"] is None
    assert bead["flags"] == ["unmeasured"]


def test_several_strands_stand_one_after_the_other() -> None:
    strands = numbered_on(make_strand([6.0] * 3), make_strand([8.0] * 2, gap_mm=1.5))
    data = parsed(strand_record(size_strands(strands)))
    assert [(bead["number"], bead["strand"], bead["kind"]) for bead in data["beads"]] == [
        (1, 1, "bead"),
        (2, 1, "bead"),
        (3, 1, "bead"),
        (4, 2, "bead"),
        (5, 2, "bead"),
    ]
    first, second = data["strands"]
    assert (first["number"], first["count"], first["length_mm"], first["closed"]) == (1, 3, 18.0, False)
    assert (second["number"], second["count"], second["length_mm"]) == (2, 2, 17.5)
    assert (second["closed_up_mm"], second["around_mm"], second["inner_girth_mm"]) == (16.0, None, None)
    follows = {"sizing", "fit", "compared", "nested"}
    assert data["strand"] == {key: first[key] for key in first if key not in follows}
    assert (data["nested"], first["nested"]) == (None, None)


def test_strands_one_around_the_other_have_their_places() -> None:
    """Two of 7 mm beads, for 140 mm: the outer string is 2 pi 7 mm longer, 183.98 mm."""
    strands = numbered_on(make_strand([7.0] * 25), make_strand([7.0] * 20))
    target = make_target({"strung": 140.0})
    assert target is not None
    data = parsed(strand_record(size_strands(strands, replace(target, step_mm=0.0))))
    outer, inner = (each["nested"] for each in data["strands"])
    assert (inner["place"], inner["around"], inner["step_mm"], inner["strung_mm"]) == (1, 0, 0.0, 140.0)
    assert (outer["place"], outer["around"]) == (2, 2)
    lengths = (outer["step_mm"], outer["needed_mm"], outer["strung_mm"])
    assert lengths == pytest.approx((43.982, 43.982, 183.982), abs=1e-3)
    assert data["strands"][0]["sizing"]["target"]["longer_u95_mm"] == outer["needed_u95_mm"] > 0.0
    whole = data["nested"]
    # 183.98 mm is nearest to 26 beads, 182 mm.
    assert (whole["order"], whole["beads"], whole["strung_mm"], whole["step_mm"]) == ([2, 1], 46, 322.0, 0.0)


def test_each_strand_has_its_advice_and_sizing_is_that_of_the_first() -> None:
    strands = numbered_on(make_strand([8.0] * 20), make_strand([8.0] * 17))
    data = parsed(strand_record(size_strands(strands, make_target({"strung": 144.0}))))
    assert [each["sizing"]["change_beads"] for each in data["strands"]] == [-2, 1]
    assert data["sizing"] == data["strands"][0]["sizing"]
    assert [each["fit"] for each in data["strands"]] == [None, None]


def test_a_closed_loop_is_measured_all_round_and_gets_no_advice() -> None:
    # 22 rounds of 8 mm and a clasp of 12 mm: 188 mm round, and pi 8 mm less inside (Steiner's formula).
    data = parsed(strand_record(size_strands([make_loop([8.0] * 22)], make_target({"wrist": 140.0}))))
    [loop] = data["strands"]
    assert loop["closed"] is True
    assert (loop["length_mm"], loop["around_mm"], loop["clasp_mm"]) == (176.0, 188.0, 12.0)
    assert loop["inner_girth_mm"] == pytest.approx(188.0 - 8 * math.pi, abs=MM)
    assert (loop["around_u95_mm"], loop["inner_girth_u95_mm"]) == (0.6, 0.6)
    assert (loop["pendant"], loop["extender_mm"], loop["sizing"], data["sizing"]) == (None,) * 4
    # Usual ease of a wrist is 1/4 inch (6.35 mm).
    assert loop["fit"]["miss_mm"] == pytest.approx(188.0 - 8 * math.pi - 146.35, abs=MM)
    assert loop["fit"]["change_beads"] == -2


def test_an_uncertainty_without_bounds_is_null() -> None:
    cut = replace(make_strand([6.0] * 3), length_u95_mm=math.inf, cut_by=("left",), flags=(CUT_OFF,))
    [strand] = parsed(strand_record(size_strands([cut])))["strands"]
    assert (strand["length_u95_mm"], strand["most_count"], strand["flags"]) == (None, None, ["cut-off"])


def test_csv_has_a_row_a_bead_in_order() -> None:
    strand = make_strand([6.0, 6.25], across_mm=[7.0, 7.5], gap_mm=0.5, flags={2: (UNMEASURED, IRREGULAR)})
    first, second = csv.DictReader(
        io.StringIO(to_csv(strand_rows(size_strands([strand]))), newline=""), strict=True
    )
    assert first == {
        "photo": "strand.jpg",
        "number": "1",
        "strand": "1",
        "kind": "bead",
        "across_mm": "7.000",
        "across_u95_mm": "0.080",
        "along_mm": "6.000",
        "along_u95_mm": "0.080",
        "gap_after_mm": "0.500",
        "x_px": "100.000",
        "y_px": "400.000",
        "colour": "#283c78",
        "flags": "",
        "was": "",
    }
    assert (second["along_mm"], second["flags"]) == ("6.250", "unmeasured irregular")
