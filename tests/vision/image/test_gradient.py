"""Gradients on pictures whose slopes are known by construction; never square."""

import numpy as np
import pytest

from vision.image.gradient import colour_gradient, edge_strength

ROWS, COLUMNS = 60, 90
INNER = (slice(10, -10), slice(10, -10))


def plane(slopes: list[tuple[float, float]]) -> np.ndarray:
    """Three channels that rise evenly, by (x, y) slopes in codes per cell."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(np.float32)
    return np.stack([40 + sx * x + sy * y for sx, sy in slopes], axis=-1)


@pytest.mark.parametrize(
    ("slopes", "strongest"),
    [
        ([(0.6, 0.8), (0.0, 0.0), (0.0, 0.0)], 1.0),
        # structure tensor diag(1, 0.25): eigenvalues 1 and 0.25 (Di Zenzo 1986)
        ([(1.0, 0.0), (0.0, 0.5), (0.0, 0.0)], 1.0),
        # one red, one green slope, opposite: grey hardly changes, colour does
        ([(0.7, 0.0), (-0.7, 0.0), (0.0, 0.0)], np.hypot(0.7, 0.7)),
    ],
)
def test_even_slopes_read_as_drawn(slopes: list, strongest: float) -> None:
    picture = plane(slopes)
    found = colour_gradient(picture, sigma_cells=1.5)
    assert found.shape == (ROWS, COLUMNS)
    assert found[INNER] == pytest.approx(np.full_like(found[INNER], strongest), abs=1e-3)


def test_gradient_turns_with_the_picture() -> None:
    picture = np.random.default_rng(1).uniform(0, 255, (ROWS, COLUMNS, 3)).astype(np.float32)
    other = np.ascontiguousarray(picture.transpose(1, 0, 2))
    upright, turned = (colour_gradient(p, sigma_cells=1.0) for p in (picture, other))
    assert turned.T[INNER] == pytest.approx(upright[INNER], rel=1e-4)


def step(height: float, blur: float) -> np.ndarray:
    """Draw an upright edge at column 45.5, smeared over about `blur` columns."""
    x = (np.arange(COLUMNS) - 45.0) / max(blur, 1e-6)
    profile = 60 + height * np.clip(x + 0.5, 0, 1)
    return np.broadcast_to(profile[None, :, None], (ROWS, COLUMNS, 3)).astype(np.float32)


def test_blurred_step_is_steepest_at_its_place_by_the_gaussians_height() -> None:
    sigma = 2.0
    gradient = colour_gradient(step(50.0, 0.01), sigma_cells=sigma)
    row = gradient[ROWS // 2]
    assert int(np.argmax(row)) in (44, 45)
    # three equal channels: sqrt 3 times the slope of one; Sobel widens the Gaussian a little
    expected = np.sqrt(3) * 50.0 / (sigma * np.sqrt(2 * np.pi))
    assert row.max() == pytest.approx(expected, rel=0.15)


def test_a_ramp_cancels_where_a_step_stays() -> None:
    sharp, soft = (
        edge_strength(step(50.0, blur), fine_cells=1.0, coarse_cells=3.0)[INNER].max()
        for blur in (0.01, 20.0)
    )
    assert sharp > 15 * soft
