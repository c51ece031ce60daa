"""What is learnt from a drawn view: a piece that nobody could make out is hidden, a shadow hides none."""

import numpy as np
import pytest

from tests.rendering.views import HIDDEN, Layers, veiled
from vision.topview.kinds import Kind

BED, BEAD = 120, 160
STEP_BELOW_SIGHT = 1
SHADOW = 60


def view_of(*shades: int) -> Layers:
    """Return a grey bed with one square piece of each shade, well apart."""
    rgb = np.full((60, 60 * len(shades), 3), BED, np.uint8)
    owner, kind = np.zeros((2, *rgb.shape[:2]), np.uint8)
    for number, shade in enumerate(shades):
        box = slice(20, 40), slice(60 * number + 20, 60 * number + 40)
        rgb[box], owner[box], kind[box] = shade, number + 1, Kind.BEAD
    return {"rgb": rgb, "owner": owner, "kind": kind}


def test_only_a_piece_like_its_bed_is_hidden() -> None:
    seen = veiled(view_of(BEAD, BED + STEP_BELOW_SIGHT, BEAD))
    assert seen is not None
    assert [set(seen["kind"][seen["owner"] == number]) for number in (1, 2, 3)] == [
        {Kind.BEAD},
        {HIDDEN},
        {Kind.BEAD},
    ]


@pytest.mark.parametrize(("shades", "left_out"), [((BED, BED, BEAD), True), ((BED, BEAD, BEAD), False)])
def test_a_view_is_left_out_where_most_pieces_are_hidden(shades: tuple[int, ...], left_out: bool) -> None:  # noqa: FBT001
    assert (veiled(view_of(*shades)) is None) == left_out


def test_a_hard_shadow_beside_a_piece_hides_it_not() -> None:
    layers = view_of(BEAD)
    layers["rgb"][14:46, 40:46] = SHADOW
    seen = veiled(layers)
    assert seen is not None
    assert HIDDEN not in seen["kind"]
