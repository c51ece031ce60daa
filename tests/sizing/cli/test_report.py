"""`--report`, as a maker calls it."""

import csv
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sizing.cli.main import cli
from tests.helpers.lots import bead, conditions
from tests.helpers.pages import STRAND, read
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.records import Lot, Strand


def run(*words_typed: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words_typed])


def test_plan_writes_its_page(tmp_path: Path) -> None:
    page = tmp_path / "plan.html"
    result = run("plan", "--wrist", "6 1/2 in", "--bead", "7mm", "--report", page)
    assert result.exit_code == 0, result.stderr
    assert "String 24 \N{MULTIPLICATION SIGN} bead 7" in page.read_text(encoding="utf-8")
    assert [each.name for each in tmp_path.iterdir()] == ["plan.html"]


@pytest.mark.parametrize(
    "command",
    [("plan", "--strung", "16cm", "--bead", "7mm"), ("lot", "photo.jpg"), ("strand", "photo.jpg")],
    ids=lambda command: command[0],
)
def test_a_page_must_be_named_as_one(command: tuple[str, ...], tmp_path: Path) -> None:
    result = run(*command, "--report", tmp_path / "page.pdf")
    assert result.exit_code == 2
    assert "must end in .html or .htm" in result.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "photo.png"
    Image.fromarray(np.full((500, 1900, 3), 210, np.uint8)).save(path)
    return path


def test_strand_writes_its_page(photo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    circle = 24 * np.array([(math.cos(a), math.sin(a)) for a in np.arange(0, 2 * math.pi, 0.2)])
    beads = tuple(replace(each, outline_px=circle + each.centre_px) for each in STRAND.beads)
    string = np.array([each.centre_px for each in beads])
    measured = replace(STRAND, beads=beads, string_px=string)
    monkeypatch.setattr("vision.measure.measure_strands", lambda *_, **__: (measured,))
    page = photo.with_name("strand.html")
    result = run("strand", photo, "--finished", "20cm", "--report", page)
    assert result.exit_code == 0, result.stderr
    [image] = read(page.read_text(encoding="utf-8")).all("img")
    assert str(image["src"]).startswith("data:image/jpeg;base64,")
    assert "30 beads" in str(image["alt"])


def outlined(strand: Strand, *, down_px: float, px_per_mm: float = 6.0) -> Strand:
    """Lay a strand's beads in a row, as circles that touch."""
    turn = np.arange(0, 2 * math.pi, 0.2)
    circle = px_per_mm * np.stack((np.cos(turn), np.sin(turn)), axis=1) / 2
    x = 100 + px_per_mm * (np.cumsum([each.along_mm for each in strand.beads]))
    beads = tuple(
        replace(each, centre_px=(at, down_px), outline_px=each.along_mm * circle + np.array([at, down_px]))
        for each, at in zip(strand.beads, x, strict=True)
    )
    return replace(strand, beads=beads, string_px=np.array([each.centre_px for each in beads]))


def test_several_strands_and_a_loop_are_written_everywhere(
    photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    strands = numbered_on(make_strand([6.0] * 20), make_loop([8.0] * 12), make_strand([7.0, 4.0] * 5))
    measured = tuple(outlined(each, down_px=100.0 + 120 * each.number) for each in strands)
    monkeypatch.setattr("vision.measure.measure_strands", lambda *_, **__: measured)
    page, table, marked = (photo.with_name(name) for name in ("page.html", "beads.csv", "marked.png"))
    written = ("--report", page, "--csv", table, "--annotated", marked)
    result = run("strand", photo, "--strung", "12cm", *written, "--json")
    assert result.exit_code == 0, result.stderr
    data = json.loads(result.stdout)
    assert [(each["count"], each["closed"]) for each in data["strands"]] == [
        (20, False),
        (12, True),
        (10, False),
    ]
    with table.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["number"], row["strand"]) for row in rows[18:22]] == [
        ("19", "1"),
        ("20", "1"),
        ("21", "2"),
        ("22", "2"),
    ]
    assert page.read_text(encoding="utf-8").count("<h2>Every bead of strand ") == 3
    with Image.open(marked) as picture, Image.open(photo) as plain:
        drawn = (np.asarray(picture) != np.asarray(plain)).any(axis=2)
    # Every bead is outlined: its rightmost point is drawn upon.
    for outline in (each.outline_px for strand in measured for each in strand.beads):
        column, row = np.round(outline[0]).astype(int)
        assert drawn[row - 2 : row + 3, column - 2 : column + 3].any()


@pytest.mark.parametrize("command", [("lot",), ("check", "--label", "8mm")], ids=lambda command: command[0])
def test_lot_and_check_write_their_pages(
    command: tuple[str, ...], photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    beads = tuple(bead(i, 7.9 + i / 50, 8.0 + i / 50, photo=photo.name) for i in range(1, 7))
    lot = Lot(conditions=(conditions(photo.name),), beads=beads)
    monkeypatch.setattr("sizing.batch.lots.measure_handfuls", lambda *_, **__: lot)
    page = photo.with_name("lot.html")
    result = run(*command, photo, "--report", page)
    assert result.exit_code == 0, result.stderr
    document = read(page.read_text(encoding="utf-8"))
    [image] = document.all("img")
    assert "6 beads, outlined in colours and numbered" in str(image["alt"])
