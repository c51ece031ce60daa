"""Options that several commands share."""

from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from sizing.base.target import Target
from sizing.base.units import TypedLength
from sizing.cli.main import Program
from sizing.cli.options import (
    bed_height_option,
    check_length_option,
    csv_option,
    json_option,
    target_options,
)
from sizing.piece.file import PIECE_HELP


@click.command()
@check_length_option
@bed_height_option
@json_option
@csv_option
@target_options
def measure(
    check_length: TypedLength | None,
    bed_height: float,
    csv_file: Path | None,
    target: Target | None,
    *,
    as_json: bool,
) -> None:
    click.echo(f"{check_length} {bed_height} {as_json} {csv_file}")
    click.echo(target.describe() if target else "no target")


class OneCommand(Program):  # noqa: D101 - a group of one
    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command:  # noqa: D102
        del ctx, cmd_name
        return measure


def run(*args: str) -> Result:
    return CliRunner().invoke(OneCommand(), ["measure", *args])


def test_lengths_arrive_in_millimetres_with_their_resolution() -> None:
    result = run("--check-length", "27.30 cm", "--bed-height", "1/8 in", "--json", "--csv", "a.csv")
    assert result.stdout.splitlines() == [
        "TypedLength(value_mm=273.0, resolution_mm=0.1) 3.175 True a.csv",
        "no target",
    ]
    assert run().stdout.splitlines()[0] == "None 0.0 False None"


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--finished", "25cm", "--findings", "22mm"), "finished length 250.0 mm (9 13/16 in)"),
        (("--strung", "222.83mm"), "strung length 222.8 mm (8 3/4 in)"),
        (("--wrist", '6 1/2"', "--ease", "0mm"), "wrist 165.1 mm (6 1/2 in)"),
        (("--neck", "330mm"), "neck 330.0 mm (13 in) with 12.7 mm (1/2 in) of ease"),
    ],
)
def test_targets(args: tuple[str, ...], said: str) -> None:
    assert run(*args).stdout.splitlines()[1] == said


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--wrist", "6"), "Invalid value for '--wrist': 6 has no unit: write 6mm, 6cm or 6in"),
        (("--bed-height", "-1mm"), "must be more than zero"),
        (("--check-length", "0mm"), "must be more than zero"),
        (("--wrist", "6in", "--neck", "13in"), "wrist and neck are different targets"),
        (("--findings", "3mm"), "--findings belongs to a target"),
        (("--ease", "3mm"), "ease belongs to a girth"),
        (("--piece", "nowhere.toml"), "does not exist"),
    ],
)
def test_what_is_typed_wrongly_is_a_usage_error(args: tuple[str, ...], said: str) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""


def test_a_piece_file_is_a_target(tmp_path: Path) -> None:
    piece = tmp_path / "anklet.toml"
    piece.write_text(PIECE_HELP)
    assert run("--piece", str(piece)).stdout.splitlines()[1].startswith("ankle 215.9 mm")
    assert run("--piece", str(piece), "--finished", "9in").stdout.splitlines()[1].startswith("finished")
    piece.write_text("piece = 1\n[wire]\ntail = 2\n")
    assert "line 3, [wire] tail: 2 has no unit" in run("--piece", str(piece)).stderr
    piece.write_text("piece = 1\n")
    assert "names no target" in run("--piece", str(piece)).stderr
