"""The stash book as a maker uses it: every command, what it says, and what it refuses."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from sizing.cli.keeping import keep_if_asked
from sizing.cli.main import cli
from sizing.report.records.strand import strand_record
from sizing.stash.book import reading, stash_file
from sizing.stash.entries import find, thumbnail_of
from sizing.stash.photos import is_picture, photo_of
from sizing.strand.sized import size_strands
from tests.helpers.stash import lot_fields, strand_fields
from tests.helpers.strands import make_strand
from vision.image.photo import encode_image


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(cli, [str(arg) for arg in args])


def done(*args: str | Path) -> str:
    result = run(*args)
    assert result.exit_code == 0, result.stderr
    assert result.stderr == ""
    return result.stdout


def printed(*args: str | Path) -> Any:  # noqa: ANN401 - whatever JSON holds
    return json.loads(done(*args, "--json"))


def refusal(*args: str | Path) -> str:
    result = run(*args)
    assert (result.exit_code, result.stdout) == (2, ""), result.output
    assert result.stderr.count("\n") == 1
    return result.stderr


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "blue.json").write_text(json.dumps(strand_fields([8.0] * 40)))
    (tmp_path / "mixed.json").write_text(json.dumps(lot_fields([6.0] * 9 + [8.0] * 21)))
    return tmp_path


def keep_both() -> None:
    done("stash", "keep", "blue.json", "--name", "blue glass", "--price", "12.50 EUR", "--from", "market")
    done("stash", "keep", "mixed.json", "--name", "mixed")


def test_keeping_says_what_is_kept() -> None:
    assert (
        done("stash", "keep", "blue.json", "--name", "blue") == "Kept as 1, blue: 40 beads of 8.0 mm, blue\n"
    )
    assert "Kept as 2, mixed: 9 beads of 6.0 mm" in done("stash", "keep", "mixed.json", "--name", "mixed")


def test_what_was_just_measured_is_kept_under_a_name(capsys: pytest.CaptureFixture[str]) -> None:
    record = strand_record(size_strands([make_strand([8.0] * 12)], None))
    keep_if_asked(None, record, picture=lambda: 1 // 0)
    assert printed("stash", "list")["entries"] == []
    keep_if_asked("blue", record, picture=lambda: np.full((300, 400, 3), 120, np.uint8))
    out, err = capsys.readouterr()
    assert (out, err) == ("", "Kept as 1, blue: 12 beads of 8.0 mm, blue\n")
    with reading() as book:
        assert is_picture(thumbnail_of(book, find(book, "blue")) or b"")


def test_listing_shows_what_was_asked_for() -> None:
    assert "Nothing is kept yet: keep what is measured" in done("stash", "list", "--size", "8mm")
    keep_both()
    assert done("stash", "list", "--size", "5mm") == "Nothing found among 2 entries, 70 beads.\n"
    assert done("stash", "list").splitlines()[0] == "2 entries, 70 beads"
    assert "1    blue glass  40 beads  8.0 mm, blue  12.50 EUR" in done("stash", "list")
    for options, names in (
        (("--size", "8mm"), ["blue glass", "mixed"]),
        (("--size", "5.5-6.5mm"), ["mixed"]),
        (("--text", "MARKET"), ["blue glass"]),
        (("--colour", "blue", "--count", "30"), ["blue glass"]),
        (("--colour", "#283c78", "--size", "8mm", "--count", "40"), ["blue glass"]),
        (("--size", "10 mm"), []),
    ):
        found = printed("stash", "list", *options)
        assert [entry["name"] for entry in found["entries"]] == names, options


def test_showing_one_entry() -> None:
    keep_both()
    done("stash", "keep", "blue.json", "--name", "more")
    text = done("stash", "show", "blue glass")
    for line in ("1  blue glass: strand, 40 beads left", "from   market", "12.50 EUR, 0.31 EUR a bead"):
        assert line in text
    assert (
        "more: 40 beads of 8.0 mm, blue; of one size with over 99 % probability, colours differ by 0.0"
        in text
    )
    shown = printed("stash", "show", "1")
    assert len(shown["beads"]) == 40
    assert [change["beads"] for change in shown["changes"]] == [40]
    assert shown["entry"]["price"] == "12.50"
    assert [match["name"] for match in shown["matches"]] == ["more"]


def test_a_name_to_keep_under_is_refused_before_anything_is_measured() -> None:
    keep_both()
    # The photo is not looked for: that complaint would come once it is measured.
    assert "already has an entry 'mixed'" in refusal("lot", "missing.jpg", "--keep", "mixed")
    assert "would be taken for an entry's number" in refusal("strand", "missing.jpg", "--keep", "3")


def test_using_and_counting() -> None:
    keep_both()
    assert done("stash", "use", "blue glass", "25", "--why", "bracelet") == (
        "Now 1, blue glass: 15 beads of 8.0 mm, blue\n"
    )
    assert "Now 2, mixed: 9 beads of 6.0 mm, blue; 20 beads" in done(
        "stash", "recount", "2", "20", "--size", "2"
    )
    assert "bracelet" in done("stash", "show", "1")
    assert "which has 15: take 1 to 15" in refusal("stash", "use", "1", "16")
    assert "has 2 sizes: say which with --size" in refusal("stash", "use", "mixed", "1")
    made = refusal("stash", "make", "--wrist", "6in", "--with", "mixed")
    assert "has 2 sizes: say which as --with" in made


def test_describing_and_forgetting() -> None:
    keep_both()
    done("stash", "describe", "1", "--hole", "0.85 mm")
    assert "hole   0.85 mm" in done("stash", "show", "1")
    done("stash", "describe", "1", "--name", "old glass", "--hole", "1 mm", "--note", "dark")
    entry = printed("stash", "show", "old glass")["entry"]
    assert (entry["hole_mm"], entry["note"], entry["source"], entry["price"]) == (
        1.0,
        "dark",
        "market",
        "12.50",
    )
    assert done("stash", "forget", "mixed").startswith("Forgot 2, mixed: ")
    assert [each["name"] for each in printed("stash", "list")["entries"]] == ["old glass"]
    assert "no entry 'mixed': see what it has" in refusal("stash", "forget", "mixed")


def test_a_photo_is_kept_if_wished_and_can_be_deleted(folder: Path) -> None:
    rgb = np.random.default_rng(3).integers(0, 255, (300, 400, 3), np.uint8)
    (folder / "photo.png").write_bytes(encode_image(rgb, ".png"))
    done("stash", "keep", "blue.json", "--name", "small", "--photo", "photo.png")
    done("stash", "keep", "blue.json", "--name", "whole", "--photo", "photo.png", "--whole-photo")
    with reading() as book:
        small, whole = find(book, "small"), find(book, "whole")
        assert is_picture(thumbnail_of(book, small) or b"")
        assert photo_of(book, small) is None
        assert len(photo_of(book, whole) or b"") == whole.photo_bytes > 0
    assert "photo  0.1 MB" in done("stash", "show", "whole")
    assert done("stash", "forget", "whole", "--photo") == "Deleted the photo of whole\n"
    assert done("stash", "forget", "whole", "--photo") == "whole has no photo\n"
    assert "give both" in refusal("stash", "keep", "blue.json", "--name", "more", "--whole-photo")


def test_what_the_stash_makes() -> None:
    keep_both()
    text = done("stash", "make", "--strung", "16cm", "--findings", "0mm")
    assert "1. 20 of blue glass (20 left); exactly on the target; costs 6.25 EUR" in text
    assert "2. 20 of mixed, size 2 (1 left); exactly on the target" in text
    assert "18 lacking" in text
    ways = printed("stash", "make", "--strung", "16cm", "--with", "mixed:2", "--with", "mixed:1")["ways"]
    assert [way["needs"] for way in ways] == [
        [
            {"number": 2, "name": "mixed", "size": 2, "needed": 11, "left": 10},
            {"number": 2, "name": "mixed", "size": 1, "needed": 11, "left": -2},
        ]
    ]
    assert "no target is given" in refusal("stash", "make")
    assert "no entry 'gone'" in refusal("stash", "make", "--strung", "16cm", "--with", "gone")


def test_a_plan_from_the_stash() -> None:
    keep_both()
    plan = printed("plan", "--strung", "16cm", "--from-stash", "blue glass")
    assert plan["best"]["count"] == 20
    assert plan["cost"]["currency"] == "EUR"
    [purchase] = plan["purchases"]
    assert (purchase["bead"]["name"], purchase["bead"]["have"]) == ("blue glass", 40)
    said = refusal("plan", "--strung", "16cm", "--bead", "8mm", "--from-stash", "1")
    assert "--bead and --from-stash are two sources of beads: give only one of them" in said
    assert "no entry 'gone'" in refusal("plan", "--strung", "16cm", "--from-stash", "gone")


def test_carrying_the_stash_to_another_computer(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    keep_both()
    assert done("stash", "export", "stash.zip") == "Wrote 2 entries to stash.zip\n"
    here = printed("stash", "list")
    assert done("stash", "import", "stash.zip") == "Added 0 entries\n"
    monkeypatch.setenv("STRANDGAUGE_DATA", str(folder / "other"))
    assert done("stash", "import", "stash.zip") == "Added 2 entries: blue glass, mixed\n"
    assert printed("stash", "list") == here
    assert done("stash", "export", "stash.zip") == "Wrote 2 entries to stash.zip\n"
    assert done("stash", "check") == f"The stash is sound: 2 entries in {stash_file()}\n"


def test_an_export_takes_the_place_of_no_other_file(folder: Path) -> None:
    (folder / "photos.zip").write_bytes(b"PK\3\4 something else")
    assert "exists and is not a stash that was exported" in refusal("stash", "export", "photos.zip")
    assert "must end in .zip" in refusal("stash", "export", "stash.json")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("keep", "blue.json"), "Missing option '--name'"),
        (("keep", "no.json", "--name", "x"), "does not exist"),
        (("keep", "bad.json", "--name", "x"), "bad.json is not a saved measurement"),
        (("keep", "blue.json", "--name", "12"), "taken for an entry's number"),
        (("keep", "blue.json", "--name", "x", "--price", "much"), "is no price: write it like 12.50"),
        (("keep", "blue.json", "--name", "x", "--date", "today"), "is no date"),
        (("keep", "blue.json", "--name", "x", "--hole", "1"), "has no unit"),
        (("list", "--size", "8"), "has no unit"),
        (("list", "--size", "6x4mm"), "are two sizes"),
        (("list", "--colour", "puce"), "is not one of black, white"),
        (("import", "blue.json"), "blue.json is no stash that was exported whole"),
        (("show", "nothing"), "no entry 'nothing'"),
        (("use", "1", "-3"), "-3 is no number of beads to take: write 1 or more"),
        (("use", "1", "0"), "0 is no number of beads to take: write 1 or more"),
        (("use", "1", "2.5"), "2.5 is no number of beads to take: write 1 or more"),
        (("use", "1", "-2.5", "--why", "-3"), "-2.5 is no number of beads to take: write 1 or more"),
        (("use", "1", "9" * 5000), "is no number of beads to take: write 1 or more"),
        (("use", "1", "3", "-x"), "No such option '-x'"),
        (("recount", "1", "-3"), "-3 is no number of beads: write 0 or more"),
        (("list", "--count", "x"), "x is no number of beads: write 0 or more"),
    ],
)
def test_what_is_typed_wrongly_is_one_line(folder: Path, words: tuple[str, ...], said: str) -> None:
    (folder / "bad.json").write_text("{")
    assert said in refusal("stash", *words)
    assert printed("stash", "list")["entries"] == []


def test_a_book_that_is_not_sound_is_said_in_one_line() -> None:
    keep_both()
    content = bytearray(stash_file().read_bytes())
    content[2 * 4096 : 3 * 4096] = b"\xaa" * 4096
    stash_file().write_bytes(content)
    assert "import what you exported last" in refusal("stash", "check")
