"""No command loses a file, and none measures before it knows that it can write."""

import os
from collections.abc import Iterator
from pathlib import Path

import click
import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sizing.cli.files import MARKED_COPY, SHEET, FileCommand, InputFile, OutputFile
from sizing.cli.main import cli
from sizing.piece.toml.read import PIECE_HELP
from vision.image.photo import WRITABLE_SUFFIXES, encode_image
from vision.sheet.drawing import SUFFIXES

PLAN = ("plan", "--strung", "16cm", "--bead", "8mm")
PHOTO_COMMANDS = (("strand",), ("lot",), ("check", "--label", "8mm"))


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


def assert_refused(result: Result, *said: str) -> None:
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert len(result.stderr.splitlines()) == 1
    for words in said:
        assert words in result.stderr


def everything(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Make a photo, a piece file and a saved measurement, which no command may change."""
    Image.fromarray(np.full((300, 420, 3), 200, np.uint8)).save(tmp_path / "photo.jpg")
    (tmp_path / "piece.toml").write_text(PIECE_HELP)
    (tmp_path / "beads.json").write_text("{}")
    monkeypatch.chdir(tmp_path)
    before = everything(tmp_path)
    yield tmp_path
    assert {name: content for name, content in everything(tmp_path).items() if name in before} == before


def commands(group: click.Group, *, before: str = "") -> dict[str, click.Command]:
    """Return the commands of a group and of its groups, by what is typed."""
    context = click.Context(group)
    found: dict[str, click.Command] = {}
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            found |= commands(command, before=f"{before}{name} ")
        elif command is not None:
            found[before + name] = command
    return found


COMMANDS = commands(cli)


@pytest.mark.parametrize("name", list(COMMANDS))
def test_every_command_checks_its_files(name: str) -> None:
    command = COMMANDS[name]
    for parameter in command.params:
        if isinstance(parameter.type, click.Path | click.File):
            reads = isinstance(parameter.type, InputFile) or isinstance(parameter, click.Argument)
            assert reads or isinstance(parameter.type, OutputFile), parameter.name
    if any(isinstance(parameter.type, OutputFile) for parameter in command.params):
        assert isinstance(command, FileCommand)


def test_the_suffixes_are_those_that_can_be_written() -> None:
    assert MARKED_COPY.suffixes == WRITABLE_SUFFIXES
    assert SHEET.suffixes == SUFFIXES


@pytest.mark.parametrize("command", PHOTO_COMMANDS, ids=lambda command: command[0])
@pytest.mark.parametrize("spelling", ["photo.jpg", "./photo.jpg", "../{}/photo.jpg", "link.jpg", "hard.jpg"])
def test_no_output_is_the_photo(folder: Path, command: tuple[str, ...], spelling: str) -> None:
    (folder / "link.jpg").symlink_to("photo.jpg")
    (folder / "hard.jpg").hardlink_to(folder / "photo.jpg")
    for typed in (folder / "photo.jpg", "photo.jpg"):
        result = run(*command, typed, "--annotated", spelling.format(folder.name))
        assert_refused(result, "would overwrite", "photo.jpg, which is read: give the output another name")


def test_a_photo_by_a_strange_name_is_no_output_either(folder: Path) -> None:
    for name, option in (("strand.html", "--report"), ("strand.csv", "--csv")):
        (folder / name).write_bytes((folder / "photo.jpg").read_bytes())
        for command in PHOTO_COMMANDS:
            assert_refused(run(*command, name, option, name), "would overwrite")


def test_a_copy_by_its_letter_is_no_photo(folder: Path) -> None:
    (folder / "x-A.jpg").write_bytes((folder / "photo.jpg").read_bytes())
    result = run("lot", "x-A.jpg", "photo.jpg", "--annotated", "x.jpg")
    assert_refused(result, "x-A.jpg would overwrite x-A.jpg, which is read")


@pytest.mark.parametrize(
    "words",
    [
        ("plan", "piece.toml", "--save", "piece.toml"),
        ("plan", "piece.toml", "--save", "link.toml"),
        ("plan", "link.toml", "--save", "./piece.toml"),
        ("plan", "piece.toml", "--csv", "piece.toml"),
        ("plan", "piece.toml", "--csv", "table.csv"),
        (*PLAN, "--csv", "beads.json"),
        ("plan", "--strung", "16cm", "--beads", "beads.json", "--csv", "beads.json"),
        ("plan", "--strung", "16cm", "--beads", "beads.json", "--csv", "data.csv"),
        ("strand", "photo.jpg", "--piece", "piece.toml", "--csv", "piece.toml"),
        ("strand", "photo.jpg", "--piece", "piece.toml", "--csv", "table.csv"),
        ("lot", "photo.jpg", "--piece", "piece.toml", "--report", "piece.toml"),
    ],
    ids=" ".join,
)
def test_no_input_is_lost(folder: Path, words: tuple[str, ...]) -> None:
    (folder / "link.toml").symlink_to("piece.toml")
    (folder / "table.csv").symlink_to("piece.toml")
    (folder / "data.csv").hardlink_to(folder / "beads.json")
    assert_refused(run(*words))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((*PLAN, "--csv", "beads.xlsx"), "beads.xlsx must end in .csv: write beads.csv"),
        ((*PLAN, "--csv", "beads"), "beads must end in .csv: write beads.csv"),
        ((*PLAN, "--report", "page.pdf"), "page.pdf must end in .html or .htm: write page.html"),
        ((*PLAN, "--save", "a4.pdf"), "a4.pdf must end in .toml: write a4.toml"),
        (("strand", "photo.jpg", "--annotated", "x.gif"), "must end in .jpg, .jpeg or .png: write x.jpg"),
        (("sheet", "-o", "sheet"), "sheet must end in .pdf, .svg or .png: write sheet.pdf"),
        ((*PLAN, "--csv", ""), "must end in .csv: write output.csv"),
    ],
)
def test_a_name_of_another_kind_is_refused_with_a_hint(
    folder: Path, words: tuple[str, ...], said: str
) -> None:
    assert_refused(run(*words), said)
    assert len(everything(folder)) == 3


@pytest.mark.parametrize(
    ("words", "name", "content"),
    [
        ((*PLAN, "--csv"), "x.csv", b"PK\3\4\0\0a workbook"),
        ((*PLAN, "--report"), "x.html", b"no page"),
        ((*PLAN, "--save"), "pyproject.toml", b'[project]\nname = "necklace"\n'),
        (("sheet", "-o"), "x.png", b"\x89PNG\r\n\x1a\nanother picture"),
        (("sheet", "-o"), "x.pdf", b"no PDF"),
    ],
)
def test_a_file_of_another_kind_is_not_replaced(
    folder: Path, words: tuple[str, ...], name: str, content: bytes
) -> None:
    (folder / name).write_bytes(content)
    assert_refused(run(*words, name), f"{name} exists and is not a")
    assert (folder / name).read_bytes() == content


def test_another_photo_is_not_replaced_but_a_marked_copy_is(folder: Path) -> None:
    second = folder / "second.jpg"
    second.write_bytes((folder / "photo.jpg").read_bytes())
    said = "second.jpg exists and is not a marked copy made by this program: give the output another name"
    assert_refused(run("strand", "photo.jpg", "--annotated", second), said)
    for suffix in WRITABLE_SUFFIXES:
        copy = folder / f"copy{suffix}"
        copy.write_bytes(encode_image(np.full((40, 60, 3), 9, np.uint8), suffix))
        # The grey photo has no sheet, so that the command goes on to measure and ends with 3.
        assert run("strand", "photo.jpg", "--annotated", copy).exit_code == 3


def test_what_was_written_is_written_again(folder: Path) -> None:
    words = (*PLAN, "--csv", "a.csv", "--report", "a.html", "--save", "a.toml")
    for _ in range(2):
        assert run(*words).exit_code == 0
    for suffix in SUFFIXES:
        for _ in range(2):
            assert run("sheet", "--card", "-o", f"card{suffix}").exit_code == 0
    assert len(everything(folder)) == 3 + 3 + len(SUFFIXES)


def test_an_empty_file_holds_nothing_to_lose(folder: Path) -> None:
    (folder / "x.toml").touch()
    assert run(*PLAN, "--save", "x.toml").exit_code == 0


def test_copies_without_a_name_are_refused(folder: Path) -> None:
    (folder / "other.jpg").write_bytes((folder / "photo.jpg").read_bytes())
    assert_refused(run("lot", "photo.jpg", "other.jpg", "--annotated", ""), "must end in .jpg, .jpeg or .png")


def test_two_outputs_are_two_files(folder: Path) -> None:
    (folder / "a.csv").touch()
    (folder / "b.html").hardlink_to(folder / "a.csv")
    result = run(*PLAN, "--csv", "a.csv", "--report", "b.html")
    assert_refused(result, "b.html would overwrite a.csv, which is written as well")
    assert_refused(run(*PLAN, "--csv", os.devnull, "--report", os.devnull), "is written as well")


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("missing/x.csv", "No such file or directory"),
        ("photo.jpg/x.csv", "Not a directory"),
        ("loop.csv", "symbolic links"),
        ("x" * 300 + ".csv", "File name too long"),
    ],
)
def test_a_place_is_tried_before_anything_is_measured(
    folder: Path, monkeypatch: pytest.MonkeyPatch, name: str, reason: str
) -> None:
    (folder / "loop.csv").symlink_to("loop.csv")
    for name_of_work in ("vision.measure.measure_strands", "sizing.batch.lots.measure_handfuls"):
        monkeypatch.setattr(name_of_work, pytest.fail)
    for command in PHOTO_COMMANDS:
        result = run(*command, "photo.jpg", "--csv", name)
        assert_refused(result, "cannot be written", reason, "choose another name or folder")


def test_a_write_protected_file_stays(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    table = folder / "mine.csv"
    table.write_text("mine")
    allowed = os.access
    # Who runs the tests may be allowed everything, so that permissions themselves stop nothing.
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path) != table and allowed(path, mode))
    assert_refused(run(*PLAN, "--csv", table), "mine.csv", "Permission denied")
    assert table.read_text() == "mine"


def test_an_input_is_a_file_that_exists() -> None:
    assert InputFile().exists


def test_a_stream_needs_no_suffix() -> None:
    assert run(*PLAN, "--csv", os.devnull).exit_code == 0
    assert_refused(run("sheet", "-o", os.devnull), "must end in .pdf, .svg or .png")
