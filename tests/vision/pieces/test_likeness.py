"""Flecks beside the bed do not count; beads that lie there do."""

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from vision.camera.scene import Scene
from vision.common.records import Photo
from vision.pieces.counting import CERTAIN, weighed
from vision.pieces.likeness import Shown
from vision.pieces.things import things_among
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


def chances(pieces: list[Fragment], *, beds: list[tuple[float, float, float]]) -> list[float]:
    """Return the probabilities of pieces, half of the view being felt and half wood."""
    shown = Shown(beds=np.array(beds), view=np.array([FELT, WOOD]))
    return [piece.probability for piece in weighed(pieces, per_mm=PER_MM, shown=shown)]


def test_what_looks_half_like_a_bead_is_one_on_the_bed_and_none_beside_it() -> None:
    lot = [*[square(6)] * 20, square(6, 0.36), square(6, 0.36)]
    *_, on, beside = chances(lot, beds=[FELT] * 21 + [WOOD])
    assert on > PROBABLE > beside


def test_beads_that_are_seen_well_count_wherever_they_lie() -> None:
    found = chances([square(6)] * 12, beds=[FELT] * 10 + [WOOD] * 2)
    assert min(found) > CERTAIN


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
    assert shown.beds == pytest.approx(np.array([[0.0, 0, 0], [50.0, 0, 0]]), abs=1.0)  # L* 0 and 100, halved
    assert [(thing.kind, thing.photo) for thing in things_among(pieces, scene, top, maps)] == [
        ("finding", "beads.jpg")
    ]
    assert shown.view[:, 0].mean() == pytest.approx(25.0, abs=1.0)
