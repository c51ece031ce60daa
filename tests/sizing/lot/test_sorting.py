"""A whole lot sorted, its beads named and coloured."""

import math

import pytest

from sizing.lot.bead_names import bead_list, photo_letters
from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.lot.marking import mark_classes, mark_decisions
from sizing.lot.palette import BETWEEN, DECISION_COLOURS, UNMEASURED
from sizing.lot.sizes import unmeasured
from sizing.lot.sorting import sort_lot
from tests.helpers.lots import bead, conditions, lot_of
from vision.common.records import Lot


def three_photos() -> Lot:
    photos = ("b.jpg", "a.jpg", "c.jpg")
    beads = tuple(bead(number, 8.0, 8.0, photo=photo) for photo in photos for number in range(1, 5))
    return Lot(conditions=tuple(conditions(photo) for photo in photos), beads=beads)


def test_every_bead_is_in_one_tally_or_unmeasured() -> None:
    result = sort_lot(lot_of([6.0, 6.5, 7.0, math.nan, 7.05]))
    assert [heap.name for heap in result.heaps] == ["6 mm", "between 6 mm and 7 mm", "7 mm"]
    assert [len(tallied.beads) for tallied in result.tallies] == [1, 1, 2]
    assert len(result.whole.beads) == 4
    assert [each.number for each in result.unmeasured] == [4]


def test_ways_of_sorting() -> None:
    lot = lot_of([6.0, 6.02, 7.6, 7.62], [9.0, 9.02, 9.04, 9.06])
    assert [heap.name for heap in sort_lot(lot).heaps] == ["6 mm", "8 mm"]
    assert [heap.name for heap in sort_lot(lot, method="step").heaps] == ["6.0 mm", "7.5 mm"]
    assert [heap.name for heap in sort_lot(lot, method="pearl").heaps[1:]] == ["7.5-8.0 mm"]
    assert [heap.name for heap in sort_lot(lot, method="natural").heaps] == ["6.01 mm", "7.61 mm"]
    assert len(sort_lot(lot, dimension="length", method="natural").heaps) == 1


@pytest.mark.parametrize(("step_mm", "too_fine"), [(0.1, True), (0.5, False)])
def test_classes_finer_than_the_uncertainty_are_known(step_mm: float, too_fine: bool) -> None:  # noqa: FBT001
    assert sort_lot(lot_of([6.0, 7.0, 8.0], u95_mm=0.1), method="step", step_mm=step_mm).too_fine is too_fine
    assert not sort_lot(lot_of([6.0, 7.0, 8.0], u95_mm=0.1)).too_fine


def test_beads_of_one_photo_are_numbers() -> None:
    lot = lot_of([8.0] * 8)
    some = [lot.beads[i] for i in (4, 0, 1, 2, 6, 7)]
    assert bead_list(some, photo_letters(lot)) == "1-3, 5, 7, 8"


def test_photos_are_lettered_in_the_order_given() -> None:
    lot = three_photos()
    assert bead_list(reversed(lot.beads), photo_letters(lot)) == "A1-A4, B1-B4, C1-C4"


def test_letters_go_on_after_z() -> None:
    many = Lot(conditions=tuple(conditions(f"{i}.jpg") for i in range(54)), beads=())
    letters = list(photo_letters(many).values())
    assert (letters[25], letters[26], letters[53]) == ("Z", "AA", "BB")


def test_classes_are_coloured_and_the_rest_apart() -> None:
    lot = lot_of([6.0, 6.5, 7.0, math.nan])
    marking = mark_classes(sort_lot(lot))
    colours = [marking.colour_of[each.photo, each.number] for each in lot.beads]
    assert len(set(colours)) == 4
    assert colours[1] == BETWEEN
    assert colours[3] == UNMEASURED
    assert [text for text, _ in marking.legend] == [
        "6 mm: 1",
        "7 mm: 1",
        "between two sizes: 1",
        "not measured: 1",
    ]


def test_decisions_are_coloured() -> None:
    lot = lot_of([8.0, 8.5, 9.0, math.nan])
    marking = mark_decisions(check_label(lot, parse_label("8mm")), unmeasured(lot))
    colours = [marking.colour_of[each.photo, each.number] for each in lot.beads]
    words = ("conforming", "undecided", "not conforming")
    assert colours == [*(DECISION_COLOURS[word] for word in words), UNMEASURED]
    assert [text for text, _ in marking.legend] == [
        "within the limits: 1",
        "too close to a limit to decide: 1",
        "outside the limits: 1",
        "not measured: 1",
    ]
