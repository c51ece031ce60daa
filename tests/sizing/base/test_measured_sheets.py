"""Measured sheets are remembered whole or not at all, replaced, forgotten, used where nothing was typed."""

from pathlib import Path

import pytest

from sizing.base.errors import OutputError, SizingError
from sizing.base.measured_sheets import (
    SETTINGS_VARIABLE,
    CheckReading,
    MeasuredSheet,
    forget,
    reading_for,
    remember,
    remembered_sheets,
    settings_file,
)
from tests.helpers.tag_photos import draw_tags, similarity
from vision.common.records import Photo
from vision.sheet.geometry import SHEETS

SHEET = MeasuredSheet(
    sheet_name="card", check_length_mm=79.5, u_mm=0.06, measured_with="plastic card", date="2026-03-14"
)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(SETTINGS_VARIABLE, str(tmp_path / "deep" / "settings"))
    return tmp_path / "deep" / "settings"


def card_photo() -> Photo:
    card = SHEETS["card"]
    return draw_tags(card, card.ids, similarity(4.0, 3.0, (30.0, 30.0)), size_px=(480, 360))


def test_nothing_is_remembered_at_first(folder: Path) -> None:
    assert remembered_sheets() == {}
    assert settings_file().parent == folder
    assert not folder.exists()


def test_a_new_measurement_replaces_the_old_one(folder: Path) -> None:
    newer = MeasuredSheet(
        sheet_name="card", check_length_mm=79.6, u_mm=0.05, measured_with="1 euro coin", date="2026-04-01"
    )
    other = MeasuredSheet(
        sheet_name="mat-a4", check_length_mm=272.0, u_mm=0.2, measured_with="plastic card", date="2026-04-02"
    )
    for sheet in (SHEET, other, newer):
        remember(sheet)
    assert remembered_sheets() == {"card": newer, "mat-a4": other}
    assert [path.name for path in folder.iterdir()] == ["measured-sheets.json"]


def test_forgetting() -> None:
    remember(SHEET)
    assert forget("card")
    assert not forget("card")
    assert remembered_sheets() == {}


@pytest.mark.parametrize(
    "content",
    [
        "",
        "no json",
        "7",
        "[7]",
        '{"a": 1}',
        "[" * 5000,
        "\xff",
        '[{"sheet_name": "card"}]',
    ],
)
def test_a_damaged_file_is_refused_in_one_line(folder: Path, content: str) -> None:
    folder.mkdir(parents=True)
    settings_file().write_bytes(content.encode("latin-1"))
    with pytest.raises(SizingError, match=r"measured-sheets.json .* is damaged: delete it") as caught:
        remembered_sheets()
    assert "\n" not in str(caught.value)
    with pytest.raises(SizingError):
        remember(SHEET)
    assert settings_file().read_bytes() == content.encode("latin-1")


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("length", ["NaN", "Infinity", "0.0", "-5.0", "80", '"79"', "null", "true"])
def test_lengths_that_nothing_has_are_refused(length: str) -> None:
    remember(SHEET)
    settings_file().write_text(settings_file().read_text().replace("79.5", length))
    with pytest.raises(SizingError, match="is damaged"):
        remembered_sheets()


def test_a_folder_that_cannot_be_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv(SETTINGS_VARIABLE, str(tmp_path / "file" / "settings"))
    with pytest.raises(OutputError, match="cannot be made"):
        remember(SHEET)


def test_what_was_typed_comes_before_what_is_remembered() -> None:
    typed = CheckReading(length_mm=80.2, u_mm=0.1)
    assert reading_for("card", typed, remembered={"card": SHEET}) == typed


def test_what_is_remembered_of_the_sheet_in_the_photo_is_used() -> None:
    reading = reading_for("card", CheckReading(), remembered={"card": SHEET})
    assert reading == CheckReading(
        length_mm=79.5, u_mm=0.06, origin="measured with a plastic card on 2026-03-14"
    )


def test_another_sheet_says_nothing_of_this_one() -> None:
    assert reading_for("card", CheckReading(), remembered={"mat-a4": SHEET}) == CheckReading()
