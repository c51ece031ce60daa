"""What belongs to no strand, on views laid by hand."""

import numpy as np
import pytest

from tests.vision.chains.laid import PER_MM, View, row
from vision.chains.apart import Apart, things_apart, wide_things
from vision.topview.kinds import Kind

CELL_MM = 1 / PER_MM


def covered(view: View, *corners: float) -> np.ndarray:
    """Return the cells between left, top, right and bottom, mm."""
    left, top, right, bottom = (round(at * PER_MM) for at in corners)
    mask = np.zeros(view.seen.bed.shape, dtype=bool)
    mask[top:bottom, left:right] = True
    return mask


def apart(view: View, *, taken: np.ndarray, stoppers: tuple[np.ndarray, ...] = ()) -> list[Apart]:
    return things_apart(view.fragments, view.seen, taken=taken, stoppers=stoppers)


def middle(thing: Apart) -> np.ndarray:
    return (thing.outline_mm.min(axis=0) + thing.outline_mm.max(axis=0)) / 2


def test_beads_beside_a_strand_are_strays_and_its_own_are_not() -> None:
    view = View().discs(*row(8, (40, 60)), (90, 100), (60, 20))
    found = apart(view, taken=covered(view, 37, 56, 86, 64))
    assert [thing.kind for thing in found] == ["stray", "stray"]
    assert [middle(thing) for thing in found] == [
        pytest.approx(at, abs=CELL_MM) for at in ((90, 100), (60, 20))
    ]


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (Kind.SPACER, "stray"),
        (Kind.STOPPER, "stopper"),
        (Kind.FINDING, "finding"),
        (Kind.CHAIN, "finding"),
        (Kind.OTHER, "other"),
    ],
)
def test_a_piece_is_what_most_of_it_shows(kind: Kind, said: str) -> None:
    view = View().piece((90, 60), (8, 5), kind=kind)
    view.bead_chances = [0.7]  # what a network of beads is undecided about
    (thing,) = apart(view, taken=covered(view, 0, 0, 0, 0))
    assert thing.kind == said


def test_a_stopper_is_told_once_whether_the_strand_or_the_map_shows_it() -> None:
    view = View().line(Kind.STOPPER, (30, 60), (34, 60), wide_mm=4.0)
    view.line(Kind.STOPPER, (100, 60), (104, 60), wide_mm=4.0).discs(*row(8, (40, 60)))
    found = apart(view, taken=covered(view, 37, 56, 86, 64), stoppers=(covered(view, 32, 58, 37, 62),))
    assert [thing.kind for thing in found] == ["stopper", "stopper"]
    assert [middle(thing)[0] for thing in found] == pytest.approx([34.5, 102.0], abs=2 * CELL_MM)


def test_what_the_networks_take_for_bed_is_nothing() -> None:
    view = View().piece((90, 60), (8, 5), kind=Kind.BED)
    assert apart(view, taken=covered(view, 0, 0, 0, 0)) == []


def test_a_finger_is_wide_and_tape_and_stoppers_are_not() -> None:
    view = View().line(Kind.OTHER, (60, -20), (60, 50), wide_mm=16.0).line(Kind.OTHER, (20, 90), (90, 90))
    view.line(Kind.OTHER, (120, 20), (120, 80), wide_mm=8.0).blot((150, 100), 14.0, Kind.STOPPER)
    [finger] = wide_things(view.seen)
    assert finger.outline_mm.max(axis=0) == pytest.approx((68.0, 58.0), abs=2 * CELL_MM)
