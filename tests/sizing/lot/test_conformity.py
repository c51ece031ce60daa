"""Decisions by ISO 14253-1 and the share outside."""

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest, norm

from sizing.lot.conformity import OUTCOMES, Decision, check_label, decide, decide_together, share_interval
from sizing.lot.label import StatedSize, parse_label
from tests.helpers.lots import lot_of

EIGHT = StatedSize(nominal_mm=8.0, low_mm=7.5, high_mm=8.5)
TABLE = 5e-5  # half a unit of the table's last place


@pytest.mark.parametrize(
    ("size_mm", "decision"),
    [
        (8.0, "conforming"),
        (7.67, "conforming"),
        (7.66, "undecided"),
        (7.34, "undecided"),
        (7.33, "not conforming"),
        (8.33, "conforming"),
        (8.34, "undecided"),
        (8.66, "undecided"),
        (8.67, "not conforming"),
    ],
)
def test_guard_bands(size_mm: float, decision: str) -> None:
    # ISO 14253-1:2017: 1.645 u for one limit at 95 %; u = 0.1 mm makes the bands 7.5 and 8.5 +- 0.1645 mm.
    assert decide(size_mm, EIGHT, u_mm=0.1) == decision


def test_a_sure_measurement_decides_at_the_limit() -> None:
    assert decide(7.5, EIGHT, u_mm=0.0) == "conforming"
    assert decide(7.4999, EIGHT, u_mm=0.0) == "not conforming"


def test_a_tolerance_narrower_than_its_guard_bands_proves_nothing() -> None:
    assert decide(8.0, EIGHT, u_mm=0.4) == "undecided"


@given(st.floats(5, 11), st.floats(0.001, 1))
def test_more_uncertainty_never_turns_one_proof_into_the_other(size_mm: float, u_mm: float) -> None:
    surer, less_sure = (decide(size_mm, EIGHT, u_mm=u) for u in (u_mm / 2, u_mm))
    assert less_sure in (surer, "undecided")


def test_wrongly_proven_in_one_of_twenty_at_most() -> None:
    # A bead exactly on the limit, its errors evenly placed quantiles of the normal distribution:
    # ISO 14253-1 lets 5 % pass as proven on either side.
    errors_mm = norm.ppf((np.arange(4000) + 0.5) / 4000, scale=0.1)
    seen = [decide(7.5 + error, EIGHT, u_mm=0.1) for error in errors_mm]
    for proof in ("conforming", "not conforming"):
        assert seen.count(proof) / 4000 == pytest.approx(0.05, abs=0.001)  # 1.645 is rounded


@pytest.mark.parametrize(
    ("parts", "whole"),
    [
        (["conforming", "conforming"], "conforming"),
        (["conforming", "undecided"], "undecided"),
        (["undecided", "not conforming"], "not conforming"),
        ([], "undecided"),
    ],
)
def test_a_whole_is_as_good_as_its_parts(parts: list[str], whole: str) -> None:
    assert decide_together(parts) == whole


@pytest.mark.parametrize(
    ("events", "n", "low", "high"),
    [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684), (1, 29, 0.0009, 0.1776)],
)
def test_exact_binomial_interval(events: int, n: int, low: float, high: float) -> None:
    # Newcombe, Statistics in Medicine 17 (1998), table I, method 5 (Clopper-Pearson); from memory, so
    # the closed form stands beside it below.
    assert share_interval(events, n) == pytest.approx((low, high), abs=TABLE)


