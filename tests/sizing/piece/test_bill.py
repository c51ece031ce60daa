"""Mass, cost and price."""

from dataclasses import replace

import pytest

from sizing.piece.bill import Cost, price, weigh
from sizing.piece.fit import Fit, fit_beads
from sizing.piece.parts import BeadPart, Finding, Kind, Wire, Work
from sizing.piece.piece import Piece, target_from_piece

CENT = 0.005
EXACT = 1e-9  # of an amount in whole cents
TABLE_G = 5e-5  # half of the last digit of the mass of one bead


def fitted(piece: Piece) -> Fit:
    target = target_from_piece(piece)
    assert target is not None
    return fit_beads(piece, target)[0]


PIECE = Piece(
    beads=(
        BeadPart(along_mm=8, across_mm=8, material="quartz", cost=0.5, count=3, name="rock crystal"),
        BeadPart(along_mm=4, across_mm=4, name="spacer"),
    ),
    target_mm={"strung": 280.0},
    findings=(Finding(kind=Kind.CLASP, length_mm=12.0, cost=2.0, mass_g=1.5),),
    wire=Wire(cost_per_metre=1.0, tail_mm=50.0, loop_mm=10.0),
    work=Work(minutes=30, rate_per_hour=20, margin=0.5),
)


def test_mass_by_material() -> None:
    # An 8 mm round of quartz: 0.7104 g (pi/6 d^3 at 2.65 g/cm3).
    mass = weigh(PIECE, fitted(PIECE))
    assert dict(mass.by_material_g) == {
        "quartz": pytest.approx(30 * 0.7104, abs=30 * TABLE_G),
        "findings": pytest.approx(1.5),
    }
    assert mass.unknown == ("spacer, 4 mm",)
    assert mass.total_g is None


def test_the_mass_of_the_piece_needs_that_of_every_bead() -> None:
    piece = replace(PIECE, beads=PIECE.beads[:1])
    fit = fitted(piece)
    crimp = Finding(kind=Kind.CRIMP, length_mm=2.0)
    mass = weigh(replace(piece, findings=(crimp,)), fit)
    assert mass.total_g == pytest.approx(fit.count * 0.7104, abs=fit.count * TABLE_G)
    assert mass.unknown == ("crimp",)


def test_cost_and_price() -> None:
    cost = price(PIECE, fitted(PIECE))
    assert cost is not None
    # 30 beads at 0.50, a clasp, 280 + 2 x 60 mm of wire at 1.00 a metre; half an hour at 20.
    assert dict(cost.items) == {
        "rock crystal, 8 mm": pytest.approx(15.0),
        "clasp": pytest.approx(2.0),
        "wire": pytest.approx(0.4),
    }
    assert (cost.materials, cost.labour) == pytest.approx((17.4, 10.0))
    # Half of the price is left after 27.40 of materials and labour.
    assert cost.price == pytest.approx(54.8, abs=CENT)
    assert cost.unknown == ("spacer, 4 mm",)


def test_parts_of_one_name_are_one_amount() -> None:
    crimps = [Finding(kind=Kind.CRIMP, length_mm=2.0, count=2, cost=each) for each in (0.1, 0.25)]
    piece = replace(PIECE, findings=tuple(crimps))
    cost = price(piece, fitted(piece))
    assert cost is not None
    assert [amount for name, amount in cost.items if name == crimps[0].title] == [
        pytest.approx(0.7, abs=EXACT)
    ]


def test_what_is_shown_adds_up() -> None:
    # 52 beads for 12.50: 6, 8 and 7 of them are 1.442, 1.923 and 1.683, which add up to 5.048.
    kinds = [
        BeadPart(along_mm=size, across_mm=size, count=count, cost=12.5 / 52)
        for size, count in ((6, 6), (8, 8), (10, 7))
    ]
    piece = Piece(beads=tuple(kinds), target_mm={"strung": 170.0}, work=Work(minutes=10, rate_per_hour=20))
    cost = price(piece, fitted(piece))
    assert cost is not None
    shown = [f"{amount:.2f}" for _, amount in cost.items]
    assert shown == ["1.44", "1.92", "1.68"]
    assert cost.materials == pytest.approx(5.04, abs=EXACT)
    assert cost.price == pytest.approx(5.04 + 3.33, abs=EXACT)


def test_labour_alone_is_a_cost() -> None:
    piece = Piece(beads=PIECE.beads[1:], target_mm={"strung": 280.0}, work=Work(minutes=15, rate_per_hour=20))
    assert price(piece, fitted(piece)) == Cost(
        items=(), labour=5.0, price=5.0, unknown=("spacer, 4 mm", "wire")
    )


def test_no_costs_no_price() -> None:
    piece = Piece(beads=PIECE.beads[1:], target_mm={"strung": 280.0})
    assert price(piece, fitted(piece)) is None
