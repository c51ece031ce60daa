"""The top view is read finer where pieces are unsure."""

import json

import numpy as np
import pytest

from tests.helpers.cameras import camera_at, scene_of
from tests.helpers.paths import SAMPLES
from vision.camera.scene import Scene
from vision.common.records import Photo
from vision.image.photo import load_photo
from vision.sheet.geometry import SHEETS
from vision.topview.bead_map import CELLS_PER_MM, BeadMap
from vision.topview.orthophoto import Orthophoto
from vision.topview.reading import map_from_above
from vision.topview.region import SURE, Fragment

HEIGHT_MM = 300.0
FINER = 2 * CELLS_PER_MM
UNSURE = SURE - 0.1


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Replace the networks; return how many cells a millimetre each view had that they got."""
    given: list[float] = []

    def instead(top: Orthophoto, where: np.ndarray, *, before: BeadMap | None) -> BeadMap:
        assert (before is None) == (top.cells_per_mm == CELLS_PER_MM)  # a finer view is told what showed
        given.append(top.cells_per_mm)
        layer = np.full(where.shape, 0.8, np.float32)
        return BeadMap(inside=layer, depth=layer.copy(), kinds=layer[None].copy(), bed=where)

    monkeypatch.setattr("vision.topview.reading.bead_map", instead)
    return given


def pieces_are(monkeypatch: pytest.MonkeyPatch, chances: dict[float, list[float]]) -> None:
    """Let the map of a view of so many cells a millimetre show pieces of these probabilities."""

    def instead(_: BeadMap, *, per_mm: float) -> list[Fragment]:
        mask = np.ones((2, 2), dtype=bool)
        return [Fragment(mask=mask, corner=(0, 0), probability=chance) for chance in chances[per_mm]]

    monkeypatch.setattr("vision.topview.reading.possible_beads", instead)


def grey(px_per_mm: float) -> Scene:
    """Return a grey photo of a few millimetres of a mat."""
    sheet = SHEETS["mat-a4"]
    middle = np.array(sheet.page_mm) / 2
    size_px = (80, 60)
    camera = camera_at(*middle, HEIGHT_MM, focal_px=px_per_mm * HEIGHT_MM, size_px=size_px)
    photo = Photo(name="grey.jpg", rgb=np.full((*size_px[::-1], 3), 128, np.uint8))
    return Scene(photo=photo, camera=camera, sheet=sheet)


@pytest.mark.parametrize(
    ("coarse", "finer", "taken"),
    [
        ([SURE + 0.05, 0.1, 0.9], [], CELLS_PER_MM),  # mostly sure: it is not read again
        ([UNSURE, 0.1, 0.9], [UNSURE + 0.05], FINER),
        ([UNSURE, 0.1, 0.9], [UNSURE - 0.05, 0.9, 0.1], CELLS_PER_MM),  # finer is less sure
        ([UNSURE, 0.1, 0.9], [], CELLS_PER_MM),  # finer shows nothing
        ([], [0.9], CELLS_PER_MM),  # a bare bed is bare
    ],
)
def test_the_surer_of_two_readings_counts_where_the_first_is_unsure(
    asked: list[float],
    monkeypatch: pytest.MonkeyPatch,
    coarse: list[float],
    finer: list[float],
    taken: float,
) -> None:
    pieces_are(monkeypatch, {CELLS_PER_MM: coarse, FINER: finer})
    seen = map_from_above(grey(9.0))
    assert seen.top.cells_per_mm == taken
    assert seen.maps.bed.shape == seen.top.rgb.shape[:2]
    again = [FINER] if coarse and np.median(coarse) < SURE else []
    assert asked == [CELLS_PER_MM, *again]


@pytest.mark.parametrize(("bead_mm", "times"), [(2.0, 2.0), (5.0, 1.6), (7.9, 8 / 7.9), (8.1, None)])
def test_beads_are_enlarged_no_farther_than_networks_know_them(
    asked: list[float], monkeypatch: pytest.MonkeyPatch, bead_mm: float, times: float | None
) -> None:
    cells = round(np.pi / 4 * (bead_mm * CELLS_PER_MM) ** 2)
    piece = Fragment(mask=np.ones((1, cells), dtype=bool), corner=(0, 0), probability=UNSURE)
    monkeypatch.setattr("vision.topview.reading.possible_beads", lambda *_, **__: [piece])
    map_from_above(grey(9.0))
    found = [per_mm / CELLS_PER_MM for per_mm in asked]
    assert found == pytest.approx([1.0] if times is None else [1.0, times], rel=0.01)


def test_a_wide_view_is_read_again_less_fine(asked: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    top = map_from_above(grey(9.0)).top
    monkeypatch.setattr("vision.topview.reading._MOST_CELLS", 1.44 * top.seen.size)
    pieces_are(monkeypatch, {CELLS_PER_MM: [UNSURE], 1.2 * CELLS_PER_MM: [0.9]})
    asked.clear()
    finer = map_from_above(grey(9.0)).top
    assert finer.seen.size == pytest.approx(1.44 * top.seen.size, rel=0.01)
    monkeypatch.setattr("vision.topview.reading._MOST_CELLS", 0.9 * top.seen.size)
    assert map_from_above(grey(9.0)).top.cells_per_mm == CELLS_PER_MM
    assert asked == [CELLS_PER_MM, 1.2 * CELLS_PER_MM, CELLS_PER_MM]


@pytest.mark.parametrize("name", ["mixed-lot", "anklet"])
def test_beads_that_are_seen_well_are_looked_at_once(name: str) -> None:
    truth = json.loads((SAMPLES / f"{name}.json").read_text())
    seen = map_from_above(scene_of(load_photo(SAMPLES / f"{name}.jpg"), truth["bed_height_mm"]))
    assert seen.top.cells_per_mm == CELLS_PER_MM
