"""Doubts of widths, by closed forms: what rims are off by, and what two findings of one size make."""

import numpy as np
import pytest

from vision.strand.width import agreed, rim_noise

BEADS, WIDTH_MM, RIM_MM = 20_000, 8.0, 0.05
NOISE_TOLERANCE = 0.15


@pytest.fixture
def rng() -> np.random.Generator:
    """Return a generator of the test's own: what a test draws depends on no other test."""
    return np.random.default_rng(3)


def rims(rng: np.random.Generator, off: float) -> tuple[np.ndarray, np.ndarray]:
    """Return widths and middles of beads alike whose two rims are off by so much each."""
    left, right = rng.normal(0, off, (2, BEADS))
    return WIDTH_MM + right - left, (left + right) / 2


def test_middles_tell_how_far_rims_are_off(rng: np.random.Generator) -> None:
    """Two rims of standard deviation s each: the width's is s times the root of two."""
    width, middle = rims(rng, RIM_MM)
    noise = rim_noise(width, middle, alike=False)
    assert noise == pytest.approx(np.sqrt(2) * RIM_MM, rel=NOISE_TOLERANCE)


def test_beads_of_a_kind_that_read_unlike_are_doubted_more(rng: np.random.Generator) -> None:
    width, middle = rims(rng, 0.01)
    turned = width + rng.normal(0, 0.4, BEADS)
    alike, several = (rim_noise(turned, middle, alike=kind)[0] for kind in (True, False))
    assert several < 0.05
    assert alike == pytest.approx(0.2, rel=NOISE_TOLERANCE)


def test_of_few_beads_nothing_can_be_told_from_their_scatter() -> None:
    few = np.full(5, WIDTH_MM)
    assert rim_noise(few, np.zeros(5), alike=True) == pytest.approx(0.02 * WIDTH_MM)


def test_two_findings_are_weighed_as_their_doubts_say() -> None:
    """The weighted mean of a textbook: weights are inverse variances (e.g. JCGM 100, H.5; Birge 1932)."""
    mean, _ = agreed(np.array([8.0]), np.array([0.1]), np.array([8.3]), np.array([0.2]))
    assert mean == pytest.approx((8.0 / 0.01 + 8.3 / 0.04) / (1 / 0.01 + 1 / 0.04))


@pytest.mark.parametrize("off", [0.0, 0.3, 1.0])
def test_the_doubt_is_the_spread_of_both_together(rng: np.random.Generator, off: float) -> None:
    one, other, u, v = 8.0, 8.0 + off, 0.1, 0.15
    mean, claimed = agreed(*(np.array([x]) for x in (one, u, other, v)))
    share = u**2 / (u**2 + v**2)
    drawn = np.where(rng.random(200_000) < share, rng.normal(other, v, 200_000), rng.normal(one, u, 200_000))
    assert mean == pytest.approx(drawn.mean(), abs=0.005)
    assert claimed == pytest.approx(drawn.std(), rel=0.02)


def test_where_one_is_plainly_wrong_the_claim_reaches_the_other() -> None:
    mean, u = agreed(*(np.array([x]) for x in (8.0, 0.1, 9.0, 0.1)))
    assert abs(8.0 - mean) < 2 * u
    assert abs(9.0 - mean) < 2 * u
