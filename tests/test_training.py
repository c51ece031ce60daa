"""What the network learns from: a drawn sample tells which cells show which bead, without contradiction."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
import samples
from samples import Sample, any_scene, draw_sample
from synthetic_scene import Scene

SEED = 3
COUNT = 9
SIZE_PX = (640, 480)
"""Small, to be drawn in a second."""
HALF = 128


def small_scene(seed: int) -> Scene:
    return replace(any_scene(seed), count=COUNT, size_px=SIZE_PX)


@pytest.fixture(scope="module", autouse=True)
def few_pixels() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(samples, "any_scene", small_scene)
        yield


@pytest.fixture(scope="module")
def sample(few_pixels: None) -> Sample:  # noqa: ARG001
    drawn = draw_sample(SEED)
    assert drawn is not None
    return drawn


def test_layers_are_of_one_shape(sample: Sample) -> None:
    rows, columns = sample.owner.shape
    assert rows != columns
    assert sample.rgb.shape == (rows, columns, 3)
    for layer in (sample.rgb, sample.owner, sample.inside, sample.depth):
        assert layer.dtype == np.uint8
    assert sample.inside.shape == sample.depth.shape == (rows, columns)


def test_a_beads_cells_are_mostly_inside_and_others_mostly_not(sample: Sample) -> None:
    assert 1 < sample.owner.max() <= COUNT
    assert sample.inside[sample.owner > 0].min() >= HALF
    assert sample.inside[sample.owner == 0].max() < HALF


def test_every_bead_is_deepest_somewhere(sample: Sample) -> None:
    assert not sample.depth[sample.owner == 0].any()
    numbers = np.unique(sample.owner[sample.owner > 0])
    assert [int(sample.depth[sample.owner == k].max()) for k in numbers] == [255] * len(numbers)
    assert sample.depth[sample.owner > 0].min() > 0


def test_the_same_seed_draws_the_same_sample(sample: Sample) -> None:
    again = draw_sample(SEED)
    assert again is not None
    assert np.array_equal(again.rgb, sample.rgb)
    assert np.array_equal(again.owner, sample.owner)


def test_scenes_are_of_many_kinds() -> None:
    scenes = [any_scene(seed) for seed in range(60)]
    assert {s.mode for s in scenes} == {"loose", "rod", "wire"}
    assert {s.sheet for s in scenes} == {"mat-a4", "mat-letter", "card"}
    sizes = [s.nominal_mm for s in scenes]
    assert max(sizes) / min(sizes) > 5
