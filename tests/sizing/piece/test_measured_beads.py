"""Beads of an earlier measurement."""

import json
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from sizing.base.errors import PieceError
from sizing.lot.picks import Picks
from sizing.lot.sorting import sort_lot
from sizing.piece.measured_beads import load_measured
from sizing.piece.stringing import Layout
from sizing.report.records.lot import lot_record
from sizing.report.records.output import to_json
from sizing.report.records.strand import strand_record
from tests.helpers.lots import lot_of
from tests.helpers.strands import make_strand

SUM_MM = 1e-5  # JSON keeps a nanometre
MEAN_MM = 0.05  # the longest and the shortest width of a round bead differ by a little
ROUNDING = 1e-6


def strand_file(tmp_path: Path, along_mm: Sequence[float]) -> Path:
    path = tmp_path / "strand.json"
    path.write_text(to_json(strand_record(make_strand(along_mm))))
    return path


def lot_file(tmp_path: Path, sizes_mm: Sequence[float]) -> Path:
    path = tmp_path / "lot.json"
    path.write_text(to_json(lot_record(sort_lot(lot_of(sizes_mm)), Picks())))
    return path


def test_a_uniform_strand_is_one_bead(tmp_path: Path) -> None:
    along = list(np.random.default_rng(2).normal(6.3, 0.05, 40))
    [bead], layout = load_measured(strand_file(tmp_path, [*along[:5], math.nan, *along[5:]]))
    assert bead.along_mm == pytest.approx(sum(along) / 41, abs=SUM_MM)
    # 0.4 mm on the whole length.
    assert bead.rel_u95 == pytest.approx(0.4 / sum(along), rel=ROUNDING)
    assert layout == Layout()


def test_a_repeat_stays_a_repeat(tmp_path: Path) -> None:
    beads, layout = load_measured(strand_file(tmp_path, [4.0, 5.0, 8.0] * 6))
    assert [bead.along_mm for bead in beads] == pytest.approx([4, 5, 8], abs=SUM_MM)
    assert layout == Layout(symmetric=False)


def test_an_unordered_strand_keeps_its_order(tmp_path: Path) -> None:
    along = [9.8, 5.9, 9.8, 7.9, 5.9, 9.8, 7.9]
    beads, layout = load_measured(strand_file(tmp_path, along))
    assert [bead.along_mm for bead in beads] == pytest.approx(along, abs=SUM_MM)
    assert not layout.whole


def test_a_lot_of_one_size_is_one_bead(tmp_path: Path) -> None:
    sizes = list(np.random.default_rng(4).normal(8.0, 0.05, 30))
    [bead], layout = load_measured(lot_file(tmp_path, sizes))
    assert bead.along_mm == pytest.approx(np.mean(sizes), abs=MEAN_MM)
    assert bead.across_mm == bead.along_mm
    assert not layout.graduated


def test_a_mixed_lot_is_graduated(tmp_path: Path) -> None:
    sizes = [size + jitter for size in (6.0, 8.0, 10.0) for jitter in (-0.05, 0.0, 0.05) for _ in range(4)]
    beads, layout = load_measured(lot_file(tmp_path, sizes))
    assert sorted(bead.along_mm for bead in beads) == pytest.approx([6, 8, 10], abs=MEAN_MM)
    assert layout.graduated


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
    path = lot_file(tmp_path, [8.0] * 12)
    fields = json.loads(path.read_text())
    for bead in fields["beads"][1:]:
        bead["max_feret_mm"] = None
    path.write_text(json.dumps(fields))
    [bead], _ = load_measured(path)
    assert bead.along_mm == pytest.approx(8.0, abs=MEAN_MM)
    fields["beads"][0]["min_feret_mm"] = None
    path.write_text(json.dumps(fields))
    with pytest.raises(PieceError, match="has no bead with a size"):
        load_measured(path)
