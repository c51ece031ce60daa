"""Pooling the beads of a lot, against closed forms of normal theory."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from vision.common.pooling import posterior
from vision.lot.close_up import BeadSizes
from vision.lot.measure import pooled

NUMBER = 500
ONE_KIND = 0.02
"""Standard deviation over size of beads of one kind (common practice, no source)."""
SPREAD, NOISE = 0.03, 0.03
NORMAL_TOL = 0.006
"""Of the mean square distance between the estimate and the one that knows how true values are spread."""


@pytest.fixture
def rng() -> np.random.Generator:
    """Return a generator of the test's own: what a test draws depends on no other test."""
    return np.random.default_rng(11)


def found(sizes: tuple[float, float], u: float, *, measured: bool = True) -> BeadSizes:
    """Return a bead as found."""
    return BeadSizes(
        outline_mm=np.zeros((3, 2)),
        centre_mm=np.zeros(3),
        sizes_mm=np.array(sizes),
        u_mm=np.full(2, u),
        body_rel_u=0.0,
        height_mm=sizes[1],
        traced=measured,
        measured=measured,
    )


def test_of_many_normal_values_it_is_the_normal_posterior(rng: np.random.Generator) -> None:
    """Mean and deviation of a normal prior times one normal observation (JCGM 102, any textbook)."""
    truth = rng.normal(2.0, SPREAD, (NUMBER, 1))
    seen = truth + rng.normal(0, NOISE, truth.shape)
    mean, sd = posterior(seen, np.full(seen.shape, NOISE))
    share = SPREAD**2 / (SPREAD**2 + NOISE**2)
    exact = 2.0 + share * (seen - 2.0)
    assert np.sqrt(np.mean((mean - exact) ** 2)) < NORMAL_TOL
    assert np.sqrt(np.mean(sd**2)) == pytest.approx(NOISE * np.sqrt(share), rel=0.25)


def test_two_sizes_stay_two(rng: np.random.Generator) -> None:
    """A lot of 6 and 7 mm: each bead moves to its own group, not to the middle."""
    truth = np.log(np.repeat([6.0, 7.0], 40))[:, None]
    seen = truth + rng.normal(0, 0.02, truth.shape)
    mean, _ = posterior(seen, np.full(seen.shape, 0.02))
    assert np.abs(mean - truth).max() < np.log(7 / 6) / 2
    assert np.abs(mean - truth).mean() < 0.6 * np.abs(seen - truth).mean()


def test_what_is_claimed_covers_what_is_off(rng: np.random.Generator) -> None:
    """Of similar beads, some measured well and some badly, about 95 % lie within twice the uncertainty."""
    u = np.where(np.arange(NUMBER) % 3 == 0, 0.005, 0.04)[:, None]
    truth = rng.normal(2.0, ONE_KIND, (NUMBER, 1))
    mean, sd = posterior(truth + u * rng.normal(size=truth.shape), u)
    assert 0.90 <= np.mean(np.abs(mean - truth) < 2 * sd) <= 0.99


def test_a_bead_seen_well_that_differs_stays() -> None:
    lot = [found((8.0 + 0.1 * k, 8.0 + 0.1 * k), 0.4) for k in range(-3, 4)] + [found((9.2, 9.2), 0.02)]
    settled = pooled(lot)
    assert_allclose(settled[-1].sizes_mm, 9.2, atol=0.03)
    assert np.ptp([bead.sizes_mm[0] for bead in settled[:-1]]) < 0.3


def test_a_bead_not_measured_neither_gives_nor_takes() -> None:
    lot = [found((8.0, 8.0), 0.2)] * 5
    odd = found((3.0, 3.0), 0.9, measured=False)
    settled = pooled([*lot, odd])
    assert settled[-1] is odd
    assert_allclose(settled[0].sizes_mm, pooled(lot)[0].sizes_mm)


def test_one_bead_alone_is_what_it_was_found() -> None:
    (alone,) = pooled([found((6.1, 6.0), 0.1)])
    assert_allclose(alone.sizes_mm, (6.1, 6.0))
    assert pooled([]) == []
