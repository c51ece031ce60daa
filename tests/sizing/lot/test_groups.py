"""Natural groups: closed cases, and every partition tried."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from sizing.lot.groups import natural_limits

U_MM = 0.03
ROUNDING = 1e-6


def limits(sizes_mm: list[float] | np.ndarray, u_mm: float = U_MM) -> tuple[float, ...]:
    return natural_limits(np.asarray(sizes_mm, dtype=float), np.full(len(sizes_mm), u_mm))


def around(*means_mm: float, each: int, sd_mm: float = 0.08) -> np.ndarray:
    """Evenly placed normal quantiles around each mean: a sample without luck."""
    quantiles = norm.ppf((np.arange(each) + 0.5) / each)
    return np.concatenate([mean + sd_mm * quantiles for mean in means_mm])


def test_one_strand_is_one_group() -> None:
    assert limits(around(8.0, each=40)) == ()


def test_three_strands_mixed() -> None:
    assert limits(around(6.0, 8.0, 10.0, each=12)) == pytest.approx((7.0, 9.0), abs=ROUNDING)


def test_limits_lie_midway_between_neighbours() -> None:
    assert limits([4.0, 4.02, 4.04, 6.0, 6.02, 6.04]) == pytest.approx((5.02,), abs=ROUNDING)


def test_tight_and_loose_strands_keep_apart() -> None:
    mixed = np.concatenate([around(6.0, each=15, sd_mm=0.05), around(8.0, each=15, sd_mm=0.3)])
    assert len(limits(mixed)) == 1


def test_an_even_spread_is_one_group() -> None:
    assert limits(np.linspace(6, 10, 60)) == ()


def test_one_odd_bead_stands_alone() -> None:
    found = limits([*around(8.0, each=30, sd_mm=0.05), 8.6])
    assert len(found) == 1
    assert 8.2 < found[0] < 8.6


def test_a_group_narrower_than_its_uncertainty_is_not_split() -> None:
    two = [8.00] * 10 + [8.05] * 10
    assert limits(two, u_mm=0.05) == ()
    assert len(limits(two, u_mm=0.002)) == 1


def test_no_size_is_surer_than_a_hundredth_of_a_millimetre() -> None:
    # Assumed, no source: a photo cannot part 8.00 from 8.03 mm, whatever uncertainty is stated.
    assert limits([8.00] * 10 + [8.03] * 10, u_mm=0.0) == ()


def test_order_does_not_matter() -> None:
    mixed = around(6.0, 8.0, each=10)
    shuffled = np.random.default_rng(3).permutation(mixed)
    assert limits(shuffled) == pytest.approx(limits(mixed))


@pytest.mark.parametrize("sizes_mm", [[], [8.0], [8.0, 8.0]])
def test_too_few_to_split(sizes_mm: list[float]) -> None:
    assert limits(sizes_mm) == ()


def objective(ordered: list[float], cuts: tuple[int, ...], u_mm: float) -> float:
    """Write the criterion out bead by bead: normal density, share, four parameters a group."""
    n, total = len(ordered), 0.0
    for start, end in itertools.pairwise((0, *cuts, n)):
        run = ordered[start:end]
        mean = sum(run) / len(run)
        variance = max(sum((x - mean) ** 2 for x in run) / len(run), u_mm**2)
        for x in run:
            density = math.exp(-((x - mean) ** 2) / (2 * variance)) / math.sqrt(2 * math.pi * variance)
            total -= math.log(density * len(run) / n)
        total += 4 / 2 * math.log(n)
    return total


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(500, 900), min_size=2, max_size=8, unique=True))
def test_no_partition_is_better(hundredths: list[int]) -> None:
    ordered = sorted(size / 100 for size in hundredths)
    inner = range(1, len(ordered))
    best = min(
        objective(ordered, cuts, U_MM)
        for k in range(len(ordered))
        for cuts in itertools.combinations(inner, k)
    )
    found = tuple(sum(size < limit for size in ordered) for limit in limits(ordered))
    assert objective(ordered, found, U_MM) == pytest.approx(best, abs=ROUNDING)


def test_rarely_splits_what_is_one_and_rarely_misses_what_is_two() -> None:
    # Six standard deviations apart is what the eye calls two heaps; 80 seeded lots of each kind.
    rng = np.random.default_rng(11)
    whole = [len(limits(rng.normal(8, 0.2, 30))) for _ in range(80)]
    apart = [
        len(limits(np.concatenate([rng.normal(8, 0.1, 20), rng.normal(8.6, 0.1, 20)]))) for _ in range(80)
    ]
    assert sum(count == 0 for count in whole) >= 0.95 * 80
    assert sum(count == 1 for count in apart) >= 0.90 * 80
