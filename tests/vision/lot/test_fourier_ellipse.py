"""Ellipses and curves through edge points."""

import numpy as np
import pytest
from skimage.measure import EllipseModel

from vision.lot.ellipse import fit_ellipse
from vision.lot.fourier_ellipse import fit_curves, rim_points

RNG_SEED = 5
OF_AN_ELLIPSE = 2  # orders that no points leave out


def ring(semi: tuple[float, float], *, count: int = 144, tilt: float = 0.4) -> np.ndarray:
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    turn = np.array([[np.cos(tilt), -np.sin(tilt)], [np.sin(tilt), np.cos(tilt)]])
    return np.stack([semi[0] * np.cos(angle), semi[1] * np.sin(angle)], axis=1) @ turn.T + (31.0, -7.0)


def test_exact_points_give_the_ellipse_back() -> None:
    ellipse = fit_ellipse(ring((9.0, 6.0)), np.ones(144))
    assert ellipse.centre == pytest.approx([31.0, -7.0], abs=1e-9)
    assert sorted(np.linalg.svd(ellipse.axes, compute_uv=False)) == pytest.approx([6.0, 9.0], abs=1e-9)


def test_agrees_with_a_reference_library_on_noisy_points() -> None:
    points = ring((9.0, 6.0)) + np.random.default_rng(RNG_SEED).normal(0, 0.05, (144, 2))
    ellipse = fit_ellipse(points, np.ones(144))
    reference = EllipseModel.from_estimate(points)
    assert ellipse.centre == pytest.approx(reference.center, abs=0.01)
    assert sorted(np.linalg.svd(ellipse.axes, compute_uv=False)) == pytest.approx(
        sorted(reference.axis_lengths), abs=0.01
    )


def test_scatter_of_the_radius_is_that_of_theory() -> None:
    # Chernov & Lesort: noise 0.1, 100 points, full circle: sd of the radius 0.0100
    rng = np.random.default_rng(RNG_SEED)
    radii = []
    for _ in range(200):
        points = ring((50.0, 50.0), count=100) + rng.normal(0, 0.1, (100, 2))
        radii.append(fit_ellipse(points, np.ones(100)).radius)
    assert np.std(radii) == pytest.approx(0.0100, rel=0.2)


def test_points_on_a_line_are_no_ellipse() -> None:
    line = np.stack([np.arange(20.0), np.arange(20.0)], axis=1)
    two = fit_ellipse(np.array([line, ring((9.0, 6.0), count=20)]), np.ones((2, 20)))
    assert np.isnan(two.axes[0]).all()
    assert two.radius[1] == pytest.approx(54.0**0.5)


def test_dents_and_spurs_are_no_rim() -> None:
    points = ring((9.0, 9.0))
    middle = points.mean(axis=0)
    points[20:40] = middle + 0.8 * (points[20:40] - middle)
    points[90:96] = middle + 1.2 * (points[90:96] - middle)
    (rim,) = rim_points(points[None], np.ones((1, 144), bool), within=np.array([0.15]))
    assert not rim[23:37].any()
    assert not rim[90:96].any()
    assert rim[50:80].all()
    (curve,) = fit_curves(points[None], rim[None], ellipse=True)
    assert curve is not None
    assert curve.points == rim.sum()
    assert curve.ellipse.radius == pytest.approx(9.0, abs=0.02)


def test_a_square_needs_more_than_an_ellipse_and_an_ellipse_does_not() -> None:
    rng = np.random.default_rng(RNG_SEED)
    angle = np.linspace(0, 2 * np.pi, 144, endpoint=False)
    reach = 5 / np.maximum(np.abs(np.cos(angle)), np.abs(np.sin(angle)))
    square = reach[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1) + rng.normal(0, 0.01, (144, 2))
    oval = ring((9.0, 6.0)) + rng.normal(0, 0.01, (144, 2))
    cornered, smooth = fit_curves(np.array([square, oval]), np.ones((2, 144), bool))
    assert cornered is not None
    assert smooth is not None
    assert cornered.order > OF_AN_ELLIPSE
    assert np.mean(np.abs(cornered.residuals(square)) < 0.1) > 0.9
    assert smooth.order <= OF_AN_ELLIPSE


def test_points_that_are_not_used_change_nothing() -> None:
    points = ring((9.0, 6.0)) + np.random.default_rng(RNG_SEED).normal(0, 0.01, (144, 2))
    used = np.arange(144) % 3 > 0
    moved = np.where(used[:, None], points, points + 5.0)
    alone, among = (
        fit_curves(one[None], kept[None])[0] for one, kept in ((points[used], used[used]), (moved, used))
    )
    assert alone is not None
    assert among is not None
    assert among.polygon() == pytest.approx(alone.polygon(), abs=1e-9)
    assert among.spread == pytest.approx(alone.spread, abs=1e-9)


def test_too_few_points_have_no_curve() -> None:
    assert fit_curves(ring((9.0, 9.0))[None], (np.arange(144) < 8)[None]) == [None]
