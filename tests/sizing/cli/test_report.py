"""`--report`, as a maker calls it."""

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
from vision.common.records import Lot


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
    monkeypatch.setattr("sizing.cli.strand.measure_strands", lambda *_, **__: (measured,))
    page = photo.with_name("strand.html")
    result = run("strand", photo, "--finished", "20cm", "--report", page)
    assert result.exit_code == 0, result.stderr
    [image] = read(page.read_text(encoding="utf-8")).all("img")
    assert str(image["src"]).startswith("data:image/jpeg;base64,")
    assert "30 beads" in str(image["alt"])


@pytest.mark.parametrize("command", [("lot",), ("check", "--label", "8mm")], ids=lambda command: command[0])
def test_lot_and_check_write_their_pages(
    command: tuple[str, ...], photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    beads = tuple(bead(i, 7.9 + i / 50, 8.0 + i / 50, photo=photo.name) for i in range(1, 7))
    lot = Lot(conditions=(conditions(photo.name),), beads=beads)
    monkeypatch.setattr("sizing.cli.lot_photos.measure_handfuls", lambda *_, **__: lot)
    page = photo.with_name("lot.html")
    result = run(*command, photo, "--report", page)
    assert result.exit_code == 0, result.stderr
    document = read(page.read_text(encoding="utf-8"))
    [image] = document.all("img")
    assert "6 beads, outlined in colours and numbered" in str(image["alt"])
