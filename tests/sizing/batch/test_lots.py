"""Several photos make one lot, whoever measures them; what cannot be measured is left out and named."""

from pathlib import Path

import pytest

from sizing.batch.crew import Crew, Processes, ThisProcess
from sizing.batch.lots import measure_handfuls
from tests.helpers.jobs import NO_SHEET, pretend, write
from tests.helpers.lots import lot_of
from vision.common.errors import PhotoError
from vision.common.records import LeftOut, Lot


def measured(folder: Path, crew: Crew | None = None, **photos: str) -> Lot:
    return measure_handfuls(write(folder, **photos), crew or ThisProcess(), work=pretend)


@pytest.mark.parametrize("crew", [ThisProcess(), Processes(2)], ids=lambda crew: type(crew).__name__)
def test_photos_are_merged_in_the_order_given(tmp_path: Path, crew: Crew) -> None:
    counts = {"two": 3, "one": 5, "three": 4}
    lot = measured(tmp_path, crew, two="slow 3", one="5", three="4")
    assert [each.photo for each in lot.conditions] == ["two.jpg", "one.jpg", "three.jpg"]
    found = [(bead.photo, bead.number) for bead in lot.beads]
    assert found == [
        (f"{name}.jpg", bead.number) for name, n in counts.items() for bead in lot_of([8.0] * n).beads
    ]


def test_the_flag_of_one_photo_is_the_flag_of_the_lot(tmp_path: Path) -> None:
    assert measured(tmp_path, one="5", two="3 unsure", three="3 unsure").flags == ("unsure-count",)
    assert measured(tmp_path, one="5", three="4").flags == ()


def test_progress_is_called_once_for_each_photo(tmp_path: Path) -> None:
    calls: list[int] = []
    handfuls = write(tmp_path, one="5", dark="dark", two="3")
    measure_handfuls(handfuls, ThisProcess(), work=pretend, progress=lambda: calls.append(1))
    assert len(calls) == len(handfuls)


def test_one_photo_that_cannot_be_measured_says_why(tmp_path: Path) -> None:
    with pytest.raises(PhotoError) as error:
        measured(tmp_path, dark="dark")
    assert str(error.value) == f"dark.jpg: {NO_SHEET}"


def test_what_cannot_be_measured_is_left_out_and_named(tmp_path: Path) -> None:
    lot = measured(tmp_path, one="5", dark="dark", two="3", blurred="dark")
    assert len(lot.beads) == 8
    assert [each.photo for each in lot.conditions] == ["one.jpg", "two.jpg"]
    assert lot.left_out == tuple(
        LeftOut(photo=name, reason=f"{name}: {NO_SHEET}", place=place)
        for place, name in ((1, "dark.jpg"), (3, "blurred.jpg"))
    )
    assert lot.photos == ("one.jpg", "dark.jpg", "two.jpg", "blurred.jpg")


def test_where_none_can_be_measured_each_is_named(tmp_path: Path) -> None:
    with pytest.raises(PhotoError, match=r"2 of 2 photos cannot be measured.*a\.jpg: no.*b\.jpg: no"):
        measured(tmp_path, a="dark", b="dark")


def test_most_beads_decide_on_flat_or_round(tmp_path: Path) -> None:
    # One photo of five beads is measured as flat, two of three and four are not: 5 against 7 beads.
    assert not measured(tmp_path, one="5 flat", two="3", three="4").flat
    assert measured(tmp_path, one="5 flat", two="3").flat


def test_a_photo_that_cannot_be_measured_as_the_other_kind_is_left_out(tmp_path: Path) -> None:
    lot = measured(tmp_path, one="3 flat only", two="3", three="4")
    assert (lot.flat, len(lot.beads)) == (False, 7)
    assert lot.left_out == (LeftOut(photo="one.jpg", reason=f"one.jpg: {NO_SHEET}", place=0),)


def test_a_bug_is_not_taken_for_a_bad_photo(tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match=r"one\.jpg"):
        measured(tmp_path, one="bug")
