"""Flecks beside the bed and findings among beads do not count; beads that only look like these do."""

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from vision.camera.scene import Scene
from vision.common.records import Photo
from vision.lot.counting import CERTAIN, weighed
from vision.lot.likeness import Shown
from vision.lot.things import things_among
from vision.sheet.geometry import SHEETS
from vision.topview.bead_map import BeadMap
from vision.topview.kinds import Kind
from vision.topview.orthophoto import Orthophoto
from vision.topview.region import PROBABLE, Fragment

PER_MM = 5.0
FELT, WOOD = (35.0, 0.0, 0.0), (30.0, 12.0, 28.0)
"""CIE L*a*b* of black felt and of oiled oak, L* halved (colour charts of common materials; no source)."""


def square(side_mm: float, looks: float = 0.9, corner: tuple[int, int] = (0, 0)) -> Fragment:
    """Return a piece of a bead's looks."""
    cells = round(side_mm * PER_MM)
    return Fragment(mask=np.ones((cells, cells), dtype=bool), corner=corner, probability=looks)


def chances(pieces: list[Fragment], *, foreign: list[float], beds: list[tuple[float, float, float]]) -> list:
    """Return the probabilities of pieces, half of the view being felt and half wood."""
    shown = Shown(foreign=np.array(foreign), beds=np.array(beds), view=np.array([FELT, WOOD]))
    return [piece.probability for piece in weighed(pieces, per_mm=PER_MM, shown=shown)]


def test_what_looks_half_like_a_bead_is_one_on_the_bed_and_none_beside_it() -> None:
    lot = [*[square(6)] * 20, square(6, 0.36), square(6, 0.36)]
    *_, on, beside = chances(lot, foreign=[0.0] * 22, beds=[FELT] * 21 + [WOOD])
    assert on > PROBABLE > beside


def test_beads_that_are_seen_well_count_wherever_they_lie() -> None:
    found = chances([square(6)] * 12, foreign=[0.0] * 12, beds=[FELT] * 10 + [WOOD] * 2)
    assert min(found) > CERTAIN


@pytest.mark.parametrize("count", [1, 3, 5])
def test_a_few_crimps_among_beads_are_findings(count: int) -> None:
    lot = [*[square(8)] * 30, *[square(2.2, 0.75)] * count]
    found = chances(lot, foreign=[0.0] * 30 + [0.6] * count, beds=[FELT] * len(lot))
    assert min(found[:30]) > CERTAIN
    assert max(found[30:]) < PROBABLE


@pytest.mark.parametrize(("count", "foreign"), [(30, 0.6), (6, 0.5), (1, 0.5)])
def test_beads_that_all_look_a_little_like_findings_count(count: int, foreign: float) -> None:
    assert min(chances([square(2.5)] * count, foreign=[foreign] * count, beds=[FELT] * count)) > CERTAIN


def test_beads_of_a_size_look_alike_so_one_that_looks_foreign_counts() -> None:
    assert min(chances([square(4)] * 20, foreign=[0.0] * 19 + [0.6], beds=[FELT] * 20)) > CERTAIN


def test_many_small_metal_beads_among_others_count() -> None:
    lot = [*[square(8)] * 30, *[square(2.5)] * 40]
    assert min(chances(lot, foreign=[0.0] * 30 + [0.5] * 40, beds=[FELT] * 70)) > CERTAIN


def test_what_is_seen_of_pieces_is_read_off_the_view() -> None:
    """The right half of the view is white; the second piece there is half a finding, half a bead."""
    rgb = np.zeros((100, 160, 3), np.uint8)
    rgb[:, 80:] = 255
    kinds = np.zeros((len(Kind), 100, 160), np.float32)
    kinds[0], kinds[:, 40:60, 120:140] = 1.0, 0.0
    kinds[1, 40:60, 120:140] = kinds[4, 40:60, 120:140] = 0.5
    empty = np.zeros((100, 160), np.float32)
    maps = BeadMap(inside=empty, depth=empty, kinds=kinds, bed=np.ones((100, 160), dtype=bool))
    top = Orthophoto(rgb=rgb, seen=maps.bed, origin_mm=(0.0, 0.0), cells_per_mm=PER_MM, height_mm=0.0)
    pieces = [square(4, corner=(10, 40)), square(4, corner=(120, 40))]
    scene = Scene(
        photo=Photo(name="beads.jpg", rgb=rgb, focal_35mm=None),
        camera=camera_at(100.0, 80.0, 250.0),
        sheet=SHEETS["mat-a4"],
    )
    shown = Shown.by(pieces, top, maps)
    assert shown.foreign == pytest.approx([0.0, 0.5], abs=1e-6)
    assert shown.beds == pytest.approx(np.array([[0.0, 0, 0], [50.0, 0, 0]]), abs=1.0)  # L* 0 and 100, halved
    assert [(thing.kind, thing.photo) for thing in things_among(pieces, scene, top, maps)] == [
        ("finding", "beads.jpg")
    ]
    assert shown.view[:, 0].mean() == pytest.approx(25.0, abs=1.0)
