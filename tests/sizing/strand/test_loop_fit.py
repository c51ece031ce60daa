"""Finished pieces compared with their targets."""

from dataclasses import replace

import pytest

from sizing.base.loop import Link, inner_girth
from sizing.base.target import make_target
from sizing.strand.loop_fit import LoopFit, compare_loop
from tests.helpers.strands import make_loop
from vision.common.flags import UNSURE_COUNT
from vision.common.records import Strand

MM = 1e-6
CLASP_MM = 12.0
ROUNDS = make_loop([8.0] * 22, clasp_mm=CLASP_MM)


def fit(given_mm: dict[str, float], strand: Strand = ROUNDS) -> LoopFit:
    target = make_target(given_mm, ease_mm=0.0 if "wrist" in given_mm else None)
    assert target is not None
    assert strand.loop is not None
    return compare_loop(strand, strand.loop, target)


@pytest.mark.parametrize(
    ("given_mm", "miss_mm", "change"),
    [
        ({"strung": 176.0}, 0.0, 0),
        ({"strung": 160.0}, 16.0, -2),
        ({"finished": 188.0}, 0.0, 0),  # clasp and rings were measured: no usual findings are added
        ({"finished": 213.0}, -25.0, 3),
    ],
)
def test_lengths_compare_as_they_are_named(given_mm: dict[str, float], miss_mm: float, change: int) -> None:
    found = fit(given_mm)
    assert found.miss_mm == pytest.approx(miss_mm, abs=MM)
    assert found.change_beads == change


@pytest.mark.parametrize("strung_mm", [3.0, 8.0])
def test_one_bead_stays(strung_mm: float) -> None:
    assert fit({"strung": strung_mm}).change_beads == -21


@pytest.mark.parametrize("wrist_mm", [130.0, 150.0, 163.0, 190.0])
def test_the_number_of_beads_is_that_of_the_exact_closed_chain(wrist_mm: float) -> None:
    """Restrung so, no other number of beads comes nearer to the wrist, a flat clasp in the chain."""
    change = fit({"wrist": wrist_mm}).change_beads

    def miss_mm(beads: int) -> float:
        chain = [Link(along_mm=8.0, across_mm=8.0)] * beads
        # The clasp is as thick as the beads, as in a loop of one thickness all round.
        return abs(inner_girth([*chain, Link(along_mm=CLASP_MM, across_mm=8.0)]) - wrist_mm)

    assert min(range(10, 40), key=miss_mm) == 22 + change


def test_a_piece_that_does_not_pass_is_too_tight() -> None:
    assert fit({"wrist": 165.0}).too_tight
    assert not fit({"wrist": 160.0}).too_tight


def test_what_is_not_certain() -> None:
    assert fit({"strung": 176.0}).certain
    assert not fit({"strung": 172.1}).certain  # 3.9 mm over: nearly half a bead
    assert not fit({"strung": 176.0}, replace(ROUNDS, flags=(UNSURE_COUNT,))).certain
    unchecked = replace(ROUNDS, conditions=replace(ROUNDS.conditions, check_length_given=False))
    assert not fit({"strung": 176.0}, unchecked).certain
