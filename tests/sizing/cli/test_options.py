"""Options that several commands share."""

from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from sizing.base.errors import TargetError
from sizing.base.target import Target
from sizing.cli.main import Program
from sizing.cli.options import Aim, aim_options, csv_option, gather, json_option, target_options
from sizing.cli.photo_options import Scale, scale_options
from sizing.piece.toml.read import PIECE_HELP


def test_gathered_options_arrive_as_records_within_records() -> None:
    pair = gather(
        "pair", lambda *, a, b: (a, b), click.option("--a", type=int), click.option("--b", type=int)
    )
    total = gather("total", lambda *, pair, c: (sum(pair), c), pair, click.option("--c", type=int))

    @click.command()
    @total
    def show(*, total: tuple[int, int]) -> None:
        click.echo(total)

    assert CliRunner().invoke(show, ["--a", "1", "--b", "2", "--c", "4"]).stdout == "(3, 4)\n"
    assert [option.name for option in show.params] == ["a", "b", "c"]


@click.command()
@scale_options
@json_option
@csv_option
@target_options
def measure(
    scale: Scale,
    csv_file: Path | None,
    target: Target | None,
    *,
    as_json: bool,
) -> None:
    click.echo(f"{scale.check_length_mm} {scale.bed_height_mm} {as_json} {csv_file}")
    click.echo(target.describe() if target else "no target")


class OneCommand(Program):  # noqa: D101 - a group of one
    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command:  # noqa: D102
        del ctx, cmd_name
        return measure


def run(*args: str) -> Result:
    return CliRunner().invoke(OneCommand(), ["measure", *args])


def test_lengths_arrive_in_millimetres() -> None:
    result = run("--check-length", "27.30 cm", "--bed-height", "1/8 in", "--json", "--csv", "a.csv")
    assert result.stdout.splitlines() == [
        "273.0 3.175 True a.csv",
        "no target",
    ]
    assert run().stdout.splitlines()[0] == "None 0.0 False None"


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--finished", "25cm", "--findings", "22mm"), "finished length 250.0 mm (9 13/16 in)"),
        (("--strung", "222.83mm"), "strung length 222.8 mm (8 3/4 in)"),
        (("--wrist", '6 1/2"', "--ease", "0mm"), "wrist 6 1/2 in (165.1 mm)"),
        (("--neck", "330mm"), "neck 330.0 mm (13 in), worn 12.7 mm (1/2 in) loose"),
    ],
)
def test_targets(args: tuple[str, ...], said: str) -> None:
    assert run(*args).stdout.splitlines()[1] == said


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--wrist", "6"), "Invalid value for '--wrist': 6 has no unit: write 6mm, 6cm or 6in"),
        (("--bed-height", "-1mm"), "-1mm is negative: a length must be zero or more"),
        (("--check-length", "0mm"), "must be more than zero"),
        (("--wrist", "6in", "--neck", "13in"), "wrist and neck are different targets"),
        (
            ("--findings", "3mm"),
            "--findings needs a target: add --strung, --finished, --wrist, --ankle or --neck",
        ),
        (("--ease", "3mm"), "ease was given without a body size"),
        (("--piece", "missing.toml"), "does not exist"),
    ],
)
def test_what_is_typed_wrongly_is_a_usage_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(*args)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""


def test_a_piece_file_is_a_target(tmp_path: Path) -> None:
    piece = tmp_path / "anklet.toml"
    piece.write_text(PIECE_HELP)
    assert run("--piece", str(piece)).stdout.splitlines()[1].startswith("ankle 8 1/2 in (215.9 mm)")
    assert run("--piece", str(piece), "--finished", "9in").stdout.splitlines()[1].startswith("finished")
    piece.write_text("piece = 1\n[wire]\ntail = 2\n")
    assert "line 3, [wire] tail: 2 has no unit" in run("--piece", str(piece)).stderr
    piece.write_text("piece = 1\n")
    assert f"{piece} has no target: add one to the file" in run("--piece", str(piece)).stderr


@click.command()
@aim_options
def step_of(*, aim: Aim) -> None:
    click.echo(str(aim.target.step_mm) if aim.target else "no target")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (("--step", "1/2 in"), "12.7"),
        (("--step", "Touching"), "0.0"),
        ((), "None"),
        (("--step", "0mm"), "must be more than zero, or touching"),
        (("--step", "close"), "is not a length: write it like"),
    ],
)
def test_a_step_is_a_length_or_touching(typed: tuple[str, ...], said: str) -> None:
    result = CliRunner().invoke(step_of, ["--wrist", "6in", *typed])
    assert said in result.output
    assert "no target" not in result.output


def test_the_step_of_a_piece_file_holds_where_none_is_typed(tmp_path: Path) -> None:
    piece = tmp_path / "bracelet.toml"
    piece.write_text('piece = 1\n[target]\nwrist = "6 in"\nstep = "touching"\n')
    assert CliRunner().invoke(step_of, ["--piece", str(piece)]).stdout == "0.0\n"
    assert CliRunner().invoke(step_of, ["--piece", str(piece), "--step", "10mm"]).stdout == "10.0\n"


def test_a_step_needs_a_target() -> None:
    error = CliRunner().invoke(step_of, ["--step", "touching"]).exception
    assert isinstance(error, TargetError)
    assert str(error).startswith("--step needs a target: add --strung")
