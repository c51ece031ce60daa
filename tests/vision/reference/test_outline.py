"""Outlines move as their slopes say, show their upright sides as similar triangles ask, and are fitted."""

import numpy as np
import pytest

from tests.helpers.cameras import camera_at
from vision.reference.objects import REFERENCES
from vision.reference.outline import Pose, outline_of

CARD, COIN = REFERENCES["card"], REFERENCES["euro-2"]
SMALL = 1e-4
SECOND_ORDER_MM = 1e-6
"""What a change of `SMALL` leaves besides its linear part."""
SCATTER_REL = 0.15
"""Of a standard deviation estimated from 200 draws: 1 / sqrt(2 n) = 5 %, three times that."""

CARD_POSE = Pose(centre_mm=(150.0, 100.0), turn=0.3, size_mm=(86.0, 54.0))
COIN_POSE = Pose(centre_mm=(150.0, 100.0), turn=0.0, size_mm=(25.75,))


@pytest.mark.parametrize(("thing", "pose"), [(CARD, CARD_POSE), (COIN, COIN_POSE)])
def test_slopes_are_how_the_outline_moves(thing, pose) -> None:  # noqa: ANN001
    outline = outline_of(thing, pose, spacing_mm=1.0)
    for k in range(outline.slopes.shape[1]):
        change = np.zeros(outline.slopes.shape[1])
        change[k] = SMALL
        moved = outline_of(thing, pose.moved(change), spacing_mm=1.0)
        along = np.sum((moved.points_mm - outline.points_mm) * outline.normals, axis=1)
        assert along == pytest.approx(SMALL * outline.slopes[:, k], abs=SECOND_ORDER_MM)


def test_a_card_is_as_large_as_its_standard_says() -> None:
    """ISO/IEC 7810: ID-1 is 85.60 x 53.98 mm with corners of radius 3.18 mm, 0.76 mm thick."""
    assert CARD.size_mm == (85.60, 53.98)
    assert CARD.thickness_mm == 0.76
    outline = outline_of(CARD, Pose(centre_mm=(0.0, 0.0), turn=0.0, size_mm=CARD.size_mm), spacing_mm=0.5)
    assert np.ptp(outline.points_mm, axis=0) == pytest.approx(CARD.size_mm)
    straight = np.abs(outline.points_mm[outline.side % 2 == 0, 1]).max()
    assert straight < 53.98 / 2 - 3.18


def test_sides_hold_whole_groups() -> None:
    for thing, pose in ((CARD, CARD_POSE), (COIN, COIN_POSE)):
        outline = outline_of(thing, pose, spacing_mm=0.25, group=8)
        assert (np.bincount(outline.side) % 8 == 0).all()
        thin = outline.thinned(8)
        assert np.bincount(thin.side) == pytest.approx(np.bincount(outline.side) / 8)


def test_upright_sides_show_where_the_camera_stands_outside() -> None:
    """By similar triangles: from height H and X outside, a side of height t shows t X / H of the ground."""
    pose = Pose(centre_mm=(100.0, 100.0), turn=0.0, size_mm=(80.0, 50.0))
    outline = outline_of(CARD, pose, spacing_mm=2.0)
    shown = outline.shown_side_mm(camera_at(200.0, 100.0, 300.0), thickness_mm=0.76)
    right = outline.side == 0
    assert shown[right] == pytest.approx(0.76 * (200 - 140) / 300)
    assert not shown[~right].any()


def test_a_fit_finds_the_change_and_leaves_out_what_is_far_off() -> None:
    outline = outline_of(CARD, CARD_POSE, spacing_mm=2.0)
    change = np.array([0.1, -0.05, 0.001, 0.2, -0.1])
    offsets = outline.slopes @ change + np.random.default_rng(3).normal(0, 0.002, len(outline.side))
    offsets[::9] += 0.5
    fit = outline.fitted(offsets, np.full(len(offsets), 0.01))
    assert fit.change == pytest.approx(change, abs=0.002)


def test_a_fit_states_the_scatter_that_its_sides_cause() -> None:
    outline = outline_of(CARD, CARD_POSE, spacing_mm=2.0)
    rng, u_mm = np.random.default_rng(4), 0.02
    fits = [
        outline.fitted(
            rng.normal(0, u_mm, 4)[outline.side] + rng.normal(0, 1e-4, len(outline.side)),
            np.full(len(outline.side), u_mm),
        )
        for _ in range(200)
    ]
    scatter = np.std([fit.change[-2:] for fit in fits], axis=0)
    # two opposite sides, each off by u: the width is off by sqrt(2) u
    assert scatter == pytest.approx(np.sqrt(2) * u_mm, rel=SCATTER_REL)
    stated = np.sqrt(np.diag(fits[0].covariance))[-2:]
    assert stated == pytest.approx(np.sqrt(2) * u_mm, rel=SCATTER_REL)
