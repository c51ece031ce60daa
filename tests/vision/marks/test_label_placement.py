"""Numbers of beads: each clear of all others and of the beads."""

import numpy as np
import pytest

from vision.marks.label_placement import Things, boxes_about, place_labels
from vision.marks.string_line import all_round, beside

# Never square, so that swapped axes show.
WIDTH, HEIGHT = 1500, 1000


@pytest.mark.parametrize("count", [40, 100])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_labels_of_a_lot_touch_nothing(count: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    grid = np.stack(np.meshgrid(np.arange(14), np.arange(9)), axis=2).reshape(-1, 2)
    centres = 60 + 100.0 * rng.permutation(grid)[:count] + rng.uniform(-12, 12, (count, 2))
    things = Things(centres=centres, radii=np.full(count, 22.0), picture_px=(WIDTH, HEIGHT))
    sizes = np.tile((34.0, 20.0), (count, 1))
    angles = np.arange(16) * np.pi / 8
    around = np.stack((np.cos(angles), np.sin(angles)), axis=1)
    directions = np.broadcast_to(around, (count, 16, 2))
    outside = np.zeros(count, bool)
    places = place_labels(things, sizes=sizes, directions=directions, inside=outside, else_inside=False)
    assert_free(places, sizes, things)


def test_labels_in_a_heap_stand_inside_and_at_its_rim_outside_with_nothing_between() -> None:
    """Of seven discs that touch, six lie about the seventh (kissing number of the plane)."""
    angles = np.arange(6) * np.pi / 3
    around = np.stack((np.cos(angles), np.sin(angles)), axis=1)
    centres = np.array([700.0, 500.0]) + np.vstack((np.zeros((1, 2)), 60.0 * around))
    things = Things(centres=centres, radii=np.full(7, 31.0), picture_px=(WIDTH, HEIGHT))
    ways = np.broadcast_to(all_round(), (7, *all_round().shape))
    how = {"sizes": np.tile((30.0, 20.0), (7, 1)), "directions": ways, "inside": np.zeros(7, bool)}
    places = place_labels(things, **how, else_inside=True)
    away = np.hypot(*(places - centres).T)
    assert away[0] == 0
    assert away[1:].min() > 31.0
    assert (((places - centres)[1:] * around).sum(axis=1) > 0).all()


@pytest.mark.parametrize("radius", [11.0, 15.0, 30.0])
@pytest.mark.parametrize("tilt", [0.0, 0.5, np.pi / 2])
def test_labels_of_a_strand_touch_nothing(radius: float, tilt: float) -> None:
    along = 2 * radius * np.arange(min(60, round(350 / radius)))
    centres = np.stack((120 + along * np.cos(tilt), 300 + along * np.sin(tilt)), axis=1)
    sizes = np.tile((24.0, 15.0), (len(centres), 1))
    things = Things(centres=centres, radii=np.full(len(centres), radius), picture_px=(WIDTH, 1400))
    outside = np.zeros(len(centres), bool)
    places = place_labels(things, sizes=sizes, directions=beside(centres), inside=outside, else_inside=False)
    assert_free(places, sizes, things)


def assert_free(places: np.ndarray, sizes: np.ndarray, things: Things) -> None:
    boxes = boxes_about(places, sizes)
    assert (boxes[:, :2] >= 0).all()
    assert (boxes[:, 2:] <= np.array(things.picture_px)).all()
    apart = (boxes[:, None, :2] >= boxes[None, :, 2:]) | (boxes[None, :, :2] >= boxes[:, None, 2:])
    np.fill_diagonal(apart[..., 0], val=True)
    assert apart.any(axis=2).all()
    nearest = things.centres[None].clip(boxes[:, None, :2], boxes[:, None, 2:])
    assert (np.linalg.norm(nearest - things.centres, axis=2) >= things.radii).all()
