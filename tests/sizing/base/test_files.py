"""Files appear whole or not at all, and reading ends."""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from sizing.base import files
from sizing.base.errors import OutputError, PieceError
from sizing.base.files import MOST_READ_BYTES, discard_parts, read_text, try_writing, write_whole


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


def test_a_pipe_that_nobody_reads_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OutputError, match="no program reads this pipe"):
        write_whole(tmp_path / "pipe", "7 mm")


def test_a_circle_of_links_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "a.csv").symlink_to("b.csv")
    (tmp_path / "b.csv").symlink_to("a.csv")
    for attempt in (try_writing, lambda path: write_whole(path, "x")):
        with pytest.raises(OutputError, match="levels of symbolic links"):
            attempt(tmp_path / "a.csv")


def test_a_device_that_is_full_is_one_line() -> None:
    # Every write to this device fails as on a full disk: full(4).
    with pytest.raises(OutputError, match="No space left on device"):
        write_whole("/dev/full", "x")


def test_trying_leaves_no_trace(tmp_path: Path) -> None:
    try_writing(tmp_path / "a.csv")
    assert list(tmp_path.iterdir()) == []
    write_whole(tmp_path / "a.csv", "old")
    try_writing(tmp_path / "a.csv")
    assert (tmp_path / "a.csv").read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


KILLED_WHILE_WRITING = """
import os, sys
from pathlib import Path
from sizing.base import files
os.fsync = lambda _: os.kill(os.getpid(), 9)
files.write_whole(sys.argv[1], "half")
"""


def test_what_a_killed_run_left_is_removed_by_the_next(tmp_path: Path) -> None:
    killed = subprocess.run([sys.executable, "-c", KILLED_WHILE_WRITING, tmp_path / "a.csv"], check=False)
    assert killed.returncode == -9
    [left] = tmp_path.iterdir()
    assert left.name.startswith(".a.csv.strandgauge-")
    try_writing(tmp_path / "b.csv")
    assert list(tmp_path.iterdir()) == []


def part_names(process: int) -> list[str]:
    """Return names of parts: of this computer, and of another."""
    return [
        f".a.csv.strandgauge-{host}-{process}-0123abcd.part" for host in (files.computer_mark(), "00000000")
    ]


def test_only_our_own_parts_are_removed_and_only_when_nobody_writes_them(tmp_path: Path) -> None:
    running = part_names(os.getpid())
    unknown = part_names(999_999_999)  # over the largest process number of Linux, 2 ** 22
    others = [".a.csv.part", "a.csv.strandgauge-part", ".a.csv.0123abcd.part", f"x{unknown[0]}"]
    for name in [*running, *unknown, *others]:
        (tmp_path / name).touch()
    (tmp_path / f".folder{unknown[0]}").mkdir()
    try_writing(tmp_path / "b.csv")
    gone = {unknown[0]}
    assert {path.name for path in tmp_path.iterdir() if path.is_file()} == {
        *running,
        *unknown,
        *others,
    } - gone
    for path in tmp_path.iterdir():
        os.utime(path, (time.time() - 7200,) * 2)
    try_writing(tmp_path / "b.csv")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([*others, f".folder{unknown[0]}"])


def test_a_program_told_to_stop_discards_what_it_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[int] = []

    def stop(_: int) -> None:
        seen.append(len(list(tmp_path.iterdir())))
        discard_parts()
        seen.append(len(list(tmp_path.iterdir())))
        raise OSError(5, "stopped")

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(OutputError, match="stopped"):
        write_whole(tmp_path / "a.csv", "half")
    assert seen == [1, 0]


def test_letters_without_bytes_are_escaped(tmp_path: Path) -> None:
    write_whole(tmp_path / "a.csv", "caf\udce9")
    assert (tmp_path / "a.csv").read_bytes() == b"caf\\udce9"


def test_reads_files_and_pipes(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("7 ½\n")
    assert read_text(tmp_path / "a.toml") == "7 ½\n"
    os.mkfifo(tmp_path / "pipe")
    writer = threading.Thread(target=(tmp_path / "pipe").write_text, args=("x" * 200_000,))
    writer.start()
    assert read_text(tmp_path / "pipe") == "x" * 200_000
    writer.join()


def test_a_pipe_that_nobody_writes_to_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "_WAIT_S", 0.05)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(
        PieceError, match=r"pipe cannot be read \(nothing came through this pipe for 0.05 s\)"
    ):
        read_text(tmp_path / "pipe")


def test_endless_and_large_files_are_refused(tmp_path: Path) -> None:
    with (tmp_path / "large").open("wb") as file:
        file.truncate(MOST_READ_BYTES + 1)
    for path in (tmp_path / "large", Path("/dev/zero")):
        with pytest.raises(PieceError, match=f"{path.name} is larger than 16 MB"):
            read_text(path)


def test_what_cannot_be_read_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "binary").write_bytes(b"\xff\xfe")
    (tmp_path / "loop").symlink_to("loop")
    for name, said in (
        ("none", "No such file or directory"),
        ("loop", "levels of symbolic links"),
        (".", "Is a directory"),
        ("binary", "is not plain text: save it again as plain text in UTF-8"),
    ):
        with pytest.raises(PieceError, match=said) as refusal:
            read_text(tmp_path / name)
        assert len(str(refusal.value).splitlines()) == 1
