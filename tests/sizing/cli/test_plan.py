"""`strandgauge plan`, as a maker calls it."""

import csv
import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from sizing.cli.main import cli
from sizing.lot.picks import Picks
from sizing.lot.sorting import sort_lot
from sizing.piece.toml.read import PIECE_HELP, read_piece
from sizing.report.records.lot import lot_record
from sizing.report.records.output import to_json
from sizing.report.records.strand import strand_record
from sizing.strand.sized import size_strands
from tests.helpers.lots import lot_of
from tests.helpers.strands import make_strand

HALF_A_BEAD = 0.5  # to an inch: a chart counts whole ones


def run(*args: object) -> Result:
    return CliRunner().invoke(cli, ["plan", *map(str, args)])


def best(*args: object) -> dict[str, object]:
    result = run(*args, "--json")
    assert result.exit_code == 0, result.stderr
    found: dict[str, object] = json.loads(result.stdout)["best"]
    return found


def test_a_wrist_and_a_bead_are_enough() -> None:
    result = run("--wrist", "6 1/2 in", "--bead", "7mm")
    assert result.exit_code == 0
    assert "String 24 x bead 7 mm: 6 5/8 in (168.0 mm)." in result.stdout
    assert result.stderr == ""


def test_a_sixteen_inch_necklace() -> None:
    # The Spruce Crafts: 15.25 in of beads under a 0.75 in clasp.
    found = best("--finished", "16in", "--findings", "0.75in", "--bead", "6mm")
    assert found["count"] == 65


@pytest.mark.parametrize(
    ("size", "along_mm"),
    [("7mm", 7), ("4x6mm", 4), ("6x4mm", 6), ('1/4x1/2"', 6.35)],
)
def test_bead_sizes(size: str, along_mm: float) -> None:
    [kind] = best("--strung", "160mm", "--bead", size)["tally"]  # type: ignore[misc]
    assert kind["along_mm"] == along_mm  # type: ignore[index]


def test_how_a_size_is_read_is_said() -> None:
    # 4 mm a bead against 6 mm a bead.
    pair = " ".join(run("--strung", "240mm", "--bead", "6x4mm").stdout.split())
    assert "String 40 x bead 6 mm long, 4 mm thick" in pair
    assert "6x4 mm is read as 6 mm along the string and 4 mm thick; for the other way write 4x6mm." in pair
    assert best("--strung", "240mm", "--bead", "4x6mm")["count"] == 60


def test_seed_beads_are_planned_with_their_range() -> None:
    plan = json.loads(run("--strung", "160mm", "--bead", "8/0", "--json").stdout)
    # A trade chart has 13 of 8/0 in an inch, 2.5 mm thick; another has them 3.1 mm thick.
    fewest, most = plan["counts"]
    inches = 160 / 25.4
    assert fewest == pytest.approx(inches * 13 * 2.5 / 3.1, abs=inches * HALF_A_BEAD)
    assert most == pytest.approx(inches * 13, abs=inches * HALF_A_BEAD)
    assert "8/0 beads are about 1.9 to 2.4 mm long and 2.5 to 3.1 mm thick" in plan["notes"][0]


