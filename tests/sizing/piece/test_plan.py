"""A piece planned whole."""

import pytest

from sizing.base.errors import TargetError
from sizing.piece.piece import Piece, Wish, with_wish
from sizing.piece.plan import make_plan
from sizing.piece.toml.read import PIECE_HELP, read_piece

SUM_MM = 1e-6


def test_the_documented_piece() -> None:
    plan = make_plan(read_piece(PIECE_HELP))
    # 8 1/2 in and 1/4 in of ease: 222.25 mm inside, with 12 mm of clasp: 38 rounds of 6 mm come to 221.5.
    assert plan.target.goal_mm == pytest.approx(222.25, abs=SUM_MM)
    assert plan.best.count == 38
    assert plan.best.miss_mm == pytest.approx(plan.best.inner_girth_mm - 222.25, abs=SUM_MM)
    assert plan.other is not None
    assert plan.other.count == 39
    assert plan.rules is not None
    assert plan.rules.add_three == 38
    assert plan.cuts[0].length_mm == pytest.approx(228 + 2 * (50.8 + 6.35), abs=SUM_MM)
    assert [p.to_buy for p in plan.purchases] == [40]
    assert all(clearance.fits for clearance in plan.clearances)
    assert plan.cost is not None
    assert len(plan.sizes) == 5


def test_what_is_typed_comes_first() -> None:
    plan = make_plan(with_wish(read_piece(PIECE_HELP), Wish(target_mm={"strung": 180.0})))
    assert (plan.best.count, plan.rules) == (30, None)


def test_a_plan_needs_a_target_and_beads() -> None:
    with pytest.raises(TargetError, match="no target is given"):
        make_plan(Piece())
    with pytest.raises(TargetError, match="no beads are given"):
        make_plan(Piece(target_mm={"wrist": 160.0}))
