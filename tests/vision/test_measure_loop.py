"""Finished pieces from photo to girth: drawn loops of exactly known geometry, with their clasps."""

from typing import Any

import pytest

from tests.synthetic import photos as synthetic
from vision.common.records import Loop, Photo, Strand
from vision.measure import measure_strands

RULER_U_MM = 0.1 / 6**0.5
ROUND_MM = 2.0
"""A third of the step between sizes of bracelets, 1/4 in (common practice, no source)."""
DRAWN: dict[str, dict[str, Any]] = {
    "rounds of 8 mm with spacers": {"seed": 41, "look": "gloss", "bed": "white", "nominal_mm": 8.0},
    "rounds of 12 mm with covers, and a chain": {
        "seed": 43, "look": "opaque", "bed": "grey", "nominal_mm": 12.0,
    },
}  # fmt: skip


@pytest.fixture(scope="module", params=DRAWN)
def measured(request: pytest.FixtureRequest) -> tuple[Strand, dict[str, Any]]:
    """Draw a loop and measure it; return it with what is true of it."""
    conditions = dict(DRAWN[request.param])
    scene = synthetic.plan(
        conditions.pop("seed"), mode="loop", sheet="mat-a4", shape="round", fault="none", count=60,
        size_px=(2016, 1512), focal_35mm=26.0, exif=True, print_scale=1.0, **conditions,
    )  # fmt: skip
    drawn = synthetic.draw(scene)
    strands = measure_strands(
        Photo(name="loop.jpg", rgb=drawn.rgb, focal_35mm=26.0),
        check_length_mm=273.0,
        check_length_u_mm=RULER_U_MM,
        bed_height_mm=drawn.truth["bed_height_mm"],
    )
    return strands[0], drawn.truth


def loop_of(strand: Strand) -> Loop:
    assert strand.loop is not None
    return strand.loop


def test_a_drawn_loop_is_closed_and_its_beads_are_counted(measured: tuple[Strand, dict[str, Any]]) -> None:
    strand, truth = measured
    assert loop_of(strand).clasp_mm > 0
    assert strand.count == sum(row["kind"] == "bead" for row in truth["beads"])


def test_a_drawn_loop_is_as_long_all_round_as_its_string(measured: tuple[Strand, dict[str, Any]]) -> None:
    strand, truth = measured
    off_mm = loop_of(strand).around_mm - truth["loop"]["axis_mm"]
    assert abs(off_mm) < min(ROUND_MM, loop_of(strand).around_u95_mm)


def test_the_girth_inside_a_drawn_loop_lies_within_what_is_stated(
    measured: tuple[Strand, dict[str, Any]],
) -> None:
    strand, truth = measured
    off_mm = loop_of(strand).inner_girth_mm - truth["loop"]["inner_girth_mm"]
    assert abs(off_mm) < loop_of(strand).inner_girth_u95_mm


def test_a_chain_is_measured_where_one_hangs(measured: tuple[Strand, dict[str, Any]]) -> None:
    strand, truth = measured
    assert (loop_of(strand).extender_mm is None) == (truth["loop"]["extender_mm"] == 0)


def test_the_strung_length_of_a_drawn_loop_allows_for_covers_that_are_not_told_from_the_clasp(
    measured: tuple[Strand, dict[str, Any]],
) -> None:
    strand, truth = measured
    assert abs(strand.length_mm - truth["loop"]["strung_mm"]) < strand.length_u95_mm
