"""A strand that goes on out of the photo, over an unread tag, under the card or off the mat."""

from dataclasses import replace

import numpy as np
import pytest

from tests.helpers.cameras import SIZE_PX, camera_at
from vision.camera.scene import Scene
from vision.checks.cut_off import Ahead, cut_by
from vision.common.records import Photo
from vision.sheet.geometry import SHEETS

BEAD_MM = 8.0
MAT, CARD = SHEETS["mat-a4"], SHEETS["card"]


def scene(sheet_name: str) -> Scene:
    """Return a scene seen from above the middle of its sheet; all tags are read."""
    sheet, (width, height) = SHEETS[sheet_name], SIZE_PX
    blank = Photo(name="blank.jpg", rgb=np.zeros((height, width, 3), np.uint8))
    camera = camera_at(sheet.page_mm[0] / 2, sheet.page_mm[1] / 2, 400.0)
    return Scene(photo=blank, camera=camera, sheet=sheet, tags_seen=tuple(sheet.ids))


def from_to(start: tuple[float, float], end: tuple[float, float], *, shows: float = 0.0) -> Ahead:
    """Return what lies from one place to another on the sheet, all as likely a bead."""
    steps = np.linspace(0, 1, 81)[:, None]
    ground = np.array(start) + steps * (np.array(end) - np.array(start))
    return Ahead(places=np.column_stack([ground, np.zeros(81)]), shows=np.full(81, shows))


def test_a_strand_in_the_middle_of_the_mat_is_whole() -> None:
    assert list(cut_by(scene("mat-a4"), from_to((150.0, 100.0), (158.0, 100.0)))) == []


@pytest.mark.parametrize(("aside_mm", "found"), [(3.5, ["right"]), (4.5, [])])
def test_a_strand_that_runs_along_the_edge_of_the_photo_may_lose_a_bead_at_its_side(
    aside_mm: float, found: list[str]
) -> None:
    """A round bead of 8 mm reaches 4 mm aside."""
    seen = scene("card")
    edge_mm = seen.camera.to_plane(np.array([[SIZE_PX[0] - 1.0, SIZE_PX[1] / 2]]), 0.0)[0]
    x = edge_mm[0] - aside_mm
    assert list(cut_by(seen, from_to((x, edge_mm[1]), (x, edge_mm[1] + BEAD_MM)))) == found


def test_a_tag_that_was_read_cuts_nothing_off_and_one_that_was_not_does() -> None:
    seen = scene("mat-a4")
    tag = MAT.first_id + 3
    low, high = MAT.corners_mm(tag).min(axis=0), MAT.corners_mm(tag).max(axis=0)
    x = (low[0] + high[0]) / 2
    up = from_to((x, high[1] + 3.0), (x, high[1] - 5.0))
    away = (x, high[1] + 6.0), (x, high[1] - 2.0)
    unread = replace(seen, tags_seen=tuple(i for i in MAT.ids if i != tag))
    assert list(cut_by(seen, up)) == []
    assert list(cut_by(unread, up)) == ["tags"]
    assert list(cut_by(unread, from_to(*away))) == []  # a stopper that covers the tag
    assert list(cut_by(unread, from_to(*away, shows=0.8))) == ["tags"]


def test_a_strand_that_leaves_the_mat_goes_off_the_sheet() -> None:
    width = MAT.page_mm[0]
    leaves = from_to((width - 14.0, 100.0), (width - 6.0, 100.0))
    assert list(cut_by(scene("mat-a4"), leaves)) == ["sheet"]


@pytest.mark.parametrize(("gap_mm", "found"), [(3.0, ["glare"]), (5.0, [])])
def test_a_strand_that_ends_within_half_a_bead_of_glare_may_go_on_in_it(
    gap_mm: float, found: list[str]
) -> None:
    seen = scene("mat-a4")
    beside = gap_mm + BEAD_MM  # what is ahead reaches a bead farther than the end
    x, y = seen.camera.project(np.array([150.0 + beside, 100.0, 0.0])).round().astype(int)
    seen.photo.rgb[y - 60 : y + 60, x : x + 120] = 255
    assert list(cut_by(seen, from_to((150.0, 100.0), (158.0, 100.0)))) == found


@pytest.mark.parametrize(("gap_mm", "found"), [(5.0, ["thing"]), (9.0, [])])
def test_a_strand_that_ends_within_a_bead_of_a_wide_thing_may_go_on_under_it(
    gap_mm: float, found: list[str]
) -> None:
    left = 150.0 + gap_mm
    finger = np.array([(left, 20.0), (left + 16.0, 20.0), (left + 16.0, 110.0), (left, 110.0)])
    ahead = from_to((150.0, 100.0), (150.0 + BEAD_MM, 100.0))
    assert list(cut_by(scene("mat-a4"), ahead, covers_mm=[finger])) == found


@pytest.mark.parametrize(("gap_mm", "found"), [(3.0, ["tags"]), (5.0, [])])
def test_what_nearly_touches_the_card_may_lie_under_it(gap_mm: float, found: list[str]) -> None:
    below = CARD.page_mm[1] + gap_mm
    assert list(cut_by(scene("card"), from_to((40.0, below), (40.0, below - BEAD_MM)))) == found


@pytest.mark.parametrize(
    ("edge", "way"), [("left", (-1, 0)), ("right", (1, 0)), ("top", (0, -1)), ("bottom", (0, 1))]
)
def test_the_edge_that_a_strand_meets_is_named(edge: str, way: tuple[int, int]) -> None:
    seen = scene("card")
    size = np.array(seen.size_px)
    border = (size - 1) / 2 * (1 + np.array(way))
    start = seen.camera.to_plane(border[None], 0.0)[0]
    inside, outside = start - 4.0 * np.array(way), start + 4.0 * np.array(way)
    found = set(cut_by(seen, from_to(tuple(inside), tuple(outside))))
    assert edge in found
    assert not found & ({"left", "right", "top", "bottom"} - {edge})
    assert edge not in set(cut_by(seen, from_to(tuple(inside - 8.0 * np.array(way)), tuple(inside))))