@given(st.integers(1, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_exact_interval_as_scipy_has_it(case: tuple[int, int]) -> None:
    events, n = case
    reference = binomtest(events, n).proportion_ci(confidence_level=0.95, method="exact")
    assert share_interval(events, n) == pytest.approx((reference.low, reference.high), abs=1e-6)


@pytest.mark.parametrize("n", [1, 5, 20, 60])
def test_exact_interval_of_none_and_of_all(n: int) -> None:
    # Clopper & Pearson 1934: none of n leaves (1 - p)^n = 0.025, all of n leaves p^n = 0.025.
    assert share_interval(0, n) == pytest.approx((0, 1 - 0.025 ** (1 / n)))
    assert share_interval(n, n) == pytest.approx((0.025 ** (1 / n), 1))


def test_without_beads_nothing_is_decided() -> None:
    conformity = check_label(lot_of([]), parse_label("8mm"))
    assert conformity.decision == "undecided"
    assert conformity.share_outside == (0.0, 1.0)


def test_a_lot_as_labelled() -> None:
    conformity = check_label(lot_of([7.9, 8.0, 8.1] * 8), parse_label("8mm"))
    assert conformity.decision == "conforming"
    assert conformity.share_outside == pytest.approx((0.0, 1 - 0.025 ** (1 / 24)))


def test_a_lot_that_is_really_7_mm() -> None:
    conformity = check_label(lot_of([7.0] * 20), parse_label("8mm"))
    assert conformity.decision == "not conforming"
    assert conformity.share_outside == pytest.approx((0.025 ** (1 / 20), 1.0))
    assert conformity.axes[0].relative_difference == pytest.approx(-1 / 8)


def test_undecided_beads_widen_the_share() -> None:
    # They lie on a limit: for the lower end they count as conforming, for the upper one as not.
    conformity = check_label(lot_of([8.0] * 18 + [8.5] * 2), parse_label("8mm"))
    assert conformity.count("undecided") == 2
    assert conformity.decision == "undecided"
    assert conformity.share_outside == (share_interval(0, 20)[0], share_interval(2, 20)[1])


@pytest.mark.parametrize("flag", ["cut-off", "unsure-split", "unsure-bead"])
@pytest.mark.parametrize("size_mm", [8.0, 20.0])
def test_what_is_perhaps_not_one_whole_bead_decides_nothing(flag: str, size_mm: float) -> None:
    lot = lot_of([8.0] * 20 + [size_mm])
    doubted = replace(lot, beads=(*lot.beads[:-1], replace(lot.beads[-1], flags=(flag,))))
    checked = check_label(doubted, parse_label("8mm"))
    assert (checked.decision, checked.decisions[-1]) == ("undecided", "undecided")
    assert check_label(lot, parse_label("8mm")).decision != "undecided"


def test_one_bead_proven_outside_spoils_the_lot() -> None:
    conformity = check_label(lot_of([8.0] * 19 + [7.0]), parse_label("8mm"))
    assert conformity.decision == "not conforming"
    assert conformity.count("not conforming") == 1
    assert conformity.decisions[-1] == "not conforming"


@pytest.mark.parametrize("text", ["6x4mm", "4x6mm"])
def test_a_pair_is_read_as_length_and_width(text: str) -> None:
    conformity = check_label(lot_of([4.0] * 9, [6.0] * 9), parse_label(text))
    assert conformity.decision == "conforming"
    assert conformity.reading == "6 mm long and 4 mm wide"
    assert [(axis.dimension, axis.stated.nominal_mm) for axis in conformity.axes] == [
        ("width", 4.0),
        ("length", 6.0),
    ]


def test_a_rondelle_lying_flat_hides_its_height() -> None:
    conformity = check_label(lot_of([6.0] * 9, [6.05] * 9), parse_label("6x4mm"))
    assert conformity.decision == "conforming"
    assert [axis.stated.nominal_mm for axis in conformity.axes] == [6.0, 6.0]
    assert "the 4 mm is the height" in conformity.reading


def test_a_pair_needs_both_sizes() -> None:
    conformity = check_label(lot_of([4.0] * 9, [7.5] * 9), parse_label("6x4mm"))
    assert conformity.decision == "not conforming"


def test_every_decision_has_its_words() -> None:
    assert set(OUTCOMES) == set(get_args(Decision))


def test_10_mm_that_measures_94() -> None:
    # 9.4 / 10: 6 % less length a bead.
    conformity = check_label(lot_of([9.4] * 12), parse_label("10mm"))
    assert conformity.axes[0].relative_difference == pytest.approx(-0.06)
