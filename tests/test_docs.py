"""What README.md and DEVELOPERS.md say is true of the program."""

import contextlib
import functools
import re
import shlex
from collections.abc import Callable
from fractions import Fraction
from itertools import zip_longest
from typing import NamedTuple

import click
import pytest
from click.testing import CliRunner, Result

from sizing.cli.main import cli
from sizing.piece.toml.read import read_piece
from tests.helpers.paths import ROOT
from vision.common.check_words import PRINT_AT_FULL_SIZE, READ_RULER
from vision.common.flags import DESCRIPTIONS

SIXTEENTH = Fraction(1, 16)
LAST_DIGITS = {"inch": 1, "decimal": 5, "whole": 0}
"""By how many units of its last digit, or sixteenths of an inch, a quoted figure may differ from a printed
one that is measured. Networks round otherwise on processors with other instructions: one bead of the samples
differs by 0.04 mm, a fifth of what is stated, the mean of 40 by 0.005 mm."""
NUMBER = re.compile(r"(?P<inch>(?:\d+ )?\d+/\d+|\b\d+(?= in\b))|(?P<decimal>\d+\.\d+)|(?P<whole>\d+)")
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
COMMAND_LINES = list(
    dict.fromkeys(re.findall(r"^    (?:pip install \. && )?(strandgauge .*)$", README, re.MULTILINE))
)
SERVING = "strandgauge page"
"""Such a command goes on until it is told to stop; `tests/sizing/cli/test_page.py` runs it instead."""
QUOTED = re.findall(r"^    (strandgauge [^\n]+)\n\n```text\n(.*?)```", README, re.MULTILINE | re.DOTALL)


def test_two_lines_install_run_and_test() -> None:
    lines = re.findall(r"^    (pip install .*)$", README, re.MULTILINE)
    assert len(lines) == 2
    assert re.fullmatch(r"pip install \. && strandgauge strand sample_images/\S+ .*", lines[0])
    assert re.fullmatch(r"pip install '\.\[test\]' && pytest.*", lines[1])


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Result]:
    """Return a function that runs a command line of the README, each line once."""
    folder = tmp_path_factory.mktemp("readme")
    (folder / "sample_images").symlink_to(ROOT / "sample_images")

    @functools.cache
    def run_once(line: str) -> Result:
        with contextlib.chdir(folder):
            return CliRunner().invoke(cli, shlex.split(line)[1:])

    return run_once


@pytest.mark.parametrize("line", [line for line in COMMAND_LINES if not line.startswith(SERVING)])
def test_commands_of_the_readme_run(line: str, run: Callable[[str], Result]) -> None:
    result = run(line)
    assert result.exit_code == 0, result.output


class Figure(NamedTuple):
    """A number in a line of a report: its kind (inch, decimal or whole), value and last digit's worth."""

    kind: str
    value: Fraction
    last_digit: Fraction


def figures(line: str) -> list[Figure]:
    """Return the numbers in a line of a report.

    The last digits of a decimal number may differ between computers where a photo is measured, and so may
    the last sixteenth of an inch. Whole numbers count beads or name them: they may not differ.
    """
    found = []
    for match in NUMBER.finditer(line):
        kind, text = str(match.lastgroup), match.group()
        last = {"inch": SIXTEENTH, "decimal": Fraction(1, 10 ** len(text.partition(".")[2]))}
        value = sum((Fraction(part) for part in text.split()), Fraction(0))
        found.append(Figure(kind, value, last.get(kind, Fraction(0))))
    return found


def same(quoted: str, printed: str, *, measured: bool) -> bool:
    """Whether a quoted line is the printed one, last digits aside where a photo is measured."""
    if not measured or NUMBER.sub("#", quoted) != NUMBER.sub("#", printed):
        return quoted == printed
    return all(
        one.kind == other.kind
        and one.last_digit == other.last_digit
        and abs(one.value - other.value) <= LAST_DIGITS[one.kind] * one.last_digit
        for one, other in zip(figures(quoted), figures(printed), strict=True)
    )


