"""Many photos on the command line: folders, what is left out, what is kept, who measures."""

import csv
import json
import os
import pty
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sizing.batch.job import Job, Measured, named
from sizing.cli.main import cli
from tests.helpers.jobs import NO_SHEET
from tests.helpers.lots import lot_of
from tests.helpers.paths import ROOT
from tests.helpers.strands import make_strand
from vision.common.errors import NoSheetError
from vision.common.records import Photo
from vision.image.photo import encode_image

BEADS = {"b.PNG": 4, "a.png": 3, "c.png": 0, ".hidden.png": 9}
"""Photos of a folder, each in one grey level: as many beads as it says are measured on it."""
ASKED: list[str] = []


def measured_on(photo: Photo, job: Job) -> Measured:
    ASKED.append(photo.name)
    beads = int(photo.rgb[0, 0, 0])
    if not beads:
        raise NoSheetError(NO_SHEET)
    return named((make_strand([8.0] * beads),) if job.what == "strand" else lot_of([8.0] * beads), photo.name)


def grey(level: int) -> np.ndarray:
    return np.full((300, 420, 3), level, np.uint8)


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with three photos among other files, whose measurement is pretended."""
    folder = tmp_path / "table"
    folder.mkdir()
    for name, level in BEADS.items():
        Image.fromarray(grey(level)).save(folder / name)
    (folder / "marked.png").write_bytes(encode_image(grey(9), ".png"))
    (folder / "notes.txt").write_text("9")
    monkeypatch.setattr("sizing.batch.job.measured_on", measured_on)
    monkeypatch.setattr("sizing.batch.room.cores", lambda: 1)
    ASKED.clear()
    return folder


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


def test_strands_of_a_folder_come_as_lines_of_json(table: Path) -> None:
    result = run("strand", table, "--json")
    assert result.exit_code == 3
    assert result.stderr == (
        f"Error: 1 of 3 photos cannot be measured, take them again or leave them out: c.png: {NO_SHEET}\n"
    )
    a, b, c = map(json.loads, result.stdout.splitlines())
    assert [each["photos"][0]["name"] for each in (a, b)] == ["a.png", "b.PNG"]
    assert [each["strand"]["count"] for each in (a, b)] == [3, 4]
    assert c["left_out"] == [{"photo": "c.png", "reason": f"c.png: {NO_SHEET}"}]
    assert json.loads(run("strand", table / "a.png", "--json").stdout) == a


def test_strands_as_text_stand_under_their_photos(table: Path) -> None:
    text = run("strand", table).stdout
    alone = run("strand", table / "a.png").stdout
    assert f"a.png\n\n{alone}\nb.PNG\n\n" in text
    assert f"c.png\n\nLeft out: c.png: {NO_SHEET}\n" in text


def test_a_table_has_the_beads_of_all_strands(table: Path, tmp_path: Path) -> None:
    run("strand", table, "--csv", tmp_path / "beads.csv")
    with (tmp_path / "beads.csv").open(newline="") as file:
        assert [row["photo"] for row in csv.DictReader(file)] == ["a.png"] * 3 + ["b.PNG"] * 4


def test_each_photo_gets_its_marked_copy(table: Path, tmp_path: Path) -> None:
    assert run("strand", table, "--annotated", tmp_path / "marked.png").exit_code == 3
    assert sorted(path.name for path in tmp_path.glob("marked*")) == ["marked-A.png", "marked-B.png"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--report", "page.html"), "--report is for one photo"),
        (("--keep", "blue"), "--keep is for one photo"),
        (("--spacer", "2"), "a correction is for one photo"),
    ],
)
def test_what_is_of_one_photo_is_refused_for_several(table: Path, words: tuple[str, ...], said: str) -> None:
    result = run("strand", table, *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert ASKED == []


def test_a_photo_that_may_not_be_read_is_left_out_alone(table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    locked, opened = table / "a.png", Path.open

    def open_others(path: Path, mode: str = "r", **options: str) -> object:
        if path == locked:
            raise PermissionError
        return opened(path, mode, **options)

    monkeypatch.setattr(Path, "open", open_others)
    monkeypatch.setattr("os.access", lambda path, _: path != os.fspath(locked))
    result = run("strand", locked, table / "b.PNG")
    assert result.exit_code == 3
    assert f"Left out: {locked}: the file may not be read; change its permissions." in result.output
    assert "b.PNG: 4 beads" in result.output


@pytest.mark.parametrize("command", [("lot",), ("check", "--label", "8mm")])
def test_the_photos_of_a_folder_make_one_lot(table: Path, command: tuple[str, ...]) -> None:
    result = run(*command, table, "--json")
    assert result.exit_code == 3
    fields = json.loads(result.stdout)
    assert fields["lot"]["count"] == 3 + 4
    assert [each["photo"] for each in fields["left_out"]] == ["c.png"]


@pytest.mark.parametrize("command", [("strand",), ("lot",)])
def test_only_what_is_new_is_measured_the_next_time(table: Path, command: tuple[str, ...]) -> None:
    first = run(*command, table)
    assert ASKED == ["a.png", "b.PNG", "c.png"]
    ASKED.clear()
    assert run(*command, table).stdout == first.stdout
    assert ASKED == ["c.png"]  # which may have been short of memory
    Image.fromarray(grey(5)).save(table / "c.png")
    ASKED.clear()
    assert run(*command, table).exit_code == 0
    assert ASKED == ["c.png"]


def test_anew_neither_uses_nor_keeps_what_was_measured(table: Path, own_cache: Path) -> None:
    assert run("lot", table, "--anew").exit_code == 3
    assert list(own_cache.iterdir()) == []
    run("lot", table)
    ASKED.clear()
    run("lot", table, "--anew")
    assert ASKED == ["a.png", "b.PNG", "c.png"]


def test_one_photo_is_always_measured(table: Path, own_cache: Path) -> None:
    run("lot", table / "a.png")
    run("lot", table / "a.png")
    assert ASKED == ["a.png"] * 2
    assert list(own_cache.iterdir()) == []


SLOW = """
import sys, time
import sizing.batch.job, sizing.batch.room
from sizing.__main__ import main
from tests.sizing.cli.test_many import measured_on

