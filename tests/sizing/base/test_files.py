"""Files appear whole or not at all."""

import os
from pathlib import Path

import pytest

from sizing.base.errors import OutputError
from sizing.base.files import write_whole


def test_writes_text_and_bytes(tmp_path: Path) -> None:
    write_whole(tmp_path / "a.csv", "7 ½\n")
    write_whole(str(tmp_path / "b.bin"), b"\x00\r\n")
    assert (tmp_path / "a.csv").read_bytes() == "7 ½\n".encode()
    assert (tmp_path / "b.bin").read_bytes() == b"\x00\r\n"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv", "b.bin"]


def test_replaces_in_one_step_and_keeps_permissions(tmp_path: Path) -> None:
    target = tmp_path / "sizes.csv"
    target.write_text("old")
    target.chmod(0o640)
    write_whole(target, "new")
    assert target.read_text() == "new"
    assert target.stat().st_mode & 0o777 == 0o640


def test_follows_a_link_to_the_file_behind_it(tmp_path: Path) -> None:
    real, link = tmp_path / "real.csv", tmp_path / "link.csv"
    real.write_text("old")
    link.symlink_to(real)
    write_whole(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"


def test_a_failed_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "sizes.csv"
    target.write_text("old")

    def full_disk(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full_disk)
    with pytest.raises(OutputError, match=r"sizes\.csv cannot be written \(No space left on device\)"):
        write_whole(target, "new")
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_folder_that_is_missing_or_in_the_way_is_one_line(tmp_path: Path) -> None:
    for path, reason in (
        (tmp_path / "missing" / "a.csv", "No such file or directory"),
        (tmp_path, "Is a directory"),
    ):
        with pytest.raises(OutputError) as refusal:
            write_whole(path, "x")
        assert str(refusal.value) == f"{path} cannot be written ({reason}): choose another name or folder"
    assert list(tmp_path.iterdir()) == []


def test_writes_into_a_pipe_and_leaves_it_a_pipe(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    write_whole(pipe, "7 mm")
    assert os.read(reader, 16) == b"7 mm"
    os.close(reader)
    assert pipe.is_fifo()
