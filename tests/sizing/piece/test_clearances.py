"""Does it go through."""

import pytest

from sizing.piece.clearances import Clearance, clearances
from sizing.piece.fit import fit_beads
from sizing.piece.parts import BeadPart, Finding, Kind, Wire
from sizing.piece.piece import Piece, target_from_piece

INCH_MM = 25.4


def checked(
    wire_in: float | None, *, hole_mm: float | None = 1.0, bore_mm: float | None = 1.0, tail_mm: float = 50.8
) -> dict[str, Clearance]:
    piece = Piece(
        beads=(
            BeadPart(along_mm=8, across_mm=8, name="round", hole_mm=hole_mm, count=3),
            BeadPart(along_mm=4, across_mm=4, name="spacer", hole_mm=hole_mm),
            BeadPart(along_mm=8, across_mm=8, name="last", hole_mm=hole_mm, count=2),
        ),
        target_mm={"strung": 180.0},
        findings=(
            Finding(kind=Kind.CRIMP, length_mm=2.0, count=2, bore_mm=bore_mm),
            Finding(kind=Kind.FRENCH_WIRE, length_mm=4.8, bore_mm=bore_mm),
            Finding(kind=Kind.CLASP, length_mm=12.0),
        ),
        wire=Wire(diameter_mm=None if wire_in is None else wire_in * INCH_MM, tail_mm=tail_mm),
    )
    target = target_from_piece(piece)
    assert target is not None
    best, _ = fit_beads(piece, target)
    return {clearance.name.partition(",")[0]: clearance for clearance in clearances(piece, best)}


@pytest.mark.parametrize(
    ("wire_in", "bore_mm"), [(0.014, 0.711), (0.015, 0.762), (0.018, 0.914), (0.019, 0.965), (0.024, 1.219)]
)
def test_two_passes_need_twice_the_wire(wire_in: float, bore_mm: float) -> None:
    # Two circles side by side in a circle; the inch sizes of beading wire in mm.
    assert checked(wire_in, bore_mm=bore_mm + 0.001)["crimp"].fits
    assert not checked(wire_in, bore_mm=bore_mm - 0.001)["crimp"].fits


def test_usual_pairs_of_tube_and_wire() -> None:
    # A 2 x 2 tube of 1.3 mm inside takes up to .024 in, one of 1.0 mm up to .019 in: common practice.
    assert checked(0.024, bore_mm=1.3)["crimp"].fits
    assert checked(0.019, bore_mm=1.0)["crimp"].fits
    assert not checked(0.024, bore_mm=1.0)["crimp"].fits


def test_only_the_end_beads_and_crimps_take_two_passes() -> None:
    found = checked(0.015, hole_mm=0.5)
    assert [found[name].needs_mm for name in ("round", "last", "crimp")] == pytest.approx([0.762] * 3)
    assert [found[name].needs_mm for name in ("spacer", "french wire")] == pytest.approx([0.381] * 2)
    assert not found["round"].fits
    assert found["spacer"].fits
    assert "clasp" not in found


def test_what_is_not_known_is_not_checked() -> None:
    assert checked(0.015, hole_mm=None)["round"].fits is None
    assert "its hole not given" in checked(0.015, hole_mm=None)["round"].sentence
    assert checked(None)["crimp"].fits is None
    assert (
        "the wire's diameter and its inside diameter not given"
        in checked(None, bore_mm=None)["crimp"].sentence
    )


def test_a_tail_must_reach_back_and_be_held() -> None:
    # Two beads of 8 mm, a crimp of 2 mm, 10 mm to hold.
    assert checked(0.015)["tail"].needs_mm == pytest.approx(28.0)
    assert checked(0.015, tail_mm=28.1)["tail"].fits
    assert "27.0 mm (1 1/16 in) is too short" in checked(0.015, tail_mm=27.0)["tail"].sentence
