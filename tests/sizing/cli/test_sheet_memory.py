"""A printed sheet measured by a card on it, remembered, listed, used and forgotten."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from sizing.base.measured_sheets import MeasuredSheet, remember
from sizing.cli.main import cli
from tests.helpers.paths import SAMPLES
from tests.synthetic.references import Thing
from tests.vision.reference.test_check_length import CARD_REL, drawn
from vision.image.photo import encode_image

ANKLET = str(SAMPLES / "anklet.jpg")


def said(*words: str) -> str:
    result = CliRunner().invoke(cli, words)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def test_a_measured_sheet_is_remembered_used_and_forgotten(tmp_path: Path) -> None:
    photo = drawn("mat-a4", 0.99, [Thing(at_mm=(140.0, 100.0), turn_deg=5.0)], seed=23)
    path = tmp_path / "empty.jpg"
    path.write_bytes(encode_image(photo.photo.rgb, ".jpg"))
    unmeasured = json.loads(said("strand", ANKLET, "--json"))
    said("sheet", "--measure", str(path), "--with", "card")
    assert "mat-a4" in said("sheet", "--measured")
    measured = json.loads(said("strand", ANKLET, "--json"))
    assert measured["sheet"]["check_length_mm"] == pytest.approx(photo.check_length_mm, rel=CARD_REL)
    ratio = measured["strand"]["length_mm"] / unmeasured["strand"]["length_mm"]
    assert ratio == pytest.approx(0.99, rel=CARD_REL)
    assert measured["strand"]["length_u95_mm"] < unmeasured["strand"]["length_u95_mm"]
    said("sheet", "--forget", "mat-a4")
    assert json.loads(said("strand", ANKLET, "--json")) == unmeasured


@pytest.mark.parametrize(
    ("length_mm", "code"),
    [(264.8, 0), (256.6, 3)],  # 3.0 and 6.0 % less than at 100 %
)
def test_an_unlikely_remembered_length_is_treated_as_a_typed_one(length_mm: float, code: int) -> None:
    remember(
        MeasuredSheet(
            sheet_name="mat-a4", check_length_mm=length_mm, u_mm=0.2, measured_with="card", date="2026-03-14"
        )
    )
    result = CliRunner().invoke(cli, ["strand", ANKLET, "--json"])
    assert result.exit_code == code
    if code:
        assert "6.0 % less than the 273 mm of the A4 mat" in result.stderr
    else:
        [warning] = json.loads(result.stdout)["warnings"]
        assert "264.8 mm (measured with a card on 2026-03-14) is 3.0 % less" in warning
