"""Kills, a full disk, crowds and bad networks: nothing that was confirmed is lost, everybody is answered.

`python -m tests.page_faults` does the same 50 and 200 times.
"""

from pathlib import Path

from tests.page_faults import LIMITS, flooded, killed, on_a_full_disk, slow_and_broken

KILLS, UPLOADS, BROKEN = 2, 50, 12


def test_a_killed_server_loses_nothing_that_it_confirmed(tmp_path: Path) -> None:
    assert killed(tmp_path, kills=KILLS, seed=1).wrong == []


def test_a_full_disk_is_told_and_nothing_is_changed(tmp_path: Path) -> None:
    ran = on_a_full_disk(tmp_path)
    assert ran.wrong == []
    assert ran.came["kept before"] > 0
    assert ran.came["photos left"] == 0


def test_all_of_a_crowd_are_measured_in_the_end(tmp_path: Path) -> None:
    ran = flooded(tmp_path, uploads=UPLOADS)
    assert ran.wrong == []
    assert ran.came["done"] == UPLOADS


def test_slow_and_broken_uploads_hold_nobody_up_for_long(tmp_path: Path) -> None:
    ran = slow_and_broken(tmp_path, uploads=BROKEN + LIMITS.sending)
    assert ran.wrong == []
    assert ran.came["broken off"] == BROKEN
