"""Training samples: their layers agree with each other and with the drawn beads."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.synthetic import photos as synthetic
from tests.synthetic.scene import Scene
from tests.training import bead_samples, samples, strand_samples
from tests.training.bead_samples import FAINT, BeadSample, Laid, draw_lot, measured
from tests.training.samples import Sample, any_scene, draw_sample
from tests.training.strand_samples import StrandSample, draw_strand
from vision.lot import measure
from vision.pieces.counting import weighed
from vision.topview.region import Fragment

SEED = 3
COUNT = 9
SIZE_PX = (640, 480)
"""Small: a sample takes about a second."""
HALF = 128
TOUCHING_CELLS = 2
LOT_SEED = 6
OUTLINE_REL, ROUGHLY_REL = 0.05, 0.15
TRUE_LAYER, DOUBTFUL = 4, 0.2
SEEN_WIDER = 0.12
"""How much wider than its size across a bead may appear: it is nearer to the camera, tilted, or faceted."""


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


@pytest.fixture(scope="module")
def strand(few_pixels: None) -> StrandSample:  # noqa: ARG001
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(strand_samples, "any_scene", lambda seed, _: replace(small_scene(seed), mode="rod"))
        drawn = draw_strand(SEED)
    assert drawn is not None
    return drawn


def test_a_strands_beads_follow_each_other_between_its_stoppers(strand: StrandSample) -> None:
    assert len(strand.stoppers) == 2
    spans = np.concatenate([strand.stoppers[:1], strand.beads, strand.stoppers[1:]])
    assert (np.diff(spans, axis=1) > 0).all()
    assert (spans[1:, 0] - spans[:-1, 1] > -TOUCHING_CELLS).all()
    assert spans.max() < strand.rgb.shape[1]


def test_a_straightened_bead_is_inside_where_it_lies_on_the_string(strand: StrandSample) -> None:
    middle = len(strand.inside) // 2
    rows, columns = strand.inside.shape
    assert strand.rgb.shape == (rows, columns, 3)
    for first, last in strand.beads:
        assert strand.inside[middle, round((first + last) / 2)] == 255
    assert not strand.inside[middle, : int(strand.beads[0, 0]) - TOUCHING_CELLS].any()


def test_the_widest_bead_is_as_wide_as_recorded(strand: StrandSample) -> None:
    width = (strand.inside / 255).sum(axis=0).max()
    assert width == pytest.approx(strand.width_cells, rel=SEEN_WIDER)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_programs_camera_projects_as_the_drawings_camera_does(seed: int) -> None:
    scene = any_scene(seed)
    drawn = synthetic.aim(scene, np.random.default_rng(seed))
    points = np.random.default_rng(seed).uniform([0, 0, 0], [180, 240, 20], (20, 3))
    expected = drawn.project(points * (1, -1, 1))
    assert measured(drawn).project(points) == pytest.approx(expected, abs=1e-6)
    assert measured(drawn).centre_mm == pytest.approx(np.array(drawn.origin) * (1, -1, 1))


@pytest.fixture(scope="module")
def beads(few_pixels: None) -> BeadSample:  # noqa: ARG001
    return small_lot()


def small_lot() -> BeadSample:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bead_samples, "_SIZES_PX", (SIZE_PX,))
        drawn = draw_lot(LOT_SEED)
    assert drawn is not None
    return drawn


def test_each_loose_bead_has_its_picture_facts_and_errors(beads: BeadSample) -> None:
    count = len(beads.off)
    assert count >= COUNT
    assert beads.seen.shape == (count, 64, 64, 5)
    assert beads.facts.shape == (count, 8)
    assert np.isfinite(beads.facts).all()
    assert beads.off.shape == (count, 2)
    assert (beads.chance > FAINT).all()
    assert (np.isfinite(beads.off).all(axis=1) == (beads.bead == 1)).all()


def test_a_piece_is_no_bead_where_none_was_laid(beads: BeadSample) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bead_samples, "Laid", without_the_first)
        fewer = small_lot()
    assert sorted(fewer.bead) == [0.0, *sorted(beads.bead)[:-1]]
    assert not fewer.seen[fewer.bead == 0, ..., TRUE_LAYER].any()


def test_what_is_probably_no_bead_is_shown_too(beads: BeadSample) -> None:
    def doubtful(*pieces: Any, **shown: Any) -> list[Fragment]:  # noqa: ANN401
        return [replace(piece, probability=DOUBTFUL) for piece in weighed(*pieces, **shown)]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(measure, "weighed", doubtful)
        lot = small_lot()
    assert lot.chance == pytest.approx(np.full(len(beads.chance), DOUBTFUL))
    assert sorted(lot.bead) == sorted(beads.bead)


def without_the_first(*, truth: np.ndarray, kinds: list[int], of: Callable[[int], np.ndarray]) -> Laid:
    return Laid(truth=truth[1:], kinds=kinds[1:], of=lambda number: of(number + 1))


def test_the_error_of_a_size_is_that_of_its_outline(beads: BeadSample) -> None:
    found, true = (beads.seen[..., layer].sum(axis=(1, 2), dtype=float) for layer in (3, 4))
    apart = np.log(true / found) / 2 - beads.off.mean(axis=1)
    assert np.median(np.abs(apart)) < OUTLINE_REL
    assert np.median(np.abs(beads.off)) < ROUGHLY_REL
