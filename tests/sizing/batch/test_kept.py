"""What was measured once is not measured again, unless anything about it changed or is damaged."""

import hashlib
import os
import pickle
from dataclasses import replace
from pathlib import Path

import pytest

from sizing.base.measured_sheets import MeasuredSheet
from sizing.batch import kept as module
from sizing.batch.crew import ThisProcess
from sizing.batch.job import Job, Measured
from sizing.batch.kept import Kept, program_digest
from sizing.batch.run import run
from tests.helpers.jobs import pretend, write
from tests.helpers.records import said
from vision.common.records import Lot

SHEET = MeasuredSheet(
    sheet_name="mat-a4", check_length_mm=272.4, u_mm=0.2, measured_with="card", date="2026-03-14"
)


@pytest.fixture
def kept(tmp_path: Path) -> Kept:
    return Kept(tmp_path / "new" / "cache")


def entries(kept: Kept) -> list[Path]:
    return sorted(kept.folder.iterdir()) if kept.folder.exists() else []


def measured(jobs: list[Job], kept: Kept) -> tuple[list[str], list[Measured | str]]:
    """Return the names of the photos that were measured, and what all of them gave."""
    asked: list[str] = []

    def work(job: Job) -> Measured:
        asked.append(job.handful.name)
        return pretend(job)

    outcomes = dict(run(jobs, ThisProcess(), work=work, kept=kept))
    return asked, [outcomes[i] for i in range(len(jobs))]


def lots(folder: Path, **photos: str) -> list[Job]:
    return [Job(handful=each, what="loose") for each in write(folder, **photos)]


def test_only_what_is_new_or_changed_is_measured_again(tmp_path: Path, kept: Kept) -> None:
    asked, first = measured(lots(tmp_path, a="3", b="4"), kept)
    assert asked == ["a.jpg", "b.jpg"]
    asked, again = measured(lots(tmp_path, a="3", b="4"), kept)
    assert asked == []
    assert said(again) == said(first)
    asked, _ = measured(lots(tmp_path, a="3", b="5", c="6"), kept)
    assert asked == ["b.jpg", "c.jpg"]


def test_a_photo_of_another_name_is_the_same_photo(tmp_path: Path, kept: Kept) -> None:
    measured(lots(tmp_path, a="3 clasp"), kept)
    asked, [lot] = measured(lots(tmp_path, z="3 clasp"), kept)
    assert asked == []
    assert isinstance(lot, Lot)
    parts = (*lot.beads, *lot.conditions, *lot.others)
    assert lot.others
    assert {each.photo for each in parts} == {"z.jpg"}


def test_other_options_are_another_measurement(tmp_path: Path, kept: Kept) -> None:
    [job] = lots(tmp_path, a="3")
    others = [
        replace(job, what="strand"),
        *(
            replace(job, handful=replace(job.handful, **{name: value}))
            for name, value in {
                "check_length_mm": 272.5,
                "check_length_u_mm": 0.2,
                "bed_height_mm": 1.5,
                "flat": True,
                "remembered": {"mat-a4": SHEET},
            }.items()
        ),
    ]
    asked, _ = measured([job, *others], kept)
    assert len(asked) == 1 + len(others)
    assert measured([job, *others], kept)[0] == []


def test_another_version_measures_anew(tmp_path: Path, kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    assert len(program_digest()) == 64
    measured(lots(tmp_path, a="3"), kept)
    monkeypatch.setattr(module, "program_digest", lambda: "another")
    assert measured(lots(tmp_path, a="3"), kept)[0] == ["a.jpg"]


def test_what_cannot_be_measured_is_tried_again(tmp_path: Path, kept: Kept) -> None:
    assert measured(lots(tmp_path, a="dark"), kept)[0] == ["a.jpg"]
    assert measured(lots(tmp_path, a="dark"), kept)[0] == ["a.jpg"]


class Trap:
    """Runs a command of an attacker's choice when it is read by a plain reader of pickles."""

    def __reduce__(self) -> tuple[object, tuple[str]]:
        return os.mkdir, ("trapped",)


def reached(name: str) -> bytes:
    """Return a pickle that calls what the module of records reaches by a name, but does not define."""
    module = "vision.common.records"
    place = b"".join(pickle.SHORT_BINUNICODE + bytes([len(each)]) + each.encode() for each in (module, name))
    call = pickle.STACK_GLOBAL + pickle.SHORT_BINUNICODE + b"\x07trapped" + pickle.TUPLE1 + pickle.REDUCE
    return pickle.PROTO + b"\x04" + place + call + pickle.STOP


TRAPS = {
    "trap": pickle.dumps(Trap()),
    "dotted": reached("np.f2py.os.mkdir"),
    "imported": reached("get_args"),
}


def spoilt(whole: bytes, how: str) -> bytes:
    """Return an entry that is cut, altered, empty, or whole but of another's making."""
    if how in TRAPS:
        return hashlib.sha256(TRAPS[how]).digest() + TRAPS[how]
    middle = len(whole) // 2
    altered = whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :]
    return {"cut": whole[:-1], "half": whole[:middle], "empty": b"", "altered": altered}[how]


@pytest.mark.parametrize("how", ["cut", "half", "empty", "altered", *TRAPS])
def test_a_spoilt_entry_is_measured_anew(
    tmp_path: Path, kept: Kept, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    monkeypatch.chdir(tmp_path)
    _, first = measured(lots(tmp_path, a="3"), kept)
    [entry] = entries(kept)
    entry.write_bytes(spoilt(entry.read_bytes(), how))
    asked, again = measured(lots(tmp_path, a="3"), kept)
    assert asked == ["a.jpg"]
    assert said(again) == said(first)
    assert not Path("trapped").exists()
    assert measured(lots(tmp_path, a="3"), kept)[0] == []  # mended


def test_what_was_used_longest_ago_goes_first(tmp_path: Path, kept: Kept) -> None:
    measured(lots(tmp_path, a="3", b="3 x", c="3 y"), kept)
    for age, name in enumerate(("b", "c", "a")):
        [job] = lots(tmp_path, **{name: {"a": "3", "b": "3 x", "c": "3 y"}[name]})
        path = kept._path(job)  # noqa: SLF001 - there is no other way to an entry's age
        assert path is not None
        os.utime(path, (1e9 - age, 1e9 - age))
    measured(lots(tmp_path, a="3"), kept)  # used just now
    size = max(path.stat().st_size for path in entries(kept))
    Kept(kept.folder, most_bytes=2 * size).trim()
    assert measured(lots(tmp_path, a="3", b="3 x", c="3 y"), kept)[0] == ["c.jpg"]


def test_a_folder_that_cannot_be_written_keeps_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    nowhere = Kept(tmp_path / "file" / "cache")
    assert measured(lots(tmp_path, a="3"), nowhere)[0] == ["a.jpg"]
    assert measured(lots(tmp_path, a="3"), nowhere)[0] == ["a.jpg"]
    nowhere.trim()


def test_nothing_but_whole_entries_is_left(tmp_path: Path, kept: Kept) -> None:
    measured(lots(tmp_path, a="3", b="4"), kept)
    assert [path.suffix for path in entries(kept)] == [".measured"] * 2