def slow(photo, job):
    if photo.name == "b.PNG":
        time.sleep(600)
    return measured_on(photo, job)

sizing.batch.job.measured_on = slow
sizing.batch.room.cores = lambda: 1
main()
"""


def test_ctrl_c_keeps_what_is_done(table: Path) -> None:
    words = [sys.executable, "-c", SLOW, "strand", str(table), "--json"]
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT
    ) as running:
        assert running.stdout is not None
        first = running.stdout.readline()
        running.send_signal(signal.SIGINT)
        rest, said = running.communicate(timeout=60)
    assert (running.returncode, rest, said) == (130, "", "")
    assert json.loads(first)["photos"][0]["name"] == "a.png"
    again = run("strand", table, "--json")
    assert ASKED == ["b.PNG", "c.png"]
    assert again.stdout.startswith(first)


def test_ctrl_c_gives_the_terminal_its_cursor_back(table: Path) -> None:
    ours, theirs = pty.openpty()
    words = [sys.executable, "-c", SLOW, "strand", str(table), "--json"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=theirs, text=True, cwd=ROOT) as running:
        os.close(theirs)
        assert running.stdout is not None
        running.stdout.readline()
        shown = os.read(ours, 100_000)
        assert b"Measuring 3 photos" in shown
        running.send_signal(signal.SIGINT)
        running.wait(timeout=60)
    shown += os.read(ours, 100_000)
    os.close(ours)
    assert shown.endswith(b"\x1b[?25h")


def test_a_folder_without_photos_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("no photo")
    result = run("lot", tmp_path)
    assert result.exit_code == 2
    assert result.stderr == (
        f"Error: the folder {tmp_path} holds no photo: name the photos, or the folder they are in\n"
    )


@pytest.mark.parametrize("command", [("strand",), ("lot",), ("check", "--label", "8mm")])
def test_a_name_that_no_file_can_have_is_one_line(command: tuple[str, ...]) -> None:
    result = run(*command, "x" * 300 + ".jpg", "other.jpg")
    assert result.exit_code == 3
    assert len(result.stderr.splitlines()) == 1
    assert "File name too long" in result.stderr


def test_a_photo_named_and_in_a_folder_is_given_twice(table: Path) -> None:
    result = run("lot", table, table / "a.png")
    assert result.exit_code == 2
    assert "is given twice" in result.stderr


def test_a_cluster_without_its_extra_says_what_to_install(
    table: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "dask", None)  # as if it were not installed
    result = run("lot", table, "--cluster", "tcp://127.0.0.1:8786")
    assert result.exit_code == 2
    assert result.stderr == (
        "Error: a cluster needs the extra that is not installed: "
        "pip install '.[cluster]' where the program's files lie\n"
    )
