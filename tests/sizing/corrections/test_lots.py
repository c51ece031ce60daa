"""Lots corrected by their maker: counts, classes and the label follow."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizing.base.errors import CorrectionError
from sizing.corrections.lots import correct_lot
from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.lot.sorting import sort_lot
from tests.helpers.lots import bead, conditions, lot_of
from vision.common import flags
from vision.common.corrections import Action, Correction
from vision.common.records import FloatArray, LooseBead, Lot, Other

EXACT = 1e-9
CALIPER = 2e-3
"""Relative: a polygon of 72 corners is narrower than its circle by 1 - cos 2.5 degrees."""
PX_PER_MM = 10.0


def say(action: Action, *numbers: int, photo: str = "") -> Correction:
    return Correction(action=action, numbers=numbers, photo=photo)


def here(x: float, y: float, photo: str = "") -> Correction:
    return Correction(action="bead here", px=(x, y), photo=photo)


def read(number: int, mm: float, u95_mm: float = 0.05) -> Correction:
    return Correction(action="size", numbers=(number,), size_mm=mm, size_u95_mm=u95_mm)


def oval(centre: tuple[float, float], long_mm: float, wide_mm: float) -> FloatArray:
    """Return an outline, drawn at 10 px a millimetre, its long axis to the right."""
    angles = np.deg2rad(np.arange(0, 360, 5))
    axes = PX_PER_MM / 2 * np.array([long_mm, wide_mm])
    return np.asarray(np.array(centre) + axes * np.column_stack([np.cos(angles), np.sin(angles)]))


def to_scale(lot: Lot, *, apart_px: float = 200.0) -> Lot:
    """Return a lot whose beads lie in a row, true to scale."""
    beads = []
    for k, each in enumerate(lot.beads):
        centre = (100 + apart_px * k, 300.0)
        drawn = oval(centre, np.nan_to_num(each.max_feret_mm), np.nan_to_num(each.min_feret_mm))
        beads.append(replace(each, centre_px=centre, outline_px=drawn))
    return replace(lot, beads=tuple(beads))


def widths(lot: Lot) -> list[float]:
    return [each.min_feret_mm for each in lot.beads]


def test_nothing_said_changes_nothing() -> None:
    lot = lot_of([6.0, 7.0])
    assert correct_lot(lot, []) is lot


@pytest.mark.parametrize("action", ["no bead", "spacer"])
def test_what_is_no_bead_goes(action: Action) -> None:
    right = correct_lot(lot_of([6.0, 7.0, 8.0]), [say(action, 1)])
    assert [(each.number, each.was, each.min_feret_mm) for each in right.beads] == [
        (1, (2,), 7.0),
        (2, (3,), 8.0),
    ]


def test_a_caliper_reading_keeps_the_shape() -> None:
    right = correct_lot(lot_of([4.0] * 3, [6.0] * 3), [read(2, 4.05)])
    one = right.beads[1]
    assert (one.min_feret_mm, one.min_feret_u95_mm) == (4.05, 0.05)
    assert one.max_feret_mm == pytest.approx(4.05 * 6 / 4)
    relative = math.hypot(0.05 / 4.05, 0.06 / 6, 0.06 / 4)
    assert one.max_feret_u95_mm == pytest.approx(one.max_feret_mm * relative)
    assert one.flags == ()


def test_a_caliper_reading_that_contradicts_the_photo_is_told_and_a_slip_refused() -> None:
    right = correct_lot(lot_of([4.0] * 3), [read(2, 4.5)])
    one = right.beads[1]
    assert (one.min_feret_mm, one.min_feret_u95_mm) == (4.5, 0.05)
    assert one.flags == (flags.CONTRADICTED,)
    assert right.corrections[0].shown_mm == 4.0
    with pytest.raises(CorrectionError, match=r"bead 2 of lot\.jpg cannot be 45.0 mm by a caliper"):
        correct_lot(lot_of([4.0] * 3), [read(2, 45.0)])


def test_a_caliper_reading_measures_what_was_not() -> None:
    lot = lot_of([8.0, math.nan])
    lot = replace(lot, beads=(lot.beads[0], replace(lot.beads[1], flags=(flags.UNMEASURED,))))
    right = correct_lot(lot, [read(2, 8.2)])
    assert (right.beads[1].min_feret_mm, right.beads[1].max_feret_mm) == (8.2, 8.2)
    assert right.beads[1].flags == ()
    assert sort_lot(right).unmeasured == ()


def test_a_missed_bead_is_as_large_as_the_others() -> None:
    right = correct_lot(to_scale(lot_of([8.0] * 4)), [here(500, 700)])
    new = right.beads[-1]
    assert (new.number, new.was, new.min_feret_mm, new.centre_px) == (5, (), 8.0, (500, 700))
    expected = math.hypot(2 * 0.02 * 8 * math.sqrt(1 + 1 / 4), 0.06)
    assert new.min_feret_u95_mm == pytest.approx(expected)
    assert np.ptp(new.outline_px[:, 0]) == pytest.approx(8 * PX_PER_MM, rel=CALIPER)


def test_what_turns_out_to_be_a_bead_is_no_other_thing_any_more() -> None:
    lot = to_scale(lot_of([8.0] * 4))
    photo = lot.beads[0].photo
    things = tuple(
        Other(centre_px=(x, 700.0), kind="other", outline_px=oval((x, 700.0), 8.0, 8.0), photo=photo)
        for x in (500.0, 900.0)
    )
    elsewhere = replace(things[0], photo="another.jpg")
    seen = replace(lot, others=(*things, elsewhere))
    assert correct_lot(seen, [here(510, 705)]).others == (things[1], elsewhere)
    assert correct_lot(seen, [here(500 + 8 * PX_PER_MM, 700)]).others == seen.others


def test_a_missed_bead_of_a_mixed_lot_lies_between_sizes() -> None:
    result = sort_lot(correct_lot(to_scale(lot_of([6.0, 8.0] * 4)), [here(500, 700)]))
    [between] = [heap for heap in result.heaps if heap.is_between]
    assert [result.sizes.beads[k].was for k in between.index] == [()]


def test_two_that_are_one_are_as_large_as_their_hull() -> None:
    lot = to_scale(lot_of([4.0, 4.0, 8.0], [4.0, 4.0, 8.0]), apart_px=40.0)
    right = correct_lot(lot, [say("one bead", 1, 2)])
    whole = right.beads[0]
    assert whole.was == (1, 2)
    # two circles of 4 mm that touch: 8 mm long, 4 mm wide
    assert whole.max_feret_mm == pytest.approx(8.0, rel=CALIPER)
    assert whole.min_feret_mm == pytest.approx(4.0, rel=CALIPER)


def test_one_that_is_two_is_halved_along_its_longer_side() -> None:
    lot = to_scale(lot_of([8.0] * 4 + [8.0], [8.0] * 4 + [16.0]))
    right = correct_lot(lot, [say("two beads", 5)])
    assert [each.was for each in right.beads[4:]] == [(5,), (5,)]
    for each, x in zip(right.beads[4:], (900 - 40, 900 + 40), strict=True):
        assert (each.min_feret_mm, each.max_feret_mm) == (8.0, 8.0)
        assert each.centre_px == pytest.approx((x, 300.0))


def test_the_classes_follow() -> None:
    lot = lot_of([6.0, 6.0, 8.0, 8.0, 8.0])
    heaps = sort_lot(correct_lot(lot, [say("no bead", 1), read(3, 6.0)])).heaps
    assert [(heap.name, len(heap.index)) for heap in heaps] == [("6 mm", 2), ("8 mm", 2)]


def test_the_verdict_on_a_label_follows() -> None:
    lot, label = lot_of([8.0, 8.1, 9.4]), parse_label("8mm")
    assert check_label(lot, label).decision == "not conforming"
    assert check_label(correct_lot(lot, [say("no bead", 3)]), label).decision == "conforming"
    assert check_label(correct_lot(lot, [read(3, 8.0)]), label).decision == "conforming"


def doubtful(*found: str) -> Lot:
    lot = lot_of([8.0] * 4)
    return replace(
        lot, flags=(flags.UNSURE_COUNT,), beads=(replace(lot.beads[0], flags=found), *lot.beads[1:])
    )


def test_a_count_put_right_is_certain_unless_something_else_is_doubtful() -> None:
    unsure = doubtful(flags.UNSURE_BEAD)
    assert correct_lot(unsure, [say("bead", 1)]).flags == ()
    assert correct_lot(unsure, [say("no bead", 1)]).flags == ()
    assert correct_lot(unsure, [say("no bead", 2)]).flags == (flags.UNSURE_COUNT,)
    assert correct_lot(doubtful(), [read(2, 8.0)]).flags == (flags.UNSURE_COUNT,)


def two_photos() -> Lot:
    names = ("a.jpg", "b.jpg")
    beads = tuple(bead(n, 8.0, 8.0, photo=name) for name in names for n in (1, 2))
    return Lot(conditions=tuple(map(conditions, names)), beads=beads, flags=(flags.UNSURE_COUNT,))


def test_each_photo_has_its_own_numbers() -> None:
    right = correct_lot(two_photos(), [say("no bead", 1, photo="b.jpg"), here(500, 500, "a.jpg")])
    named = [(each.photo, each.number, each.was) for each in right.beads]
    assert named == [
        ("a.jpg", 1, (1,)),
        ("a.jpg", 2, (2,)),
        ("a.jpg", 3, ()),
        ("b.jpg", 1, (2,)),
    ]
    assert right.flags == ()
    assert correct_lot(two_photos(), [say("no bead", 1, photo="b.jpg")]).flags == (flags.UNSURE_COUNT,)


@pytest.mark.parametrize(
    ("said", "message"),
    [
        (say("stopper", 1, photo="a.jpg"), "loose beads have no stoppers"),
        (say("no bead", 1), "say of which photo a correction is: a.jpg, b.jpg"),
        (say("no bead", 3, photo="a.jpg"), "there is no bead 3 of a.jpg"),
        (here(40, 0, photo="a.jpg"), "bead 1 lies at 40,0 already"),
        (say("one bead", 1, 2, photo="a.jpg"), "beads 1 and 2 lie apart"),
    ],
)
def test_what_cannot_be_meant_is_one_clear_line(said: Correction, message: str) -> None:
    with pytest.raises(CorrectionError, match=message):
        correct_lot(two_photos(), [said])


@given(st.integers(2, 12), st.data())
def test_the_order_does_not_matter_and_every_bead_is_accounted_for(n: int, data: st.DataObject) -> None:
    lot = to_scale(lot_of([6.0 + k / 4 for k in range(n)]))
    gone = data.draw(st.sets(st.integers(1, n), max_size=n - 1))
    more = data.draw(st.integers(0, 3))
    said = [*(say("no bead", k) for k in sorted(gone)), *(here(200.0 * k, 900.0) for k in range(more))]
    one = correct_lot(lot, said) if said else lot
    other = correct_lot(lot, data.draw(st.permutations(said))) if said else lot
    assert len(one.beads) == n - len(gone) + more

    def shown(each: LooseBead) -> object:
        return each.number, each.was, each.centre_px, each.min_feret_mm, each.min_feret_u95_mm

    assert [shown(each) for each in one.beads] == [shown(each) for each in other.beads]
