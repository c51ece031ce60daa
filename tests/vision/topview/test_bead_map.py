"""The map of beads of sample photos, of drawn bare sheets and of other views of them; never square."""

import functools
import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from tests.helpers.cameras import scene_of
from tests.helpers.paths import SAMPLES
from tests.synthetic import photos as synthetic
from vision.camera.scene import Scene
from vision.common.records import Photo
from vision.image.photo import load_photo
from vision.topview.bead_map import CELLS_PER_MM, BeadMap, bead_map
from vision.topview.bed import bed_region
from vision.topview.kinds import Kind
from vision.topview.orthophoto import Orthophoto
from vision.topview.reading import map_from_above

LOTS_AND_STRANDS = ("anklet", "labelled-10mm", "mixed-lot", "mixed-strand")
SMALL_PX = (1512, 1134)
HALF = 0.5
DEEP = 0.5
"""A bead's middle is its deepest cell, or nearly: deeper than a summit must be."""
BARE_SIZES = 1.0
"""Farther than its size from every bead's middle the bed is bare."""
STRAY_SHARE = 1e-3
"""Share of a bare bed's cells that may be taken for beads, as long as none is segmented."""
COARSER = 1.5
BESIDE_MM = 4.0
"""As far as a thing may reach beyond what shows of it."""
ALIKE = 0.95
"""Cells of beads in common over cells of beads in either view, of the same view taken twice."""
DEPTH_APART = 0.03
"""Median difference of depths between a view and its mirror image."""


@functools.cache
def sample(name: str) -> tuple[Scene, dict[str, Any]]:
    truth = json.loads((SAMPLES / f"{name}.json").read_text())
    return scene_of(load_photo(SAMPLES / f"{name}.jpg"), truth["bed_height_mm"]), truth


@functools.cache
def looked_at(name: str) -> tuple[Orthophoto, BeadMap]:
    seen = map_from_above(sample(name)[0])
    return seen.top, seen.maps


def middles(scene: Scene, top: Orthophoto, truth: dict[str, Any]) -> np.ndarray:
    """Return the cells (x, y) that show the true middles of all beads, shape (B, 2)."""
    seen = np.array([row["px"] for row in truth["beads"]])
    return top.to_cells(scene.camera.to_plane(seen, scene.bed_height_mm))


def at(layer: np.ndarray, cells: np.ndarray) -> np.ndarray:
    columns, rows = np.round(cells).astype(int).T
    return layer[rows, columns]


def in_common(one: np.ndarray, other: np.ndarray) -> float:
    """Return cells of beads in both maps over cells in either (Jaccard)."""
    beads = one > HALF, other > HALF
    return float(np.sum(beads[0] & beads[1]) / np.sum(beads[0] | beads[1]))


@pytest.mark.parametrize("name", LOTS_AND_STRANDS)
def test_beads_are_separated_from_bare_bed(name: str) -> None:
    scene, truth = sample(name)
    top, maps = looked_at(name)
    cells = middles(scene, top, truth)
    assert at(maps.inside, cells).min() > HALF
    assert at(maps.depth, cells).min() > DEEP
    sizes = [row.get("along_mm", 0.0) or row["max_feret_mm"] for row in truth["beads"]]
    largest = max(*sizes, *(row.get("across_mm", 0.0) for row in truth["beads"])) * top.cells_per_mm
    bare = np.ones(maps.inside.shape, np.uint8)
    for x, y in np.round(cells).astype(int).tolist():
        cv2.circle(bare, (x, y), round(BARE_SIZES * largest), 0, cv2.FILLED)
    bed = bed_region(top, scene.sheet, scale=1.0) & (bare > 0)
    assert np.mean(maps.inside[bed] > HALF) < STRAY_SHARE


@pytest.mark.parametrize("name", LOTS_AND_STRANDS)
def test_maps_are_shares_and_agree_with_each_other(name: str) -> None:
    top, maps = looked_at(name)
    for layer in (maps.inside, maps.depth):
        assert layer.shape == top.rgb.shape[:2]
        assert layer.dtype == np.float32
        assert layer.min() >= 0
        assert layer.max() <= 1
    assert np.mean(maps.depth[maps.inside < 0.1] > 0.2) < STRAY_SHARE


