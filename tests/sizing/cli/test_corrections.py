"""Corrections typed on the command line: of a strand, of loose beads, of a delivery."""

import csv
import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from sizing.cli.main import cli
from tests.helpers.lots import bead, conditions, lot_of
from tests.helpers.paths import SAMPLES
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.records import Lot, Strand

STRAND, LOT = SAMPLES / "mixed-strand.jpg", SAMPLES / "mixed-lot.jpg"
CHECKED = ("--check-length", "255.4mm")
MISTYPED = 2
SAME_MM = 1e-4
"""JSON is rounded to a nanometre; lengths are sums of twenty of them."""


def run(*args: object) -> Result:
    return CliRunner().invoke(cli, [str(arg) for arg in args])


def answer(*args: object) -> dict[str, Any]:
    result = run(*args, "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    data: dict[str, Any] = json.loads(result.stdout)
    return data


def unwrapped(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def measured(monkeypatch: pytest.MonkeyPatch) -> Callable[[Sequence[Strand]], None]:
    """Return a function that puts these strands in place of what any photo would measure."""

    def put(strands: Sequence[Strand]) -> None:
        monkeypatch.setattr("vision.measure.measure_strands", lambda *_, **__: tuple(strands))

    return put


@pytest.fixture
def laid(monkeypatch: pytest.MonkeyPatch) -> Callable[[Lot], None]:
    """Return a function that puts this lot in place of what any photos would measure."""

    def put(lot: Lot) -> None:
        for command in ("lot", "check"):
            monkeypatch.setattr(f"sizing.cli.{command}.measure", lambda *_: lot)

    return put


def test_a_sample_put_right_adds_up(tmp_path: Path) -> None:
    table, marked, page = tmp_path / "beads.csv", tmp_path / "marked.png", tmp_path / "page.html"
    plain = answer("strand", STRAND, *CHECKED)
    files = ("--csv", table, "--annotated", marked, "--report", page)
    said = ("--stopper", 1, "--two-beads", 12, "--size-of", "3=9.90mm", "--not-a-bead", "21")
    right = answer("strand", STRAND, *CHECKED, *said, *files)
    before, after = plain["beads"], right["beads"]
    assert right["strands"][0]["count"] == len(before) - 2 + 1
    ends = before[0]["along_mm"] + before[0]["gap_after_mm"]
    ends += before[-1]["along_mm"] + before[-2]["gap_after_mm"]
    assert right["strand"]["length_mm"] == pytest.approx(plain["strand"]["length_mm"] - ends, abs=SAME_MM)
    assert [one["was"] for one in after][9:13] == [[11], [12], [12], [13]]
    assert after[1]["across_mm"] == 9.9
    # half of the last digit and 0.03 mm of the caliper, each rectangular, doubled
    assert after[1]["across_u95_mm"] == pytest.approx(2 * (0.005**2 + 0.03**2) ** 0.5 / 3**0.5, abs=1e-6)
    assert [one["action"] for one in right["corrections"]] == ["no bead", "two beads", "size", "stopper"]
    with table.open(newline="", encoding="utf-8") as file:
        assert [row["was"] for row in csv.DictReader(file)][:3] == ["2", "3", "4"]
    assert "Put right by hand" in page.read_text(encoding="utf-8")
    assert marked.stat().st_size > 0


def test_a_delivery_put_right_is_judged_anew(tmp_path: Path) -> None:
    marked = tmp_path / "marked.png"
    said = ("--not-a-bead", "1-3", "--bead-at", "40,40", "--annotated", marked)
    plain = answer("check", LOT, "--label", "8mm")
    right = answer("check", LOT, "--label", "8mm", *said)
    assert right["lot"]["count"] == plain["lot"]["count"] - 3 + 1
    assert right["beads"][-1]["was"] == []
    assert right["beads"][-1]["flags"] == ["corrected"]
    assert marked.stat().st_size > 0


def test_beads_of_several_strands_and_of_a_loop(measured: Callable[[Sequence[Strand]], None]) -> None:
    loop = replace(make_loop([8.0] * 20), number=2)
    measured(numbered_on(make_strand([6.0] * 10), loop))
    right = answer("strand", STRAND, "--stopper", 1, "--not-a-bead", 30)
    assert [strand["count"] for strand in right["strands"]] == [9, 19]
    assert [strand["length_mm"] for strand in right["strands"]] == [54.0, 152.0]
    assert right["strands"][1]["clasp_mm"] == 12.0 + 8.0
    assert right["strands"][1]["around_mm"] == loop.length_mm + 12.0


@pytest.mark.parametrize("kind", ["spacer", "cover"])
def test_spacers_and_covers_stay_strung(measured: Callable[[Sequence[Strand]], None], kind: str) -> None:
    measured([make_strand([8.0, 2.0, 8.0])])
    right = answer("strand", STRAND, f"--{kind}", 2)["strands"][0]
    assert (right["count"], right[f"{kind}s"], right["length_mm"]) == (2, 1, 18.0)


def test_a_caliper_that_contradicts_the_photo_is_told_and_a_slip_refused() -> None:
    plain = answer("strand", STRAND, *CHECKED)["beads"][2]
    said = run("strand", STRAND, *CHECKED, "--size-of", "3=7.9mm")
    off_mm = plain["across_mm"] - 7.9
    assert off_mm > plain["across_u95_mm"] + 0.1  # a caliper read to a tenth is good to 0.07 mm
    assert "Bead 3 is 7.90 ± 0.07 mm by a caliper, but 10.0 ± 0.3 mm on the photo" in unwrapped(said.stdout)
    assert "one of the two is wrong (contradicted)" in unwrapped(said.stdout)
    for slip in ("79mm", "0.79mm", "20.1mm"):
        refused = run("strand", STRAND, *CHECKED, "--size-of", f"3={slip}")
        assert (refused.exit_code, refused.stdout) == (MISTYPED, "")
        assert "bead 3 cannot be" in refused.stderr
        assert "the photo shows 10.0 ± 0.3 mm" in refused.stderr
        assert refused.stderr.count("\n") == 1


def test_the_sizes_of_a_lot_follow(laid: Callable[[Lot], None]) -> None:
    laid(lot_of([6.0, 6.0, 8.0, 8.0]))
    lot = answer("lot", LOT, "--not-a-bead", 1, "--size-of", "3=6.0mm")["lot"]
    assert [(each["name"], each["count"]) for each in lot["classes"]] == [("6 mm", 2), ("8 mm", 1)]


def handfuls(*photos: Path) -> Lot:
    beads = tuple(bead(n, 8.0, 8.0, photo=photo.name) for photo in photos for n in (1, 2, 3))
    return Lot(conditions=tuple(conditions(photo.name) for photo in photos), beads=beads)


def test_beads_of_several_photos_are_named_by_letter(laid: Callable[[Lot], None]) -> None:
    laid(handfuls(LOT, STRAND))
    said = ("--not-a-bead", "A3,B1-2", "--bead-at", "b:1200,700", "--size-of", "a1=8.2mm")
    right = answer("lot", LOT, STRAND, *said)
    assert [(one["photo"], one["number"], one["was"]) for one in right["beads"]] == [
        (LOT.name, 1, [1]),
        (LOT.name, 2, [2]),
        (STRAND.name, 1, [3]),
        (STRAND.name, 2, []),
    ]
    assert "Bead B1 is no bead." in run("lot", LOT, STRAND, *said).stdout


@pytest.mark.parametrize(
    ("said", "message"),
    [
        (("--not-a-bead", "99"), "there is no bead 99: give a number as on the marked photo, 1 to 5"),
        (("--not-a-bead", "1", "--spacer", "1"), "bead 1 is named twice"),
        (("--not-a-bead", "one"), "one is no list of bead numbers: write it like 1,29 or 4-6"),
        (("--not-a-bead", "6-4"), "6-4 names no bead: write the smaller number first"),
        (("--not-a-bead", "B1"), "B1 names photo B, but there is only one photo"),
        (("--one-bead", "2"), "give the numbers of two or more"),
        (("--one-bead", "2,4"), "beads 2 and 4 do not follow each other"),
        (("--size-of", "3:8mm"), "3:8mm is no size of a bead: write it like 3=7.9mm"),
        (("--size-of", "3=8"), "8 has no unit"),
        (("--size-of", "3=8in"), "out of reason"),
        (("--bead-at", "8;9"), "8;9 is no place on a photo: write its pixels like 812,440"),
        (("--bead-at", "99999,9"), "lies outside the photo"),
        (("--bead-at", "200,900"), "beside the string"),
        (("--stopper", "3"), "bead 3 lies between beads, so it is no stopper"),
        (("--not-a-bead", "1-5"), "no bead would be left"),
        (("--not-a-bead", "x" * 5000), "is no list of bead numbers"),
    ],
)
def test_what_cannot_be_meant_is_one_line(
    measured: Callable[[Sequence[Strand]], None], said: tuple[str, ...], message: str
) -> None:
    measured([make_strand([8.0] * 5)])
    result = run("strand", STRAND, *said)
    assert (result.exit_code, result.stdout) == (MISTYPED, "")
    [line] = result.stderr.splitlines()
    assert message in line
    assert len(line) < 300


@pytest.mark.parametrize(
    ("said", "message"),
    [
        (("--not-a-bead", "3"), "3 does not say which photo: write A3 or another letter; A is mixed-lot.jpg"),
        (("--bead-at", "3,4"), "X,Y does not say which photo: write A:X,Y"),
        (("--one-bead", "A1,B1"), "beads of several photos are not one"),
        (("--stopper", "A1"), "No such option"),
    ],
)
def test_of_several_photos_a_letter_is_needed(
    laid: Callable[[Lot], None], said: tuple[str, ...], message: str
) -> None:
    laid(handfuls(LOT, STRAND))
    result = run("lot", LOT, STRAND, *said)
    assert result.exit_code == MISTYPED
    [line] = result.stderr.splitlines()
    assert message in line


@pytest.mark.parametrize("command", ["strand", "lot", "check"])
def test_the_help_says_which_numbers_are_meant(command: str) -> None:
    said = " ".join(run(command, "--help").stdout.split())
    assert "All bead numbers that you type refer to the photo as it is marked without corrections" in said
