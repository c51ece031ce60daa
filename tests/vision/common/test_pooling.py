"""Pooling the beads of a lot, against closed forms of normal theory."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize_scalar

from vision.common.pooling import pooled_kinds, pooled_sizes, posterior

ROUNDING = 1e-9
NUMBER = 500
ONE_KIND = 0.02
"""Standard deviation over size of beads of one kind (common practice, no source)."""
CONVERGED = 1e-4
"""What a few steps more would still change."""
SPREAD, NOISE = 0.03, 0.03
NORMAL_TOL = 0.006
"""Of the mean square distance between the estimate and the one that knows how true values are spread."""


@pytest.fixture
def rng() -> np.random.Generator:
    """Return a generator of the test's own: what a test draws depends on no other test."""
    return np.random.default_rng(11)


def test_of_many_normal_values_it_is_the_normal_posterior(rng: np.random.Generator) -> None:
    """Mean and deviation of a normal prior times one normal observation (JCGM 102, any textbook)."""
    truth = rng.normal(2.0, SPREAD, (NUMBER, 1))
    seen = truth + rng.normal(0, NOISE, truth.shape)
    found = posterior(seen, np.full(seen.shape, NOISE))
    share = SPREAD**2 / (SPREAD**2 + NOISE**2)
    exact = 2.0 + share * (seen - 2.0)
    assert np.sqrt(np.mean((found.mean - exact) ** 2)) < NORMAL_TOL
    assert np.sqrt(np.mean(found.sd**2)) == pytest.approx(NOISE * np.sqrt(share), rel=0.25)


def test_two_sizes_stay_two(rng: np.random.Generator) -> None:
    """A lot of 6 and 7 mm: each bead moves to its own group, not to the middle."""
    truth = np.log(np.repeat([6.0, 7.0], 40))[:, None]
    seen = truth + rng.normal(0, 0.02, truth.shape)
    mean = posterior(seen, np.full(seen.shape, 0.02)).mean
    assert np.abs(mean - truth).max() < np.log(7 / 6) / 2
    assert np.abs(mean - truth).mean() < 0.6 * np.abs(seen - truth).mean()


def test_what_is_claimed_covers_what_is_off(rng: np.random.Generator) -> None:
    """Of similar beads, some measured well and some badly, about 95 % lie within twice the uncertainty."""
    u = np.where(np.arange(NUMBER) % 3 == 0, 0.005, 0.04)[:, None]
    truth = rng.normal(2.0, ONE_KIND, (NUMBER, 1))
    found = posterior(truth + u * rng.normal(size=truth.shape), u)
    assert 0.90 <= np.mean(np.abs(found.mean - truth) < 2 * found.sd) <= 0.99


def kept_of(u: np.ndarray | float) -> np.ndarray | float:
    """Share of a deviation that a normal posterior keeps, within a group as wide as beads of one kind."""
    return ONE_KIND**2 / (u**2 + ONE_KIND**2)


@pytest.mark.parametrize("u", [0.001, 0.02, 0.3])
def test_a_value_alone_stays_and_is_surer_by_the_width_of_its_kind(u: float) -> None:
    alone = posterior(np.array([[2.0]]), np.array([[u]]))
    assert_allclose(alone.mean, [[2.0]], rtol=ROUNDING)
    assert_allclose(alone.sd, [[u * np.sqrt(kept_of(u))]], rtol=ROUNDING)


def test_two_of_two_quantities_share_by_their_distance() -> None:
    """Of two things measured alike either group holds half, so memberships are logistic in the distance."""
    measured = np.array([[2.00, 1.50], [2.03, 1.48]])
    u = np.array([[0.02, 0.03]] * 2)
    step = measured[1] - measured[0]
    own = 1 / (1 + np.exp(-0.5 * np.sum(step**2 / (u[0] ** 2 + ONE_KIND**2))))
    middle = own * measured + (1 - own) * measured[::-1]
    kept = kept_of(u)
    found = posterior(measured, u)
    assert_allclose(found.mean, middle + kept * (measured - middle), rtol=ROUNDING)
    assert_allclose(np.einsum("ijk,jk->ik", found.weights, measured), found.mean, rtol=ROUNDING)
    spread2 = own * (1 - own) * step**2
    assert_allclose(found.sd**2, (1 - kept) ** 2 * spread2 + kept * u**2, rtol=ROUNDING)


