"""A second look shows the network a piece with its surroundings, and tells one bead from several."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from vision.pieces.second_look import CELLS, Whole, pictures, second_look
from vision.topview.bead_map import BeadMap
from vision.topview.kinds import Kind
from vision.topview.orthophoto import Orthophoto
from vision.topview.reading import Reading
from vision.topview.region import Fragment

SIDE, RADIUS = 200, 15
FELT, WHITE = 70, 230
CODE = 1.0
"""Of 255: what rounding may change."""
WINDOW = 3.2
"""Width of a picture over the piece's diameter, as the network was trained."""
LIKELY = 0.9
ROUND_REL = 0.05
"""Of a disc's area in few cells."""


def disc(x: int, y: int, radius: int = RADIUS) -> Fragment:
    rows, columns = np.mgrid[-radius : radius + 1, -radius : radius + 1]
    return Fragment(mask=np.hypot(rows, columns) <= radius, corner=(x - radius, y - radius))


def reading(*beads: Fragment) -> Reading:
    """Return a view of felt with white discs on it, as the networks of the top view would see them."""
    inside, depth = np.zeros((2, SIDE, SIDE), np.float32)
    for bead in beads:
        (x, y), (height, width) = bead.corner, bead.mask.shape
        deep = cv2.distanceTransform(np.pad(bead.mask, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
        inside[y : y + height, x : x + width][bead.mask] = 1
        depth[y : y + height, x : x + width] += deep / deep.max()
    kinds = np.zeros((len(Kind), SIDE, SIDE), np.float32)
    kinds[Kind.BED], kinds[Kind.BEAD] = 1 - inside, inside
    rgb = np.full((SIDE, SIDE, 3), FELT, np.uint8)
    rgb[inside > 0] = WHITE
    rgb = cv2.GaussianBlur(rgb, (0, 0), 0.8)
    bed = np.ones((SIDE, SIDE), dtype=bool)
    top = Orthophoto(rgb=np.asarray(rgb), seen=bed, origin_mm=(0.0, 0.0), cells_per_mm=5.0, height_mm=0.0)
    maps = BeadMap(inside=inside, depth=depth, kinds=kinds, bed=bed)
    return Reading(top=top, maps=maps, pieces=list(beads))


def test_a_picture_shows_the_piece_in_its_middle_and_others_beside_it() -> None:
    one, other = disc(100, 100), disc(136, 100)
    seen = reading(one, other)
    shown = pictures([one], seen.top.rgb, seen.maps, among=[one, other])[0].astype(float)
    across = CELLS / WINDOW
    assert (shown[..., 3] > 127).sum() == pytest.approx(np.pi / 4 * across**2, rel=ROUND_REL)
    rows, columns = np.nonzero(shown[..., 3] > 127)
    assert (rows.mean(), columns.mean()) == pytest.approx([(CELLS - 1) / 2] * 2, abs=0.6)
    beside = np.nonzero(shown[..., 4] > 127)[1]
    assert beside.min() > columns.max()
    assert not (shown[..., 3:5] > 127).all(axis=2).any()
    assert shown[CELLS // 2, CELLS // 2, :3] == pytest.approx(np.full(3, WHITE), abs=CODE)
    assert shown[0, 0, :3] == pytest.approx(np.full(3, FELT), abs=CODE)


@pytest.mark.parametrize("place", [(16, 16), (SIDE - 17, 100)])
def test_beyond_the_view_its_outermost_cells_are_repeated(place: tuple[int, int]) -> None:
    one = disc(*place)
    seen = reading(one)
    shown = pictures([one], seen.top.rgb, seen.maps, among=[one])[0]
    assert shown.shape[:2] == (CELLS, CELLS)
    assert shown[-1 if place[0] < SIDE / 2 else 0, 0, :3] == pytest.approx(np.full(3, FELT), abs=CODE)
    assert (shown[..., 3] > 127).sum() == pytest.approx(np.pi / 4 * (CELLS / WINDOW) ** 2, rel=ROUND_REL)


def test_a_disc_is_one_bead_and_two_that_touch_are_several() -> None:
    one, other = disc(60, 60), disc(60 + 2 * RADIUS, 60)
    pair = Fragment(mask=np.hstack([one.mask, other.mask]), corner=one.corner)
    seen = reading(one, other, disc(150, 140))
    looks = second_look([*seen.pieces, pair], seen, among=seen.pieces)
    assert looks.sum(axis=1) == pytest.approx(np.ones(4))
    assert (looks[:3, Whole.ONE] > LIKELY).all()
    assert looks[3, Whole.SEVERAL] > LIKELY


def test_a_disc_that_the_map_takes_for_a_coin_is_a_bead_by_its_picture() -> None:
    coin = disc(60, 60)
    seen = reading(coin, disc(150, 140))
    kinds = seen.maps.kinds.copy()
    kinds[Kind.OTHER], kinds[Kind.BEAD] = kinds[Kind.BEAD], 0
    taken = Reading(top=seen.top, maps=replace(seen.maps, kinds=kinds, inside=0 * kinds[0]), pieces=[])
    by_map, by_photo = (
        second_look([coin], taken, among=[coin], map_shown=shown)[0] for shown in (True, False)
    )
    assert by_photo[Whole.ONE] > LIKELY
    assert by_map[Whole.ONE] < by_photo[Whole.ONE]


def test_of_what_the_photos_edge_cuts_off_the_map_says_what_it_is() -> None:
    cut = Fragment(mask=disc(0, 0).mask[:, RADIUS:], corner=(1, 60), probability=0.8)
    whole = replace(cut, corner=(3, 60))
    looks = second_look([cut, whole], reading(cut), among=[cut])
    assert looks[0] == pytest.approx([0.2, 0.8, 0.0, 0.0])
    assert looks[1] != pytest.approx(looks[0], abs=0.01)
    assert second_look([cut], reading(), among=[cut], map_shown=False)[0, Whole.NONE] == 1.0


def test_nothing_to_look_at_gives_nothing() -> None:
    assert second_look([], reading(), among=[]).shape == (0, len(Whole))
