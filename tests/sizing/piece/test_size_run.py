"""The same piece for a run of sizes."""

import pytest

from sizing.base.errors import TargetError
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece, target_from_piece
from sizing.piece.size_run import SizeRow, size_run

SUM_MM = 1e-6


def run(sizes: str, **target_mm: float) -> tuple[SizeRow, ...]:
    piece = Piece(beads=(BeadPart(along_mm=6, across_mm=6),), target_mm=target_mm, sizes=sizes)
    target = target_from_piece(piece)
    assert target is not None
    return size_run(piece, target)


def test_by_percentiles() -> None:
    # ANSUR II, women's wrists: P5 142.2, P25 150, P50 154, P75 160, P95 168 mm.
    rows = run("women", wrist=150.0)
    assert [row.label for row in rows] == ["women P5", "women P25", "women P50", "women P75", "women P95"]
    assert [row.target.length_mm for row in rows] == pytest.approx([142.2, 150, 154, 160, 168], abs=SUM_MM)
    counts = [row.fit.count for row in rows]
    assert counts == sorted(counts)
    assert [row.wire_mm - row.fit.strung_mm for row in rows] == pytest.approx([114.3] * 5)


@pytest.mark.parametrize("sizes", ["6 in, 6.5in, 7 in", "6in,6.5in,7in", "6 in; 6 1/2 in; 7 in"])
def test_by_a_typed_list(sizes: str) -> None:
    assert [row.target.length_mm for row in run(sizes, wrist=150.0)] == pytest.approx([152.4, 165.1, 177.8])


def test_a_decimal_comma_is_no_separator() -> None:
    assert [row.target.length_mm for row in run("16,5 cm, 17 cm", finished=170.0)] == pytest.approx(
        [165, 170]
    )


def test_no_sizes_no_rows() -> None:
    assert run("", wrist=150.0) == ()


def test_says_what_is_wrong_with_a_size() -> None:
    with pytest.raises(
        TargetError, match="sizes: 7 has no unit: write 7mm, 7cm or 7in; or write women or men"
    ):
        run("6in, 7", wrist=150.0)
    with pytest.raises(TargetError, match="sizes for men need a wrist, an ankle or a neck"):
        run("Men", finished=150.0)
