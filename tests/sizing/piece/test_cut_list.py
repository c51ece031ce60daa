"""What to cut and what to buy."""

import pytest

from sizing.piece.cut_list import cut_list, purchases, wire_mm
from sizing.piece.fit import Fit, fit_beads
from sizing.piece.parts import BeadPart, Finding, Kind, Wire
from sizing.piece.piece import Piece, target_from_piece

INCH_MM = 25.4
SUM_MM = 1e-6


def fitted(piece: Piece) -> Fit:
    target = target_from_piece(piece)
    assert target is not None
    return fit_beads(piece, target)[0]


def test_wire_for_a_sixteen_inch_necklace() -> None:
    # The Spruce Crafts, "How to string beads with beading wire": 15.25 in strung, 25.25 in of wire.
    piece = Piece(
        beads=(BeadPart(along_mm=15.25 * INCH_MM / 61, across_mm=6.0),),
        target_mm={"finished": 16 * INCH_MM},
        findings=(Finding(kind=Kind.CLASP, length_mm=0.75 * INCH_MM),),
        wire=Wire(tail_mm=5 * INCH_MM, loop_mm=0.0),
    )
    assert wire_mm(piece, fitted(piece)) == pytest.approx(25.25 * INCH_MM, abs=SUM_MM)


def test_wire_for_a_bracelet() -> None:
    # 2 in beyond the strand at each end, so a 5 1/2 in strand takes about 10 in: common practice, no source.
    piece = Piece(
        beads=(BeadPart(along_mm=5.5 * INCH_MM / 22, across_mm=6.0),), target_mm={"strung": 5.5 * INCH_MM}
    )
    assert wire_mm(piece, fitted(piece)) == pytest.approx(10 * INCH_MM, abs=SUM_MM)


def test_everything_that_is_cut_is_listed() -> None:
    piece = Piece(
        beads=(BeadPart(along_mm=8, across_mm=8),),
        target_mm={"strung": 160.0},
        findings=(
            Finding(kind=Kind.CLASP, length_mm=12.0),
            Finding(kind=Kind.FRENCH_WIRE, length_mm=4.8, cut_mm=9.525, count=2),
            Finding(kind=Kind.EXTENDER, length_mm=50.8, name="cable chain"),
            Finding(kind=Kind.HEADPIN, length_mm=0.0, cut_mm=25.0),
            Finding(kind=Kind.HEADPIN, length_mm=0.0),
        ),
    )
    listed = [(cut.name, cut.count, cut.length_mm) for cut in cut_list(piece, fitted(piece))]
    assert listed == [
        ("wire", 1, pytest.approx(160 + 2 * 57.15)),
        ("french wire", 2, 9.525),
        ("cable chain", 1, 50.8),
        ("headpin", 1, 25.0),
    ]


@pytest.mark.parametrize(
    ("spare", "to_buy", "strands"),
    [(0.0, 50, 1), (0.02, 51, 2), (0.05, 53, 2), (1.0, 100, 2), (1.02, 101, 3)],
)
def test_beads_to_buy(spare: float, to_buy: int, strands: int) -> None:
    # A 16-inch strand holds 50 beads of 8 mm: International Gem Society, bead and necklace size charts.
    piece = Piece(beads=(BeadPart(along_mm=8, across_mm=8),), target_mm={"strung": 400.0}, spare=spare)
    [bought] = purchases(piece, fitted(piece))
    assert (bought.strung, bought.per_strand) == (50, 50)
    assert (bought.to_buy, bought.strands) == (to_buy, strands)


@pytest.mark.parametrize(
    ("have", "lacking", "to_buy", "strands"), [(0, 50, 53, 2), (40, 10, 11, 1), (50, 0, 0, 0), (90, 0, 0, 0)]
)
def test_beads_that_are_there_are_not_bought(have: int, lacking: int, to_buy: int, strands: int) -> None:
    bead = BeadPart(along_mm=8, across_mm=8, have=have)
    piece = Piece(beads=(bead,), target_mm={"strung": 400.0}, spare=0.05)
    [bought] = purchases(piece, fitted(piece))
    assert (bought.strung, bought.lacking, bought.to_buy, bought.strands) == (50, lacking, to_buy, strands)
