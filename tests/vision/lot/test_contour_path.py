"""The sharpest closed line near an outline that is off a little, on discs drawn by hand; never square."""

import itertools

import cv2
import numpy as np
import pytest

from vision.common.numerics import evenly_round
from vision.lot.contour_path import UnrolledBand, closed_paths, costs, normals

PER_MM = 5.0
SHAPE = (190, 260)
MIDDLE = np.array([140.3, 92.7])
RADIUS_MM = 5.0
LINE_MM = 0.1
"""Half a cell: the line in the photo is looked for a whole one to either side."""
STEP_PRICE = 0.15
"""Of a path that moves by one column."""
BED, BEAD, GLINT = 160.0, 70.0, 250.0
NETWORK_OFF_MM = 0.12
FINE = 8


def circle(radius_mm: float, count: int = 144) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return MIDDLE + radius_mm * PER_MM * np.column_stack([np.cos(turn), np.sin(turn)])


def painted(*discs: tuple[float, float], blur_mm: float = 0.1) -> np.ndarray:
    """Paint discs about one middle, (radius in mm, code), the last one on top."""
    fine = np.full((SHAPE[0] * FINE, SHAPE[1] * FINE), BED, np.float32)
    at = [round(float(v) * 256) for v in (MIDDLE + 0.5) * FINE - 0.5]
    for radius, code in discs:
        cv2.circle(fine, at, round(radius * PER_MM * FINE * 256), code, cv2.FILLED, cv2.LINE_8, 8)
    light = cv2.resize(fine, SHAPE[::-1], interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(light, (0, 0), blur_mm * PER_MM)
    noise = np.random.default_rng(2).normal(0, 1.0, (*SHAPE, 3))
    return np.clip(light[..., None] + noise, 0, 255).astype(np.uint8)


def owner_of(radius_mm: float) -> np.ndarray:
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    return (np.hypot(x - MIDDLE[0], y - MIDDLE[1]) <= radius_mm * PER_MM).astype(np.uint16)


def found(
    rgb: np.ndarray, network_mm: float, owner: np.ndarray | None = None
) -> tuple[np.ndarray, UnrolledBand]:
    """Return the distances from the middle of the best line's points, mm, and the band."""
    owner = owner_of(network_mm) if owner is None else owner
    band = UnrolledBand.along(rgb, circle(network_mm), owner=owner, number=1, per_mm=PER_MM)
    [path] = closed_paths(costs([band]))
    return np.linalg.norm(band.points(path) - MIDDLE, axis=1) / PER_MM, band


@pytest.mark.parametrize("off_mm", [-NETWORK_OFF_MM, 0.0, NETWORK_OFF_MM])
def test_the_rim_of_a_disc_is_found(off_mm: float) -> None:
    radii, _ = found(painted((RADIUS_MM, BEAD)), RADIUS_MM + off_mm)
    assert radii == pytest.approx(RADIUS_MM, abs=LINE_MM)


@pytest.mark.parametrize("off_mm", [-NETWORK_OFF_MM, 0.0, NETWORK_OFF_MM])
@pytest.mark.parametrize("inside_mm", [0.35, 0.6, 1.5])
def test_a_sharper_edge_inside_is_not_taken_for_the_rim(inside_mm: float, off_mm: float) -> None:
    radii, _ = found(painted((RADIUS_MM, BEAD), (RADIUS_MM - inside_mm, GLINT)), RADIUS_MM + off_mm)
    assert radii == pytest.approx(RADIUS_MM, abs=LINE_MM)


def test_a_soft_shadow_outside_is_not_taken_for_the_rim() -> None:
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    beyond = np.hypot(x - MIDDLE[0], y - MIDDLE[1]) / PER_MM - RADIUS_MM
    shade = 1 - 0.5 * np.exp(-np.maximum(beyond, 0) / 0.8)
    rgb = (painted((RADIUS_MM, 30.0)) * shade[..., None]).astype(np.uint8)
    radii, _ = found(rgb, RADIUS_MM)
    assert radii == pytest.approx(RADIUS_MM, abs=2 * LINE_MM)


def test_where_nothing_is_seen_the_network_has_its_way() -> None:
    radii, _ = found(painted(), RADIUS_MM)
    assert radii == pytest.approx(RADIUS_MM, abs=LINE_MM)


def test_a_path_keeps_out_of_a_neighbour_and_knows_where_it_touches() -> None:
    owner = owner_of(RADIUS_MM)
    y, x = np.mgrid[: SHAPE[0], : SHAPE[1]]
    beside = MIDDLE - np.array([0, 2 * RADIUS_MM * PER_MM])
    owner[(np.hypot(x - beside[0], y - beside[1]) < RADIUS_MM * PER_MM) & (owner == 0)] = 2
    rgb = painted((RADIUS_MM, BEAD))
    rgb[owner == 2] = BEAD
    _, band = found(rgb, RADIUS_MM, owner)
    [path] = closed_paths(costs([band]))
    touching = band.touching(path)
    off = (band.line - MIDDLE) / PER_MM
    aside = np.degrees(np.arccos(-off[:, 1] / RADIUS_MM))
    assert touching[aside < 8].all()
    assert not touching[aside > 30].any()


def test_closed_path_is_the_cheapest_that_ends_where_it_began() -> None:
    """Against all closed paths of a small table, one by one."""
    rng = np.random.default_rng(7)
    for _ in range(20):
        cost = rng.uniform(0, 1, (1, 5, 3))
        best = min(_price(cost[0], path) for path in _closed(*cost.shape[1:]))
        [path] = closed_paths(cost)
        assert _price(cost[0], tuple(int(c) for c in path)) == pytest.approx(best, abs=STEP_PRICE)


def _closed(rows: int, columns: int) -> list[tuple[int, ...]]:
    """Return all closed paths that move by at most one column a row."""
    paths = np.array(list(itertools.product(range(columns), repeat=rows)))
    steps = np.abs(np.roll(paths, -1, axis=1) - paths).max(axis=1)
    return [tuple(path) for path in paths[steps <= 1].tolist()]


def _price(cost: np.ndarray, path: tuple[int, ...]) -> float:
    moves = np.abs(np.subtract(path[1:] + path[:1], path))
    return float(cost[np.arange(len(path)), list(path)].sum() + STEP_PRICE * moves.sum())


def test_points_are_evenly_spaced_and_normals_point_outwards() -> None:
    corners = np.array([[10.0, 10.0], [40.0, 10.0], [40.0, 30.0], [10.0, 30.0]])
    points = evenly_round(corners, 50)
    steps = np.linalg.norm(np.diff(np.vstack([points, points[:1]]), axis=0), axis=1)
    assert steps == pytest.approx(2.0, abs=1e-9)  # 100 round, none cuts a corner
    line = circle(4.0)
    for order in (line, line[::-1]):
        outwards = (order - MIDDLE) / np.linalg.norm(order - MIDDLE, axis=1, keepdims=True)
        assert np.sum(normals(order, 2.0) * outwards, axis=1) == pytest.approx(1.0, abs=1e-3)
