"""`strandgauge strand` on photos of known geometry, and on files that cannot be measured."""

import csv
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sizing.cli.main import cli
from tests.helpers.paths import SAMPLES
from vision.image.photo import load_photo
from vision.sheet.drawing import render
from vision.sheet.geometry import SHEETS
from vision.sheet.layout import lay_out

CHECKED = ("--check-length", "273.0mm")
LENGTH_MM = 1.0
MEDIAN_SIZE_MM = 0.06
REFUSED, MISTYPED = 3, 2


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(cli, ["strand", *(str(arg) for arg in args)])


def truth(name: str) -> dict[str, Any]:
    result: dict[str, Any] = json.loads((SAMPLES / f"{name}.json").read_text())
    return result


@pytest.mark.parametrize(("name", "sheet"), [("anklet", "mat-a4"), ("mixed-strand", "mat-letter")])
def test_samples_measure_true(name: str, sheet: str) -> None:
    result = run(SAMPLES / f"{name}.jpg", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    data, true = json.loads(result.stdout), truth(name)
    assert data["strand"]["count"] == len(data["beads"]) == len(true["beads"])
    assert data["strand"]["length_mm"] == pytest.approx(true["strand_mm"], abs=LENGTH_MM)
    assert abs(data["strand"]["length_mm"] - true["strand_mm"]) <= data["strand"]["length_u95_mm"]
    assert data["sheet"]["name"] == sheet
    errors = [
        bead[size] - real[size]
        for size in ("across_mm", "along_mm")
        for bead, real in zip(data["beads"], true["beads"], strict=True)
    ]
    assert np.median(np.abs(errors)) <= MEDIAN_SIZE_MM


def test_anklet_reads_as_promised() -> None:
    result = run(SAMPLES / "anklet.jpg", "--finished", "25cm", "--findings", "22mm", *CHECKED)
    assert result.exit_code == 0, result.stderr
    assert "anklet.jpg: 40 beads" in result.stdout
    assert re.search(r"Strung length +23[45](\.\d)? ± \d(\.\d+)? mm \(9 1/4 in\)", result.stdout)
    assert re.search(r"25[67](\.\d)? mm \(10 1/(8|16) in\) with 22.0 mm of clasp and findings", result.stdout)
    assert "Remove 1 bead to finish at 250.0 mm" in result.stdout


def test_a_strand_alone_is_measured_by_itself_whatever_step_is_asked_for() -> None:
    wish = ("--finished", "25cm", "--findings", "22mm", *CHECKED)
    alone, asked = (
        run(SAMPLES / "anklet.jpg", *wish),
        run(SAMPLES / "anklet.jpg", *wish, "--step", "touching"),
    )
    assert asked.exit_code == 0, asked.stderr
    said = [line for line in asked.stdout.splitlines() if line not in alone.stdout.splitlines()]
    assert [line.strip() for line in said] == [
        "Only one strand lies open on the photo: it is measured by itself, without a step."
    ]


def test_files_are_written_beside_the_text(tmp_path: Path) -> None:
    table, marked = tmp_path / "beads.csv", tmp_path / "marked.png"
    result = run(SAMPLES / "mixed-strand.jpg", "--csv", table, "--annotated", marked)
    assert result.exit_code == 0, result.stderr
    with table.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["number"] for row in rows] == [str(k) for k in range(1, 22)]
    picture, photo = load_photo(marked), load_photo(SAMPLES / "mixed-strand.jpg")
    assert picture.rgb.shape[1] == photo.rgb.shape[1]
    height = photo.rgb.shape[0]
    assert 0.001 < (picture.rgb[:height] != photo.rgb).any(axis=2).mean() < 0.2


def test_check_length_scales_every_length() -> None:
    nominal, longer = (
        json.loads(run(SAMPLES / "mixed-strand.jpg", "--json", "--check-length", length).stdout)["strand"]
        for length in ("255.4mm", "257.9mm")
    )
    assert longer["length_mm"] / nominal["length_mm"] == pytest.approx(257.9 / 255.4, rel=2e-3)


def save(path: Path, rgb: np.ndarray) -> Path:
    Image.fromarray(rgb).save(path)
    return path


def empty_sheet(path: Path) -> Path:
    document = pypdfium2.PdfDocument(render(lay_out(SHEETS["mat-a4"]), ".pdf"))
    rgb = document[0].render(scale=6 * 25.4 / 72).to_numpy()[..., ::-1]
    document.close()
    return save(path, np.ascontiguousarray(rgb))


def assert_refused(result: Result, message: str) -> None:
    assert result.exit_code == REFUSED, result.output
    assert result.stdout == ""
    assert message in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_missing_photo_is_refused(tmp_path: Path) -> None:
    assert_refused(run(tmp_path / "missing.jpg"), "no such file")


def test_a_file_that_is_not_a_photo_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.jpg").write_text("three more beads\n")
    assert_refused(run(tmp_path / "notes.jpg"), "no JPEG, PNG, TIFF, WebP or HEIC picture")


def test_photo_without_a_sheet_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    noise = np.random.default_rng(3).integers(90, 160, (600, 800, 3), np.uint8)
    photo = save(tmp_path / "table.png", noise)
    files = ("--csv", tmp_path / "beads.csv", "--annotated", tmp_path / "marked.jpg")
    assert_refused(run(photo, *files), "no scale sheet found")
    assert [path.name for path in tmp_path.iterdir()] == ["table.png"]


def test_sheet_without_beads_is_refused(tmp_path: Path) -> None:
    assert_refused(run(empty_sheet(tmp_path / "empty.png")), "bead")


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--strung", "165"), "165 has no unit"),
        (("--strung", "0mm"), "must be more than zero"),
        (("--strung", "16cm", "--wrist", "6in"), "different targets"),
        (("--findings", "22mm"), "--findings needs a target"),
        (("--finished", "2cm", "--findings", "22mm"), "leaves no room for beads"),
        (("--ease", "1cm"), "ease was given without a body size"),
        (("--step", "1cm"), "--step needs a target"),
        (("--wrist", "6in", "--step", "0mm"), "must be more than zero, or touching"),
        (("--annotated", "marked.gif"), "must end in .jpg, .jpeg or .png"),
        (("--check-length", "ruler"), "is not a length"),
        (("--piece", "missing.toml"), "does not exist"),
        (("--gauge",), "No such option"),
    ],
)
def test_mistyped_options_say_what_to_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...], message: str
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run(SAMPLES / "anklet.jpg", *options)
    assert result.exit_code == MISTYPED, result.output
    assert message in result.stderr
    assert result.stdout == ""
