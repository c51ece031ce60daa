"""A finished piece compared with its plan."""

import math
from dataclasses import replace

import pytest

from sizing.base.loop import Link
from sizing.report.sentences.loop import verdict_said
from sizing.strand.planned import Compared, Planned, PlannedBeads, compare_with_plan
from tests.helpers.strands import make_loop
from vision.common.records import Doubt, Strand

MM = 1e-9
BEAD = PlannedBeads(name="bead 8 mm", link=Link(along_mm=8.0, across_mm=8.0), count=20)
SPACER = PlannedBeads(name="spacer 2 mm", link=Link(along_mm=2.0, across_mm=5.0), count=10)


def planned(*beads: PlannedBeads, findings_mm: float = 12.0) -> Planned:
    strung_mm = sum(each.count * each.link.along_mm for each in beads)
    return Planned(
        beads=beads,
        strung_mm=strung_mm,
        strung_u95_mm=0.0,
        findings_mm=findings_mm,
        inner_girth_mm=strung_mm + findings_mm - 8.0 * math.pi,
        inner_girth_u95_mm=0.0,
    )


def lines(strand: Strand, plan: Planned) -> dict[str, Compared]:
    assert strand.loop is not None
    return {line.name: line for line in compare_with_plan(strand, strand.loop, plan)}


def test_a_piece_strung_as_planned_differs_in_no_line() -> None:
    found = lines(make_loop([8.0] * 20, clasp_mm=12.0), planned(BEAD))
    assert list(found) == ["bead 8 mm", "strung length", "clasp and findings", "all round", "inside"]
    assert all(line.as_planned for line in found.values())
    assert all(line.found == pytest.approx(line.planned, abs=MM) for line in found.values())


def test_a_bead_too_few_shows_in_count_and_lengths_but_not_in_the_clasp() -> None:
    found = lines(make_loop([8.0] * 19, clasp_mm=12.0), planned(BEAD))
    assert {name for name, line in found.items() if line.as_planned} == {"clasp and findings"}
    assert found["bead 8 mm"].found == 19
    assert found["all round"].found == pytest.approx(found["all round"].planned - 8.0, abs=MM)


def test_each_bead_counts_for_the_planned_size_that_it_is_nearest_to() -> None:
    sizes = [7.9, 8.1, 2.2] * 10
    found = lines(make_loop(sizes, kinds=["bead", "bead", "spacer"]), planned(BEAD, SPACER))
    assert (found["bead 8 mm"].found, found["spacer 2 mm"].found) == (20, 10)


def test_covers_count_with_the_clasp_as_plans_have_them_among_the_findings() -> None:
    strand = make_loop([3.0, *[8.0] * 20, 3.0], clasp_mm=12.0, kinds=["cover", *["bead"] * 20, "cover"])
    found = lines(strand, planned(BEAD, findings_mm=18.0))
    assert all(line.as_planned for line in found.values())
    assert found["bead 8 mm"].found == 20
    assert found["clasp and findings"].found == pytest.approx(18.0, abs=MM)


def test_what_is_surely_too_much_is_said_where_the_count_is_open() -> None:
    strand = replace(make_loop([8.0] * 25), doubts=(Doubt(place="bead", number=4, beads=-2),))
    assert verdict_said(lines(strand, planned(BEAD))["bead 8 mm"]) == "at least 3 too many"
    assert verdict_said(lines(make_loop([8.0] * 25), planned(BEAD))["bead 8 mm"]) == "5 too many"


def test_what_is_doubted_of_the_count_is_no_difference() -> None:
    strand = replace(make_loop([8.0] * 21), doubts=(Doubt(place="bead", number=4, beads=-1),))
    line = lines(strand, planned(BEAD))["bead 8 mm"]
    assert (line.found, line.least, line.most, line.as_planned) == (21, 20, 21, True)
