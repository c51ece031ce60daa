"""Several photos make one lot, in as many processes as there are cores, or none at all."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from sizing.base.errors import SizingError
from sizing.lot.handfuls import Handful, measure_handfuls, photo_names
from tests.helpers.lots import lot_of
from tests.helpers.paths import ROOT
from vision.common.errors import NoSheetError, PhotoError
from vision.common.records import Lot

COUNTS = {"one.jpg": 5, "two.jpg": 3, "three.jpg": 4}


def pretend(handful: Handful) -> Lot:
    """Stand in for measuring: eight-millimetre beads, as many as the photo's name says."""
    if handful.name not in COUNTS:
        raise NoSheetError("no scale sheet is seen: lay it under the beads")
    lot = lot_of([8.0] * COUNTS[handful.name])
    seen_flat = handful.name == "one.jpg" if handful.flat is None else handful.flat
    conditions = tuple(replace(each, photo=handful.name) for each in lot.conditions)
    beads = tuple(replace(bead, photo=handful.name) for bead in lot.beads)
    flags = ("unsure-count",) if handful.name == "two.jpg" else ()
    return Lot(conditions=conditions, beads=beads, flat=seen_flat, flags=flags)


def crash(handful: Handful) -> Lot:
    raise AssertionError(handful.name)


def handfuls(*names: str, flat: bool | None = False) -> list[Handful]:
    return [Handful(path=Path(name), name=name, flat=flat) for name in names]


def test_handfuls_are_merged_in_the_order_given() -> None:
    lot = measure_handfuls(handfuls("two.jpg", "one.jpg", "three.jpg"), measure=pretend)
    assert [each.photo for each in lot.conditions] == ["two.jpg", "one.jpg", "three.jpg"]
    found = [(bead.photo, bead.number) for bead in lot.beads]
    expected = [(name, k + 1) for name in ("two.jpg", "one.jpg", "three.jpg") for k in range(COUNTS[name])]
    assert found == expected


def test_the_flag_of_one_handful_is_the_flag_of_the_lot() -> None:
    assert measure_handfuls(handfuls("one.jpg", "two.jpg", "two.jpg"), measure=pretend).flags == (
        "unsure-count",
    )
    assert measure_handfuls(handfuls("one.jpg", "three.jpg"), measure=pretend).flags == ()


def test_progress_is_called_once_for_each_photo() -> None:
    calls: list[int] = []
    measure_handfuls(handfuls("one.jpg", "two.jpg"), measure=pretend, progress=lambda: calls.append(1))
    assert len(calls) == 2


def test_one_photo_that_cannot_be_measured_says_why() -> None:
    with pytest.raises(PhotoError) as error:
        measure_handfuls(handfuls("dark.jpg"), measure=pretend)
    assert str(error.value) == "dark.jpg: no scale sheet is seen: lay it under the beads"


def test_a_lot_that_lacks_a_handful_is_no_lot() -> None:
    with pytest.raises(PhotoError) as error:
        measure_handfuls(handfuls("one.jpg", "dark.jpg", "two.jpg", "blurred.jpg"), measure=pretend)
    said = "no scale sheet is seen: lay it under the beads"
    assert str(error.value) == (
        "2 of 4 photos cannot be measured, take them again or leave them out: "
        f"dark.jpg: {said}; blurred.jpg: {said}"
    )


def test_most_beads_decide_on_flat_or_round() -> None:
    # One photo of five beads is measured as flat, two of three and four are not: 5 against 7 beads.
    assert not measure_handfuls(handfuls("one.jpg", "two.jpg", "three.jpg", flat=None), measure=pretend).flat
    assert measure_handfuls(handfuls("one.jpg", "two.jpg", flat=None), measure=pretend).flat


def test_a_bug_is_not_taken_for_a_bad_photo() -> None:
    with pytest.raises(AssertionError, match=r"one\.jpg"):
        measure_handfuls(handfuls("one.jpg"), measure=crash)


def test_photos_are_known_by_their_file_names() -> None:
    assert photo_names([Path("in/a.jpg"), Path("in/b.jpg")]) == ("a.jpg", "b.jpg")


def test_photos_of_one_name_are_known_by_their_paths() -> None:
    paths = [Path("mon/a.jpg"), Path("tue/a.jpg"), Path("b.jpg")]
    assert photo_names(paths) == (str(paths[0]), str(paths[1]), "b.jpg")


def test_names_are_printable(tmp_path: Path) -> None:
    (tmp_path / "loop.jpg").symlink_to("loop.jpg")
    assert photo_names([Path("a\nb.jpg"), tmp_path / "loop.jpg"]) == ("a\\nb.jpg", "loop.jpg")


WAITS = """
import os, time
from pathlib import Path
from sizing.lot import handfuls

def wait(handful):
    print(os.getpid(), flush=True)
    time.sleep(600)

if __name__ == "__main__":
    handfuls.cores = lambda: 2
    handfuls.measure_handfuls([handfuls.Handful(path=Path(n), name=n) for n in "ab"], measure=wait)
"""


def runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return "Z" not in Path(f"/proc/{process}/stat").read_text(encoding="utf-8").split()[2]


def test_workers_end_with_the_program_that_started_them(tmp_path: Path) -> None:
    script = tmp_path / "script.py"
    script.write_text(WAITS, encoding="utf-8")
    # Python itself may say on standard error that a killed program left semaphores behind.
    with subprocess.Popen(
        [sys.executable, script], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=ROOT
    ) as running:
        assert running.stdout is not None
        workers = [int(running.stdout.readline()) for _ in range(2)]
        running.kill()
        # Whoever still runs holds the pipe open; reading ends when nobody does.
        assert running.stdout.read() == ""
    assert not [worker for worker in workers if runs(worker)]


def test_a_photo_given_twice_is_refused() -> None:
    with pytest.raises(SizingError, match=r"a\.jpg is given twice"):
        photo_names([Path("a.jpg"), Path("b.jpg"), Path("./a.jpg")])