def test_shares_of_two_groups_are_the_most_likely_ones() -> None:
    """Seven things at two places, measured unequally well: the share is found by another way of searching."""
    measured = np.array([0.0] * 5 + [0.10] * 2)[:, None]
    u = np.array([0.02, 0.03, 0.02, 0.04, 0.02, 0.03, 0.02])[:, None]
    variance = u[:, 0] ** 2 + ONE_KIND**2
    places = np.array([0.0, 0.10])
    density = np.exp(-0.5 * (measured - places) ** 2 / variance[:, None])
    share = minimize_scalar(lambda p: -np.log(density @ [1 - p, p]).sum(), bounds=(0, 1), method="bounded").x
    weight = density * [1 - share, share]
    middle = (weight @ places / weight.sum(axis=1))[:, None]
    mean = posterior(measured, u).mean
    assert_allclose(mean, middle + kept_of(u) * (measured - middle), atol=CONVERGED)


def test_uncertainty_is_in_part_the_beads_own_and_in_part_common() -> None:
    """What is common, sqrt(1 - 0.75^2), is not pooled; a bead alone shows it whole."""
    u_mm, size_mm = 0.4, 8.0
    own = 0.75 * u_mm / size_mm
    sizes, u = pooled_sizes(np.array([[size_mm]]), np.array([[u_mm]]))
    assert_allclose(sizes, [[size_mm]], rtol=ROUNDING)
    common = np.sqrt(1 - 0.75**2) * u_mm / size_mm
    assert_allclose(u, [[size_mm * np.hypot(own * np.sqrt(kept_of(own)), common)]], rtol=ROUNDING)


def test_a_bead_that_takes_its_size_from_others_takes_their_common_error_too() -> None:
    """What is common adds up by weights, as fully correlated inputs do (JCGM 100:2008, 5.2.2, note 1).

    The last bead says next to nothing, so its size is that of the others, and its common error is theirs.
    """
    sizes_mm, u_mm = np.full((10, 1), 8.0), np.array([[0.08]] * 9 + [[0.8]])
    _, u = pooled_sizes(sizes_mm, u_mm)
    rel = u_mm / sizes_mm
    kept = kept_of(0.75 * rel[-1])
    common = np.sqrt(1 - 0.75**2) * (kept * rel[-1] + (1 - kept) * (9 * rel[0] + rel[-1]) / 10)
    assert_allclose(u[-1], 8.0 * np.hypot(0.75 * rel[-1] * np.sqrt(kept), common), rtol=ROUNDING)


def test_a_bead_measured_well_that_differs_stays() -> None:
    sizes = np.array([8.0 + 0.1 * k for k in range(-3, 4)] + [9.2])[:, None]
    pooled, _ = pooled_sizes(sizes, np.array([0.4] * 7 + [0.02])[:, None])
    assert_allclose(pooled[-1], 9.2, atol=0.03)
    assert np.ptp(pooled[:-1]) < 0.3


COVERED = np.array([[0.8, 0.05, 0.15], *[[0.98, 0.01, 0.01]] * 10, [0.6, 0.1, 0.3]])
"""Chances of bead, spacer and cover; those beside the clasp look like beads."""


def test_what_no_other_part_is_like_covers_the_end_of_a_clasped_piece() -> None:
    """One bead in ten there is unlike all others: 0.14 for two beads, 0.45 for two covers (Bayes' rule)."""
    sizes = np.array([3.0, *[8.0] * 10, 3.1])[:, None]
    assert pooled_kinds(COVERED, sizes, clasped=True) == [2, *[0] * 10, 2]
    assert pooled_kinds(COVERED, sizes) == [0] * 12  # an open strand and a bracelet on elastic have no clasp


def test_an_end_of_a_clasped_piece_that_is_as_large_as_its_beads_is_one() -> None:
    assert pooled_kinds(COVERED, np.full((12, 1), 8.0), clasped=True) == [0] * 12


def test_a_bead_that_surely_looks_like_one_may_end_a_clasped_piece_whatever_its_size() -> None:
    chances = np.array([[0.98, 0.01, 0.01]] * 12)
    assert pooled_kinds(chances, np.array([4.0, *[8.0] * 10, 4.0])[:, None], clasped=True) == [0] * 12


def test_many_beads_of_another_size_do_not_outvote_a_cover() -> None:
    """At 2.4 standard deviations, 15 % each, a weight of 0.06: of 46 beads 2.6 in all."""
    chances = np.array([[0.3, 0.1, 0.6], *[[0.99, 0.005, 0.005]] * 46])
    sizes = np.array([3.0, *[3.0 * np.exp(2.4 * 0.15)] * 46])[:, None]
    assert pooled_kinds(chances, sizes) == [2, *[0] * 46]
