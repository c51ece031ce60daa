"""Beads of an earlier measurement."""

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sizing.base.errors import PieceError
from sizing.corrections.lots import correct_lot
from sizing.corrections.strands import correct_strands
from sizing.lot.picks import Picks
from sizing.lot.sorting import sort_lot
from sizing.piece.measured_beads import load_measured
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.piece.stringing import Layout
from sizing.report.records.lot import lot_record
from sizing.report.records.output import to_json
from sizing.report.records.strand import strand_record
from sizing.strand.sized import size_strands
from tests.helpers.lots import lot_of
from tests.helpers.strands import make_strand, numbered_on
from vision.common.corrections import Correction
from vision.common.records import Strand

SUM_MM = 1e-5  # JSON keeps a nanometre
MEAN_MM = 0.05  # the longest and the shortest width of a round bead differ by a little
ROUNDING = 1e-6
EDGES_SHARE = 0.2  # what the edges of beads, known to 0.1 mm, add to the scale


def strand_file(tmp_path: Path, *strands_mm: Sequence[float]) -> Path:
    path = tmp_path / "strand.json"
    return saved(path, numbered_on(*map(make_strand, strands_mm)))


def saved(path: Path, strands: Sequence[Strand]) -> Path:
    path.write_text(to_json(strand_record(size_strands(strands))))
    return path


def lot_file(tmp_path: Path, sizes_mm: Sequence[float]) -> Path:
    path = tmp_path / "lot.json"
    path.write_text(to_json(lot_record(sort_lot(lot_of(sizes_mm)), Picks())))
    return path


def test_a_uniform_strand_is_one_bead(tmp_path: Path) -> None:
    along = list(np.random.default_rng(2).normal(6.3, 0.05, 40))
    measured = load_measured(strand_file(tmp_path, [*along[:5], math.nan, *along[5:]]))
    [bead] = measured.beads
    assert bead.along_mm == pytest.approx(sum(along) / 41, abs=SUM_MM)
    # 0.4 mm on the whole length.
    assert bead.rel_u95 == pytest.approx(0.4 / sum(along), rel=ROUNDING)
    assert (bead.have, measured.layout) == (41, Layout())


def test_strands_of_one_size_are_taken_together(tmp_path: Path) -> None:
    measured = load_measured(strand_file(tmp_path, [6.0] * 20, [6.1] * 10))
    [bead] = measured.beads
    assert bead.along_mm == pytest.approx((20 * 6.0 + 10 * 6.1) / 30, abs=SUM_MM)
    assert (bead.have, measured.layout, measured.remarks) == (30, Layout(), ())
    assert bead.rel_u95 == pytest.approx(0.4 / 61, rel=ROUNDING)  # that of the shorter strand


def test_of_strands_of_several_sizes_the_first_is_taken_and_named(tmp_path: Path) -> None:
    measured = load_measured(strand_file(tmp_path, [4.0, 5.0, 8.0] * 4, [6.0] * 20))
    assert [bead.along_mm for bead in measured.beads] == pytest.approx([4, 5, 8], abs=SUM_MM)
    assert measured.remarks == ("Planned with strand 1 of 2: not all beads are of one size.",)


def test_a_file_of_one_strand_from_before_several_were_saved_is_read(tmp_path: Path) -> None:
    path = strand_file(tmp_path, [6.0] * 20)
    fields = json.loads(path.read_text())
    del fields["strands"]
    path.write_text(json.dumps(fields))
    [bead] = load_measured(path).beads
    assert bead.have == 20


def test_a_repeat_stays_a_repeat(tmp_path: Path) -> None:
    measured = load_measured(strand_file(tmp_path, [4.0, 5.0, 8.0] * 6))
    assert [bead.along_mm for bead in measured.beads] == pytest.approx([4, 5, 8], abs=SUM_MM)
    assert [bead.have for bead in measured.beads] == [6, 6, 6]
    assert measured.layout == Layout(symmetric=False)


