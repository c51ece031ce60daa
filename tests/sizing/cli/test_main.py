"""The command line as a maker uses it: help, sheets, exit codes."""

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from sizing.base.measured_sheets import reading_u_mm
from sizing.base.units import read_length
from sizing.cli.main import cli

HEAVY = {"numpy", "cv2", "scipy", "skimage", "pint", "PIL", "matplotlib", "jinja2", "reportlab"}


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(cli, [str(arg) for arg in args])


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys; from sizing.cli.main import cli; cli(['--help'], standalone_mode=False);"
        "print('imported:', *sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    text, _, modules = done.stdout.partition("imported: ")
    assert "strand" in text
    assert not HEAVY & set(modules.split())


def test_help_shows_every_step_in_order() -> None:
    text = run("--help").stdout
    steps = [text.index(step) for step in ("strandgauge sheet", "photograph", "strandgauge strand")]
    assert steps == sorted(steps)
    for command in ("strand", "lot", "check", "plan", "stash", "sheet"):
        assert f"\n  {command} " in text


@pytest.mark.parametrize("command", ["strand", "stash", "sheet"])
def test_every_command_shows_examples(command: str) -> None:
    result = run(command, "--help")
    assert result.exit_code == 0
    assert f"Examples:\n    strandgauge {command} " in result.stdout


def test_version_is_the_packages() -> None:
    assert run("--version").stdout == "strandgauge, version 0.1.0\n"


def test_program_runs_as_a_module() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sizing", "--help"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("Usage: strandgauge ")


def test_unknown_command_is_a_typing_mistake() -> None:
    result = run("measure")
    assert result.exit_code == 2
    assert "No such command 'measure'" in result.stderr


@pytest.mark.parametrize(
    ("options", "name", "start"),
    [
        ((), "sheet.pdf", b"%PDF-"),
        (("--paper", "letter", "--bed", "grey"), "sheet.SVG", b"<svg "),
        (("--card",), "card.png", b"\x89PNG\r\n"),
        (("--card", "--paper", "letter"), "card.pdf", b"%PDF-"),
    ],
)
def test_sheet_is_written_by_its_suffix(
    tmp_path: Path, options: tuple[str, ...], name: str, start: bytes
) -> None:
    result = run("sheet", *options, "-o", tmp_path / name)
    assert result.exit_code == 0, result.stderr
    assert (tmp_path / name).read_bytes().startswith(start)
    assert "Print at 100 %" in result.stdout
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_sheet_says_the_length_to_check(tmp_path: Path) -> None:
    # The printed check lengths of the three sheets.
    for options, length in (((), "273.0 mm"), (("--paper", "letter"), "255.4 mm"), (("--card",), "80.0 mm")):
        assert length in run("sheet", *options, "-o", tmp_path / "s.svg").stdout


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("-o", "sheet.gif"), "must end in .pdf, .svg or .png"),
        (("-o", "sheet"), "must end in .pdf, .svg or .png"),
        ((), "give one of -o FILE, --measure PHOTO, --measured and --forget SHEET"),
        (("--card", "--bed", "grey", "-o", "card.pdf"), "the card has no bed"),
        (("--paper", "a3", "-o", "sheet.pdf"), "'a3' is not one of 'a4', 'letter'"),
        (("-o", "no such folder/sheet.pdf"), "cannot be written (No such file or directory)"),
    ],
)
def test_sheet_typed_wrongly_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...], message: str
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run("sheet", *options)
    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""
    assert not list(tmp_path.iterdir())


# A triangular distribution of half-width a has the standard uncertainty a / sqrt 6 (JCGM 100:2008, 4.3.9).
@pytest.mark.parametrize(
    ("typed", "division_mm"),
    [
        ("272.6mm", 0.1),
        ("272.65 mm", 0.1),
        ("273 mm", 1.0),
        ("27.3 cm", 1.0),
        ("10 11/16 in", 25.4 / 16),
        ("10 3/4 in", 25.4 / 16),
        ("11 in", 25.4 / 16),
        ("10.75 in", 0.254),
    ],
)
def test_uncertainty_of_a_ruler_follows_from_how_finely_it_was_read(typed: str, division_mm: float) -> None:
    u_mm = reading_u_mm(read_length(typed).resolution_mm)
    assert u_mm == pytest.approx(division_mm / 6**0.5, rel=1e-9)