def test_several_beads_are_a_repeat_or_graduated() -> None:
    beads = ("--bead", "6mm", "--bead", "8mm", "--bead", "10mm")
    repeat = best("--strung", "240mm", *beads)
    assert repeat["order"] == ["bead 6 mm", "bead 8 mm", "bead 10 mm"] * 10
    graduated = best("--strung", "240mm", *beads, "--graduated")
    order = graduated["order"]
    assert isinstance(order, list)
    assert order == order[::-1]
    assert order[len(order) // 2] == "bead 10 mm"
    symmetric = best("--strung", "240mm", *beads, "--symmetric")["order"]
    assert isinstance(symmetric, list)
    assert symmetric == symmetric[::-1]


def test_measured_beads(tmp_path: Path) -> None:
    measured = tmp_path / "strand.json"
    measured.write_text(to_json(strand_record(size_strands([make_strand([6.4] * 30)]))))
    assert best("--strung", "160mm", "--beads", measured)["count"] == 25
    both = run("--strung", "160mm", "--beads", measured, "--bead", "6mm")
    assert both.exit_code == 2
    assert "two sources of beads" in both.stderr


def test_a_lot_is_not_planned_beyond_what_it_holds(tmp_path: Path) -> None:
    measured = tmp_path / "lot.json"
    lot = lot_of([6.0] * 14 + [8.0] * 19 + [10.0] * 19, u95_mm=0.2, scale_rel_u=0.01 / math.sqrt(3))
    measured.write_text(to_json(lot_record(sort_lot(lot), Picks())))
    plan = json.loads(run("--strung", "895mm", "--beads", measured, "--json").stdout)
    assert [bought["bead"]["have"] for bought in plan["purchases"]] == [14, 19, 19]
    for bought in plan["purchases"]:
        assert bought["lacking"] == bought["strung"] - bought["bead"]["have"]
        assert bought["to_buy"] == math.ceil(1.05 * bought["lacking"])
    # The scale alone, known to 1 % (rectangular: JCGM 100:2008, 4.3.7), leaves 10.3 mm of 895.
    assert plan["best"]["strung_u95_mm"] > 2 * 0.01 / math.sqrt(3) * plan["best"]["strung_mm"]
    assert plan["notes"][0].startswith("You have 52 of the ")


def test_a_piece_file_can_be_printed_filled_in_and_saved(tmp_path: Path) -> None:
    example = run("--example")
    assert example.stdout == PIECE_HELP
    piece, saved, table = (tmp_path / name for name in ("anklet.toml", "again.toml", "sizes.csv"))
    piece.write_text(example.stdout)
    result = run(piece, "--ankle", "9in", "--sizes", "8 1/2 in, 9 in", "--csv", table, "--save", saved)
    assert result.exit_code == 0
    assert result.stdout.startswith("Blue glass anklet for an ankle of 9 in (228.6 mm)")
    again = read_piece(saved.read_text())
    assert again.target_mm == {"ankle": 228.6}
    assert again.sizes == "8 1/2 in, 9 in"
    with table.open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [(row["size"], row["beads"]) for row in rows] == [("8 1/2 in", "38"), ("9 in", "40")]


def test_a_table_without_sizes_has_one_row(tmp_path: Path) -> None:
    table = tmp_path / "one.csv"
    assert run("--strung", "160mm", "--bead", "8mm", "--csv", table).exit_code == 0
    with table.open(newline="") as stream:
        [row] = csv.DictReader(stream)
    assert (row["size"], row["beads"]) == ("as asked", "20")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--wrist", "6in"), "no beads are given: add --bead 7mm"),
        (("--bead", "7mm"), 'no target is given: add --wrist "6 1/2 in"'),
        (("--bead", "7", "--wrist", "6in"), "7 has no unit: write 7mm"),
        (("--bead", "4x6x8mm", "--wrist", "6in"), "it has 3 sizes: give length and thickness"),
        (("--bead", "700mm", "--wrist", "6in"), "a bead of 700.0 mm is not between 0.5 and 100 mm"),
        (("--bead", "6mm", "--wrist", "2cm"), "the wrist size 20.0 mm (13/16 in) is not between"),
        (("--bead", "6mm", "--wrist", "6in", "--findings", "200mm"), "the findings take 7 7/8 in (200.0 mm)"),
        (("--bead", "7mm", "--wrist", "6in", "--finished", "7in"), "different targets"),
        (("--bead", "7mm", "--wrist", "6in", "--sizes", "5, 6"), "sizes: 5 has no unit"),
        (("--bead", "7mm", "--wrist", "6in", "--csv", "missing/a.csv"), "missing/a.csv cannot be written"),
        (("missing.toml",), "does not exist"),
    ],
)
def test_what_is_typed_wrongly_exits_2_with_a_hint(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(*args)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""


def test_a_wrong_piece_file_is_one_line(tmp_path: Path) -> None:
    piece = tmp_path / "anklet.toml"
    piece.write_text(PIECE_HELP.replace('size = "6 mm"', "size = 6"))
    result = run(piece)
    assert result.exit_code == 2
    assert result.stderr.splitlines() == [
        'Error: anklet.toml, line 13, [bead] size: 6 has no unit: write it in quotes, as in size = "6 mm"'
    ]


@pytest.mark.parametrize(
    ("target", "title", "saved_as"),
    [
        ("6 1/2 in", "a wrist of 6 1/2 in (165.1 mm), worn 1/4 in (6.4 mm) loose", 'wrist = "6 1/2 in"'),
        ("16.5 cm", "a wrist of 165.0 mm (6 1/2 in), worn 6.4 mm (1/4 in) loose", 'wrist = "16.5 cm"'),
    ],
)
def test_answers_and_saved_pieces_keep_the_unit_typed(
    tmp_path: Path, target: str, title: str, saved_as: str
) -> None:
    saved, page = tmp_path / "piece.toml", tmp_path / "piece.html"
    result = run("--wrist", target, "--bead", "1/4in", "--save", saved, "--report", page)
    assert result.stdout.splitlines()[0] == f"Piece for {title}"
    assert "x bead 1/4in (6.35 mm)" in result.stdout
    assert saved_as in saved.read_text()
    assert 'size = "1/4in"' in saved.read_text()
    again = run(saved)
    assert again.stdout == result.stdout
    text = page.read_text().replace("\N{NO-BREAK SPACE}", " ")
    assert f"Piece for {title}" in text
    inside = "6 13/16 in (172.4 mm)" if target.endswith("in") else "172.4 mm (6 13/16 in)"
    assert f"inside length {inside}" in text
