"""The commands `lot` and `check`, on beads that are given instead of measured."""

import csv
import io
import json
import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from sizing.cli.main import cli
from sizing.lot.handfuls import Handful
from tests.helpers.lots import bead, conditions
from vision.common.errors import PhotoError
from vision.common.records import LeftOut, Lot

DARK = "dark.png: no scale sheet is seen: lay it under the beads"
SIZES_MM = (6.0, 6.02, 6.5, 8.0, math.nan)


@pytest.fixture
def photos(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two plain photos in the folder returned; measuring finds the same beads on each."""
    for name in ("one.png", "two.png"):
        Image.fromarray(np.full((300, 420, 3), 200, np.uint8)).save(tmp_path / name)
    asked: list[Handful] = []

    def measured(handfuls: Sequence[Handful], *_: object, **__: object) -> Lot:
        asked.extend(handfuls)
        bad = [
            LeftOut(photo=each.name, reason=DARK, place=place)
            for place, each in enumerate(handfuls)
            if each.name == "dark.png"
        ]
        handfuls = [each for each in handfuls if each.name != "dark.png"]
        if not handfuls:
            raise PhotoError(DARK)
        beads = tuple(
            replace(bead(i, size, size, photo=each.name), flags=("unmeasured",) if math.isnan(size) else ())
            for each in handfuls
            for i, size in enumerate(SIZES_MM, start=1)
        )
        measured_on = tuple(conditions(each.name) for each in handfuls)
        return Lot(conditions=measured_on, beads=beads, left_out=tuple(bad))

    monkeypatch.setattr("sizing.batch.lots.measure_handfuls", measured)
    return tmp_path


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words])


def test_json_has_the_contracts_fields(photos: Path) -> None:
    result = run("lot", photos / "one.png", "--json")
    assert result.exit_code == 0
    fields = json.loads(result.stdout)
    first = fields["beads"][0]
    assert {
        "number",
        "px",
        "max_feret_mm",
        "max_feret_u95_mm",
        "min_feret_mm",
        "min_feret_u95_mm",
        "flags",
    } <= set(first)
    assert fields["sheet"]["name"] == "mat-a4"
    assert fields["beads"][4]["min_feret_mm"] is None
    assert fields["beads"][4]["flags"] == ["unmeasured"]


def test_json_lists_the_classes(photos: Path) -> None:
    lot = json.loads(run("lot", photos / "one.png", "--json").stdout)["lot"]
    found = [(each["name"], each["count"], each["between"]) for each in lot["classes"]]
    assert found == [("6 mm", 2, False), ("between 6 mm and 7 mm", 1, True), ("8 mm", 1, False)]
    assert lot["unmeasured"] == [{"photo": "one.png", "number": 5}]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ((), "6 mm"),
        (("--step", "0.25mm"), "6.00 mm"),
        (("--natural",), "6.01 mm"),
        (("--pearl",), "between 5.5-6.0 mm and 6.0-6.5 mm"),
        (("--pearl", "--step", "2mm"), "between 4-6 mm and 6-8 mm"),
    ],
)
def test_ways_to_sort(photos: Path, words: tuple[str, ...], first: str) -> None:
    lot = json.loads(run("lot", photos / "one.png", "--json", *words).stdout)["lot"]
    assert lot["classes"][0]["name"] == first


def test_picks_are_listed_where_asked_for(photos: Path) -> None:
    plain = json.loads(run("lot", photos / "one.png", "--json").stdout)
    assert plain["lot"]["picks"] == {}
    words = ("--pairs", "1", "--uniform", "2", "--graduated", "16in")
    picks = json.loads(run("lot", photos / "one.png", "--json", *words).stdout)["lot"]["picks"]
    assert [each["number"] for each in picks["pairs"][0]["beads"]] == [1, 2]
    assert [each["number"] for each in picks["uniform"]["beads"]] == [1, 2]
    assert picks["graduated"] is None


def test_several_photos_make_one_lot(photos: Path) -> None:
    result = run("lot", photos / "one.png", photos / "two.png")
    assert result.exit_code == 0
    assert result.stdout.startswith("10 beads: 6 in 2 sizes, 2 between two sizes, 2 not measured.")
    assert "6 mm: A1, A2, B1, B2" in result.stdout


def test_the_table_has_a_row_a_bead(photos: Path) -> None:
    assert run("lot", photos / "one.png", "--csv", photos / "lot.csv").exit_code == 0
    rows = list(csv.DictReader(io.StringIO((photos / "lot.csv").read_text(encoding="utf-8"))))
    assert [row["class"] for row in rows] == ["6 mm", "6 mm", "between 6 mm and 7 mm", "8 mm", ""]
    assert rows[0]["roundness"] == "round"


def test_one_photo_has_one_marked_copy(photos: Path) -> None:
    assert run("lot", photos / "one.png", "--annotated", photos / "marked.png").exit_code == 0
    with Image.open(photos / "marked.png") as marked:
        assert marked.size[0] == 420
        assert marked.size[1] > 300  # the legend stands below the photo


def test_several_photos_have_a_marked_copy_each(photos: Path) -> None:
    result = run("lot", photos / "one.png", photos / "two.png", "--annotated", photos / "marked.jpg")
    assert result.exit_code == 0
    assert sorted(path.name for path in photos.glob("marked*")) == ["marked-A.jpg", "marked-B.jpg"]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--step", "0.25mm", "--natural"), "different ways to sort"),
        (("--pearl", "--natural"), "--pearl and --natural are different ways to sort"),
        (("--step", "0.01mm"), "a step of 0.01 mm is finer than a photo shows: give 0.05 mm or more"),
        (("--step", "0.25"), "has no unit"),
        (("--by", "height"), "'height' is not one of"),
        (("--pairs", "0"), "0 is no number of pairs: write 1 or more"),
        (("--strung", "16in", "--wrist", "6in"), "different targets"),
        (("--annotated", "marked.txt"), "must end in"),
    ],
)
def test_what_is_typed_wrongly_is_refused(photos: Path, words: tuple[str, ...], sentence: str) -> None:
    result = run("lot", photos / "one.png", *words)
    assert result.exit_code == 2
    assert sentence in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("command", [("lot",), ("check", "--label", "8mm")])
def test_a_photo_that_cannot_be_measured_is_named_and_left_out(
    photos: Path, command: tuple[str, ...]
) -> None:
    given = (photos / "dark.png", photos / "one.png", photos / "two.png")
    table = photos / "lot.csv"
    result = run(*command, *given, "--json", "--csv", table, "--annotated", photos / "marked.png")
    assert result.exit_code == 3
    assert result.stderr == (
        f"Error: 1 of 3 photos cannot be measured, take them again or leave them out: {DARK}\n"
    )
    fields = json.loads(result.stdout)
    assert fields["left_out"] == [{"photo": "dark.png", "reason": DARK}]
    assert fields["lot"]["count"] == 2 * len(SIZES_MM)
    assert table.exists()
    # The others keep the letters of their places, which they have again once it was taken anew.
    assert {path.name for path in photos.glob("marked*")} == {"marked-B.png", "marked-C.png"}
    text = " ".join(run(*command, *given).stdout.split())
    assert "dark.png could not be measured and is left out: no bead on it is counted." in text
    assert "A dark.png left out B one.png 5 beads C two.png 5 beads" in text


@pytest.mark.parametrize("names", [("one", "dark", "two"), ("dark", "two"), ("two", "dark")])
def test_a_correction_is_of_the_photo_of_its_place(photos: Path, names: tuple[str, ...]) -> None:
    given = [photos / f"{name}.png" for name in names]
    letter, wrong = "ABC"[names.index("two")], "ABC"[names.index("dark")]
    result = run("lot", *given, "--not-a-bead", f"{letter}1", "--bead-at", f"{letter}:300,200", "--json")
    assert result.exit_code == 3
    assert {each["photo"] for each in json.loads(result.stdout)["corrections"]} == {"two.png"}
    result = run("lot", *given, "--not-a-bead", f"{wrong}1")
    assert result.exit_code == 2
    assert "dark.png could not be measured, so nothing on it can be put right" in result.stderr
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.parametrize("command", [("lot",), ("check", "--label", "8mm")])
def test_where_no_photo_can_be_measured_there_is_no_answer(photos: Path, command: tuple[str, ...]) -> None:
    result = run(*command, photos / "dark.png", "--json", "--csv", photos / "lot.csv")
    assert result.exit_code == 3
    assert "dark.png: no scale sheet is seen" in result.stderr
    assert result.stdout == ""
    assert not (photos / "lot.csv").exists()


def test_a_photo_given_twice_is_refused(photos: Path) -> None:
    result = run("lot", photos / "one.png", photos / "one.png")
    assert result.exit_code == 2
    assert "given twice" in result.stderr


def test_check_gives_its_verdict_first(photos: Path) -> None:
    result = run("check", photos / "one.png", "--label", "8mm")
    assert result.exit_code == 0
    assert result.stdout.startswith("8mm: not as labelled; 3 of 4 beads are outside")


def test_check_json_adds_the_label_to_the_lots_fields(photos: Path) -> None:
    fields = json.loads(run("check", photos / "one.png", "--label", "6mm", "--json").stdout)
    assert fields["label"]["decision"] == "not conforming"
    assert (
        fields["label"]["conforming"],
        fields["label"]["undecided"],
        fields["label"]["not_conforming"],
    ) == (2, 1, 1)
    assert [each["decision"] for each in fields["beads"]] == [
        "conforming",
        "conforming",
        "undecided",
        "not conforming",
        None,
    ]
    assert fields["lot"]["count"] == 5


def test_check_takes_a_tolerance(photos: Path) -> None:
    fields = json.loads(
        run("check", photos / "one.png", "--label", "7mm", "--tolerance", "1.2mm", "--json").stdout
    )
    assert fields["label"]["decision"] == "conforming"
    assert fields["label"]["stated"] == [{"nominal_mm": 7.0, "low_mm": 5.8, "high_mm": 8.2}]


def test_check_marks_its_copy(photos: Path) -> None:
    result = run(
        "check",
        photos / "one.png",
        "--label",
        "8mm",
        "--annotated",
        photos / "m.png",
        "--csv",
        photos / "c.csv",
    )
    assert result.exit_code == 0
    assert (photos / "m.png").exists()
    assert "not conforming" in (photos / "c.csv").read_text(encoding="utf-8")


def test_check_refuses_what_is_not_a_label(photos: Path) -> None:
    result = run("check", photos / "one.png", "--label", "large")
    assert result.exit_code == 2
    assert "label 'large' cannot be read, 'large' is not a length" in result.stderr


def test_check_needs_a_label(photos: Path) -> None:
    result = run("check", photos / "one.png")
    assert result.exit_code == 2
    assert "--label" in result.stderr


def test_flat_or_round_is_passed_on(photos: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[bool | None] = []

    def remember(handfuls: Sequence[Handful], *_: object, **__: object) -> Lot:
        asked.append(handfuls[0].flat)
        return Lot(conditions=(conditions("one.png"),), beads=(), flat=False)

    monkeypatch.setattr("sizing.batch.lots.measure_handfuls", remember)
    for words in ((), ("--flat",), ("--round",)):
        assert run("lot", photos / "one.png", *words).exit_code == 0
    assert asked == [None, True, False]


def test_the_scale_is_passed_on(photos: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Handful] = []

    def remember(handfuls: Sequence[Handful], *_: object, **__: object) -> Lot:
        asked.extend(handfuls)
        return Lot(conditions=(conditions("one.png"),), beads=())

    monkeypatch.setattr("sizing.batch.lots.measure_handfuls", remember)
    assert run("lot", photos / "one.png", "--check-length", "272.4mm", "--bed-height", "1.2mm").exit_code == 0
    assert asked[0].check_length_mm == pytest.approx(272.4)
    assert asked[0].check_length_u_mm == pytest.approx(0.1 / math.sqrt(6))
    assert asked[0].bed_height_mm == pytest.approx(1.2)


@pytest.mark.parametrize("command", ["lot", "check"])
def test_help_has_examples(command: str) -> None:
    result = run(command, "--help")
    assert result.exit_code == 0
    assert result.stdout.count(f"strandgauge {command} ") >= 4