def test_places_of_a_repeat_that_hold_the_same_bead_are_one_kind(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    along = np.array([8.0, 8.0, 8.0, 4.0] * 6) + rng.normal(0, 0.03, 24)
    beads = load_measured(strand_file(tmp_path, list(along))).beads
    assert [bead.name for bead in beads] == ["8 mm", "8 mm", "8 mm", "4 mm"]
    assert beads[0] == beads[1] == beads[2]
    assert (beads[0].have, beads[3].have) == (18, 6)


def test_an_unordered_strand_keeps_its_order_in_few_kinds(tmp_path: Path) -> None:
    along = [9.82, 5.88, 9.79, 7.9, 5.92, 9.8, 7.9]
    measured = load_measured(strand_file(tmp_path, along))
    assert [bead.name for bead in measured.beads] == [f"{size} mm" for size in (10, 6, 10, 8, 6, 10, 8)]
    assert len(set(measured.beads)) == 3
    assert {bead.name: bead.have for bead in measured.beads} == {"10 mm": 3, "8 mm": 2, "6 mm": 2}
    assert sum(bead.along_mm for bead in measured.beads) == pytest.approx(sum(along), abs=SUM_MM)
    assert not measured.layout.whole


def test_a_strand_whose_sizes_run_on_is_divided_at_the_usual_sizes(tmp_path: Path) -> None:
    half = [4.0 + 0.25 * step for step in range(13)]
    measured = load_measured(strand_file(tmp_path, half + half[-2::-1]))
    names = {bead.name for bead in measured.beads}
    assert names == {"4 mm", "5 mm", "6 mm", "7 mm"}


def test_a_lot_of_one_size_is_one_bead(tmp_path: Path) -> None:
    sizes = list(np.random.default_rng(4).normal(8.0, 0.05, 30))
    measured = load_measured(lot_file(tmp_path, sizes))
    [bead] = measured.beads
    assert bead.along_mm == pytest.approx(np.mean(sizes), abs=MEAN_MM)
    assert bead.across_mm == bead.along_mm
    assert bead.have == 30
    assert not measured.layout.graduated


def test_a_lot_of_one_size_between_two_classes_is_one_bead(tmp_path: Path) -> None:
    measured = load_measured(lot_file(tmp_path, [7.4, 7.45, 7.5, 7.55, 7.6]))
    assert [bead.have for bead in measured.beads] == [5]


def test_a_mixed_lot_is_graduated(tmp_path: Path) -> None:
    sizes = [size + jitter for size in (6.0, 8.0, 10.0) for jitter in (-0.05, 0.0, 0.05) for _ in range(4)]
    measured = load_measured(lot_file(tmp_path, [*sizes, 4.0]))
    assert [bead.along_mm for bead in measured.beads] == pytest.approx([6, 8, 10], abs=MEAN_MM)
    assert [(bead.name, bead.have) for bead in measured.beads] == [("6 mm", 12), ("8 mm", 12), ("10 mm", 12)]
    assert measured.layout.graduated
    assert measured.remarks == ("Left out, as there is only one of its size: the bead of 4 mm.",)


def test_the_scale_does_not_average_out(tmp_path: Path) -> None:
    # A scale known to 1 %, half-width a of a rectangular distribution: u = a / sqrt 3 (JCGM 100:2008, 4.3.7).
    # It is common to all beads (5.2.2, correlated input quantities) and adds up over any length of them.
    u = 0.01 / math.sqrt(3)
    lot = lot_of([6.0] * 14 + [8.0] * 19 + [10.0] * 19, u95_mm=0.12, scale_rel_u=u)
    path = tmp_path / "lot.json"
    path.write_text(to_json(lot_record(sort_lot(lot), Picks())))
    measured = load_measured(path)
    piece = Piece(beads=measured.beads, layout=measured.layout, target_mm={"strung": 900.0}, findings=())
    best = make_plan(piece).best
    assert best.strung_u95_mm >= 2 * u * best.strung_mm
    assert best.strung_u95_mm == pytest.approx(2 * u * best.strung_mm, rel=EDGES_SHARE)
    # All beads grow together, so the inside grows in proportion (similar figures).
    assert best.inner_girth_u95_mm / best.inner_girth_mm == pytest.approx(
        best.strung_u95_mm / best.strung_mm, rel=EDGES_SHARE
    )


def test_a_number_of_beads_that_was_not_certain_is_said(tmp_path: Path) -> None:
    path = lot_file(tmp_path, [8.0] * 12)
    fields = json.loads(path.read_text())
    fields["lot"]["flags"] = ["unsure-count"]
    path.write_text(json.dumps(fields))
    [remark] = load_measured(path).remarks
    assert remark.startswith("On the photo the number of beads is not certain")


def test_what_was_put_right_goes_with_the_plan(tmp_path: Path) -> None:
    said = [Correction(action="no bead", numbers=(1,)), Correction(action="spacer", numbers=(4,))]
    path = saved(tmp_path / "strand.json", correct_strands([make_strand([8.0] * 12)], said[:1]))
    measured = load_measured(path)
    assert measured.beads[0].have == 11
    assert measured.remarks == ("Of that measurement 1 thing was put right by hand.",)
    path.write_text(to_json(lot_record(sort_lot(correct_lot(lot_of([8.0] * 12), said)), Picks())))
    measured = load_measured(path)
    assert measured.beads[0].have == 10
    assert measured.remarks == ("Of that measurement 2 things were put right by hand.",)


@pytest.mark.parametrize("conditions", [{"check_length_given": False}, {"questioned": ("bed-height",)}])
def test_a_scale_that_was_not_checked_is_said(tmp_path: Path, conditions: dict[str, Any]) -> None:
    strand = make_strand([8.0] * 20)
    unchecked = replace(strand, conditions=replace(strand.conditions, **conditions))
    path = tmp_path / "strand.json"
    path.write_text(to_json(strand_record(size_strands([unchecked]))))
    [remark] = load_measured(path).remarks
    assert remark.startswith("Not certain: the scale of that measurement was not checked.")
    path.write_text(to_json(strand_record(size_strands([strand]))))
    assert load_measured(path).remarks == ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "no json",
            r"is not a saved measurement: make one with strandgauge strand PHOTO --json > saved.json",
        ),
        ('{"beads": [{}]}', "is not a saved measurement"),
        ('{"kind": "plan"}', "is not a saved measurement"),
        ("[]", "is not a saved measurement"),
        ("[" * 100_000, "is not a saved measurement"),
        ('{"beads": []}', "has no beads"),
    ],
)
def test_anything_else_is_refused_in_one_line(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "saved.json"
    path.write_text(text)
    with pytest.raises(PieceError, match=message):
        load_measured(path)
    with pytest.raises(PieceError, match="cannot be read"):
        load_measured(tmp_path / "none.json")


def test_beads_without_a_size_do_not_count(tmp_path: Path) -> None:
    measured = load_measured(lot_file(tmp_path, [8.0, *[math.nan] * 11]))
    [bead] = measured.beads
    assert bead.along_mm == pytest.approx(8.0, abs=MEAN_MM)
    assert (bead.have, measured.remarks) == (1, ("Not counted: 11 beads without a measured size.",))
    with pytest.raises(PieceError, match="has no bead with a size"):
        load_measured(lot_file(tmp_path, [math.nan] * 3))


@pytest.mark.parametrize("size", ["0", "-8", "NaN", "1e999", '"8"', "1" * 400])
def test_sizes_that_are_none_are_refused_in_one_line(tmp_path: Path, size: str) -> None:
    path = strand_file(tmp_path, [6.4] * 30)
    text = path.read_text()
    assert text.count('"along_mm": 6.4,') == 30
    path.write_text(text.replace('"along_mm": 6.4,', f'"along_mm": {size},', 1))
    with pytest.raises(PieceError, match=r"^[^\n]*is not a saved measurement[^\n]*$"):
        load_measured(path)


def test_beads_of_a_size_that_none_has_are_refused(tmp_path: Path) -> None:
    with pytest.raises(PieceError, match=r"strand.json: a bead of 6400.0 mm is not between 0.5 and 100 mm"):
        load_measured(strand_file(tmp_path, [6400.0] * 5))


def test_what_is_doubted_of_a_strands_ends_makes_no_bead_less_certain(tmp_path: Path) -> None:
    path = strand_file(tmp_path, [8.0] * 20)
    fields = json.loads(path.read_text())
    [sure] = load_measured(path).beads
    [strand] = fields["strands"]
    strand |= {
        "closed_up_u95_mm": None,
        "length_u95_mm": None,
        "cut_by": ["left"],
        "flags": ["cut-off"],
    }
    path.write_text(json.dumps(fields))
    [doubted] = load_measured(path).beads
    along = strand["along"]
    assert doubted.rel_u95 == along["mean_u95_mm"] / along["mean_mm"] > 0
    assert doubted.along_mm == sure.along_mm


def test_spacers_of_a_saved_strand_are_planned_between_its_beads_and_covers_are_not(tmp_path: Path) -> None:
    """Covers of 3 mm about 8 repeats of two beads of 8 mm and a spacer of 2 mm."""
    kinds = ["cover", *["bead", "bead", "spacer"] * 8, "cover"]
    strand = make_strand([3.0, *[8.0, 8.0, 2.0] * 8, 3.0], kinds=kinds)
    found = load_measured(saved(tmp_path / "strand.json", [strand]))
    assert [part.along_mm for part in found.beads] == pytest.approx([8.0, 8.0, 2.0], abs=SUM_MM)
    assert [part.have for part in found.beads] == [16, 16, 8]


def test_covers_of_a_saved_strand_do_not_make_its_beads_longer(tmp_path: Path) -> None:
    strand = make_strand([3.0, *[8.0] * 20, 3.0], kinds=["cover", *["bead"] * 20, "cover"])
    (bead,) = load_measured(saved(tmp_path / "strand.json", [strand])).beads
    assert (bead.along_mm, bead.have) == (pytest.approx(8.0, abs=SUM_MM), 20)