@pytest.mark.parametrize(("line", "quoted"), QUOTED, ids=[line for line, _ in QUOTED])
def test_reports_quoted_read_as_they_are_printed(
    line: str, quoted: str, run: Callable[[str], Result]
) -> None:
    """A quote is the beginning of the report and ends where a paragraph does."""
    said = quoted.splitlines()
    printed = [*run(line).stdout.splitlines(), ""]
    measured = shlex.split(line)[1] != "plan"
    lines = zip_longest(said, printed[: len(said)], fillvalue="(no line)")
    different = [(one, other) for one, other in lines if not same(one, other, measured=measured)]
    assert not different, "README: {}\nprinted: {}".format(*different[0])
    assert not printed[len(said)], f"the quote stops before: {printed[len(said)]}"


@pytest.mark.parametrize(
    ("printed", "measured", "equal"),
    [
        ("40 beads, 234.5 mm (9 5/16 in), 6 % off", True, True),
        ("40 beads, 234.5 mm (9 5/16 in), 6 % off", False, False),
        ("40 beads, 234.9 mm (9 1/4 in), 6 % off", True, True),
        ("40 beads, 235.0 mm (9 1/4 in), 6 % off", True, False),
        ("40 beads, 834.4 mm (9 1/4 in), 6 % off", True, False),
        ("41 beads, 234.4 mm (9 1/4 in), 6 % off", True, False),
        ("40 beads, 234.4 mm (9 3/8 in), 6 % off", True, False),
        ("40 beads, 234.40 mm (9 1/4 in), 6 % off", True, False),
        ("40 bends, 234.4 mm (9 1/4 in), 6 % off", True, False),
    ],
)
def test_a_changed_figure_is_noticed(printed: str, *, measured: bool, equal: bool) -> None:
    assert same("40 beads, 234.4 mm (9 1/4 in), 6 % off", printed, measured=measured) == equal


def test_piece_file_of_the_readme_reads() -> None:
    [text] = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    piece = read_piece(text)
    assert piece.beads
    assert piece.findings
    assert piece.wire.diameter_mm == pytest.approx(0.381)  # .015 in


def test_the_print_is_checked_in_the_same_words_everywhere() -> None:
    """The printed sheet and the reports take theirs from the same constants."""
    said = " ".join(README.split())
    help_text = " ".join(CliRunner().invoke(cli, ["sheet", "--help"]).output.split())
    for words in (PRINT_AT_FULL_SIZE, READ_RULER):
        assert words in said
        assert words in help_text


def test_readme_shows_every_command() -> None:
    shown = {shlex.split(line)[1] for line in COMMAND_LINES}
    assert shown == set(commands())


def commands(group: click.Group = cli) -> dict[str, click.Command]:
    context = click.Context(group)
    found = {name: group.get_command(context, name) for name in group.list_commands(context)}
    return {name: command for name, command in found.items() if command is not None}


def every_command() -> dict[str, click.Command]:
    """Return every command by its name, those of a group too."""
    found = commands()
    groups = {name: command for name, command in found.items() if isinstance(command, click.Group)}
    return found | {
        f"{name} {part}": each for name, group in groups.items() for part, each in commands(group).items()
    }


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_options_named_exist(text: str) -> None:
    known = {
        "--help",
        "--check",
        "--dist",
        "--count",
        "--jobs",
        "--seed",
        "--processes",
        "--seconds",
        "--mode",
        "--wider",
        "--kept",
        "--sheets",
        "--assets",
        "--sort",
        "--start",
        "--rate",
        "--half",
        "--nthreads",
        "--nworkers",
    }  # of the tests' own scripts, and of Dask
    for command in every_command().values():
        known |= {
            word for parameter in command.params for word in [*parameter.opts, *parameter.secondary_opts]
        }
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", text)) <= known


def test_every_option_of_every_command_has_help() -> None:
    for name, command in every_command().items():
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