@pytest.mark.parametrize(
    ("sheet", "bed"), [("mat-a4", "white"), ("mat-letter", "black-felt"), ("card", "grey-felt")]
)
def test_bare_sheet_holds_nothing(sheet: str, bed: str) -> None:
    drawn = synthetic.draw(
        synthetic.plan(
            31, mode="loose", sheet=sheet, bed=bed, count=0, size_px=SMALL_PX, fault="none", print_scale=1.0
        )
    )
    photo = Photo(name="bare.jpg", rgb=drawn.rgb, focal_35mm=drawn.truth["f35_mm"])
    scene = scene_of(photo, drawn.truth["bed_height_mm"])
    seen = map_from_above(scene)
    bed = bed_region(seen.top, scene.sheet, scale=1.0)
    assert np.mean(seen.maps.inside[bed] > HALF) < STRAY_SHARE
    assert seen.pieces == []


@pytest.mark.parametrize("name", ["mixed-lot", "mixed-strand"])
def test_a_photo_of_fewer_pixels_shows_every_bead(name: str) -> None:
    scene, truth = sample(name)
    middle = np.array([*np.array(scene.sheet.page_mm) / 2, scene.bed_height_mm])
    share = CELLS_PER_MM / COARSER / scene.camera.px_per_mm(middle)
    small = cv2.resize(scene.photo.rgb, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    photo = Photo(name="small.jpg", rgb=np.asarray(small), focal_35mm=scene.photo.focal_35mm)
    coarse = scene_of(photo, scene.bed_height_mm)
    seen = map_from_above(coarse)
    top, maps = seen.top, seen.maps
    assert top.cells_per_mm == pytest.approx(CELLS_PER_MM / COARSER, rel=0.02)
    whole, _ = looked_at(name)
    cells = top.to_cells(whole.to_mm(middles(scene, whole, truth)))
    assert at(maps.inside, cells).min() > HALF


KINDS_SUM = 1e-4
"""How far shares may be off 1 in sum, after they were interpolated in single precision."""
LIKELY = 0.9


@pytest.mark.parametrize("name", LOTS_AND_STRANDS)
def test_kinds_of_a_cell_are_shares_of_one(name: str) -> None:
    top, maps = looked_at(name)
    assert maps.kinds.shape == (len(Kind), *top.rgb.shape[:2])
    assert maps.kinds.min() >= 0
    assert maps.kinds.sum(axis=0) == pytest.approx(1.0, abs=KINDS_SUM)


@pytest.mark.parametrize("name", LOTS_AND_STRANDS)
def test_the_middles_of_beads_are_strung_parts_and_nothing_lies_off_the_bed(name: str) -> None:
    scene, truth = sample(name)
    top, maps = looked_at(name)
    strung = maps.kinds[[Kind.BEAD, Kind.SPACER, Kind.COVER]].sum(axis=0)
    assert np.median(at(strung, middles(scene, top, truth))) > LIKELY
    assert np.median(at(maps.strung, middles(scene, top, truth))) > LIKELY
    assert not maps.bed.all()
    assert (maps.kinds[Kind.BED][~maps.bed] == 1).all()
    assert not maps.kinds[Kind.BEAD :, ~maps.bed].any()


def of_kinds(**shares: float) -> BeadMap:
    """Return the map of a few cells with the same shares of kinds."""
    kinds = np.zeros((len(Kind), 3, 4), np.float32)
    for name, share in shares.items():
        kinds[Kind[name]] = share
    nothing = np.zeros(kinds.shape[1:], np.float32)
    return BeadMap(inside=nothing, depth=nothing, kinds=kinds, bed=np.ones(nothing.shape, dtype=bool))


@pytest.mark.parametrize(
    ("shares", "strung"),
    [
        ({"BED": 1.0}, 1.0),  # nothing speaks against a bead
        ({"BEAD": 0.5, "SPACER": 0.25, "COVER": 0.25}, 1.0),
        ({"BED": 0.5, "BEAD": 0.25, "OTHER": 0.25}, (0.25 + 0.05) / (0.5 + 0.05)),
        ({"STOPPER": 1.0}, 0.05 / 1.05),
    ],
)
def test_what_is_strung_is_a_share_of_what_is_no_bed(shares: dict[str, float], strung: float) -> None:
    assert of_kinds(**shares).strung == pytest.approx(strung, rel=1e-5)


def view(rgb: np.ndarray) -> Orthophoto:
    return Orthophoto(
        rgb=np.ascontiguousarray(rgb),
        seen=np.ones(rgb.shape[:2], dtype=bool),
        origin_mm=(0.0, 0.0),
        cells_per_mm=CELLS_PER_MM,
        height_mm=0.0,
    )


def mapped(rgb: np.ndarray) -> BeadMap:
    return bead_map(view(rgb), np.ones(rgb.shape[:2], dtype=bool))


@functools.cache
def piece(height: int = 352, width: int = 544) -> np.ndarray:
    """Return a piece of a lot's top view, of sides that the network takes as they are."""
    top, _ = looked_at("mixed-lot")
    return top.rgb[250 : 250 + height, 500 : 500 + width]


@pytest.mark.parametrize(("height", "width"), [(351, 523), (341, 533), (330, 513)])
def test_pictures_of_any_sides_are_mapped_alike(height: int, width: int) -> None:
    cut = mapped(piece(height, width))
    assert cut.inside.shape == (height, width)
    assert in_common(cut.inside[:300, :480], mapped(piece()).inside[:300, :480]) > ALIKE


@pytest.mark.parametrize(
    "turned",
    [lambda a: a[:, ::-1], lambda a: a[::-1], lambda a: np.swapaxes(a, 0, 1)],
    ids=["left for right", "upside down", "rows for columns"],
)
def test_a_mirrored_picture_has_a_mirrored_map(turned: Callable[[np.ndarray], np.ndarray]) -> None:
    plain, mirrored = mapped(piece()), mapped(turned(piece()))
    assert in_common(turned(plain.inside), mirrored.inside) > ALIKE
    beads = turned(plain.inside) > HALF
    assert np.median(np.abs(turned(plain.depth) - mirrored.depth)[beads]) < DEPTH_APART


def test_nothing_is_detected_where_no_bead_may_lie() -> None:
    top = view(piece())
    where = np.zeros(top.rgb.shape[:2], dtype=bool)
    where[40:290, 60:390] = True
    maps = bead_map(top, where)
    assert not maps.inside[~where].any()
    assert not maps.depth[~where].any()
    assert (maps.kinds[Kind.BED][~where] == 1).all()
    assert in_common(np.where(where, mapped(top.rgb).inside, 0), maps.inside) > ALIKE


def test_an_empty_region_has_an_empty_map() -> None:
    maps = bead_map(view(piece()), np.zeros(piece().shape[:2], dtype=bool))
    assert not maps.inside.any()
    assert not maps.depth.any()
    assert (maps.kinds[Kind.BED] == 1).all()
    assert (maps.strung == 1).all()


def test_a_view_that_is_taken_coarser_is_mapped_on_its_own_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("vision.topview.bead_map._MOST_CELLS", piece().shape[0] * piece().shape[1] / 1.6**2)
    fine = cv2.resize(piece(), None, fx=1.6, fy=1.6, interpolation=cv2.INTER_CUBIC)
    top = Orthophoto(
        rgb=np.asarray(fine),
        seen=np.ones(fine.shape[:2], dtype=bool),
        origin_mm=(0.0, 0.0),
        cells_per_mm=1.6 * CELLS_PER_MM,
        height_mm=0.0,
    )
    maps = bead_map(top, top.seen)
    assert maps.inside.shape == fine.shape[:2]
    back = cv2.resize(maps.inside, piece().shape[1::-1], interpolation=cv2.INTER_AREA)
    monkeypatch.undo()
    assert in_common(back, mapped(piece()).inside) > ALIKE


def test_a_finer_view_is_mapped_where_a_coarser_map_shows_anything() -> None:
    """One half of the coarser map is wiped: nothing is found there, and the other half as without it."""
    fine = cv2.resize(piece(), None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    top = replace(view(fine), cells_per_mm=2 * CELLS_PER_MM)
    before = mapped(piece())
    middle = piece().shape[1] // 2
    before.kinds[:, :, middle:] = (np.arange(len(before.kinds)) == Kind.BED)[:, None, None]
    maps, whole = bead_map(top, top.seen, before=before), bead_map(top, top.seen)
    beyond = 2 * middle + round(BESIDE_MM * top.cells_per_mm) + 1
    assert not maps.inside[:, beyond:].any()
    assert (maps.kinds[Kind.BED, :, beyond:] == 1).all()
    assert in_common(maps.inside[:, : 2 * middle], whole.inside[:, : 2 * middle]) > ALIKE
