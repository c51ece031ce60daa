"""What README and DEVELOPERS say is so."""

import re
import shlex
from difflib import get_close_matches
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from sizing.cli.main import cli
from sizing.piece.file import read_piece
from tests.helpers.paths import ROOT
from vision.common.flags import DESCRIPTIONS

ALIKE = 0.8
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
COMMAND_LINES = list(
    dict.fromkeys(re.findall(r"^    (?:pip install \. && )?(strandgauge .*)$", README, re.MULTILINE))
)


QUOTED = re.findall(r"^    (strandgauge [^\n]+)\n\n```text\n(.*?)```", README, re.MULTILINE | re.DOTALL)


def test_two_lines_install_run_and_test() -> None:
    lines = re.findall(r"^    (pip install .*)$", README, re.MULTILINE)
    assert len(lines) == 2
    assert re.fullmatch(r"pip install \. && strandgauge strand sample_images/\S+ .*", lines[0])
    assert re.fullmatch(r"pip install '\.\[test\]' && pytest.*", lines[1])


@pytest.mark.parametrize("line", COMMAND_LINES)
def test_commands_of_the_readme_run(line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "sample_images").symlink_to(ROOT / "sample_images")
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(cli, shlex.split(line)[1:])
    assert result.exit_code == 0, result.output


def words(line: str) -> str:
    """Return a line of a report with every number, and every length in fractions, as one sign."""
    return re.sub(r"\d[\d ./]*(?<! )", "#", line)


@pytest.mark.parametrize(("line", "quoted"), QUOTED)
def test_reports_quoted_read_as_they_are_printed(line: str, quoted: str) -> None:
    words_said = shlex.split(line.replace("sample_images/", f"{ROOT}/sample_images/"))[1:]
    printed = CliRunner().invoke(cli, words_said).stdout.splitlines()
    if words_said[0] == "plan":  # what comes from a photo may change by a digit or a remark
        missing = [text for text in quoted.splitlines() if text not in printed]
    else:
        shown = [words(text) for text in printed]
        missing = [
            text for text in quoted.splitlines() if not get_close_matches(words(text), shown, cutoff=ALIKE)
        ]
    assert not [text for text in missing if text]


def test_piece_file_of_the_readme_reads() -> None:
    [text] = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    piece = read_piece(text)
    assert piece.beads
    assert piece.findings
    assert piece.wire.diameter_mm == pytest.approx(0.381)  # .015 in


def test_readme_shows_every_command() -> None:
    shown = {shlex.split(line)[1] for line in COMMAND_LINES}
    assert shown == set(commands())


def commands() -> dict[str, click.Command]:
    context = click.Context(cli)
    found = {name: cli.get_command(context, name) for name in cli.list_commands(context)}
    return {name: command for name, command in found.items() if command is not None}


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_options_named_exist(text: str) -> None:
    known = {
        "--help",
        "--check",
        "--dist",
        "--count",
        "--processes",
        "--seconds",
        "--wider",
    }  # of the tests' own scripts
    for command in commands().values():
        known |= {
            word for parameter in command.params for word in [*parameter.opts, *parameter.secondary_opts]
        }
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", text)) <= known


def test_every_option_of_every_command_has_help() -> None:
    for name, command in commands().items():
        assert command.help, name
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{name} {parameter.opts}"


def test_every_flag_is_explained() -> None:
    table = dict(re.findall(r"^\| `([a-z-]+)` \| (.*) \|$", README, re.MULTILINE))
    assert {word: table.get(word) for word in DESCRIPTIONS} == DESCRIPTIONS


def test_files_named_exist() -> None:
    for text, folder in (
        (README, ROOT),
        (DEVELOPERS, ROOT),
        ((ROOT / "sample_images" / "README.md").read_text(encoding="utf-8"), ROOT / "sample_images"),
    ):
        named = re.findall(r"`((?:vision|sizing|tests|\.ci)/[\w./]+|[\w-]+\.jpg)`", text)
        named += re.findall(r"\]\(([^)#:]+)\)", text)
        assert named
        for name in set(named) - {"sizing/cli/NAME.py"}:
            assert (folder / name).exists(), name


def test_modules_named_in_developers_exist() -> None:
    modules = {
        path.name for package in ("vision", "sizing", "tests") for path in (ROOT / package).rglob("*.py")
    }
    named = set(re.findall(r"`(?:[\w/]+/)?(\w+\.py)`", DEVELOPERS))
    assert named - {"NAME.py"} <= modules
