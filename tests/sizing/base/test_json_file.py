"""JSON whose numbers are within reason."""

from pathlib import Path

import pytest

from sizing.base.json_file import read_json


@pytest.mark.parametrize(
    ("text", "value"),
    [('{"a": [1, -2.5, null, true]}', {"a": [1, -2.5, None, True]}), ("1000000", 1_000_000), ("1e-400", 0.0)],
)
def test_reads_values_as_they_are(tmp_path: Path, text: str, value: object) -> None:
    path = tmp_path / "a.json"
    path.write_text(text)
    found = read_json(path)
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(
    "text",
    [
        "NaN",
        "-Infinity",
        "1e308",
        "1e400",
        "1000001",
        "-1000001",
        "9" * 31,
        "9" * 5000,
        "{",
        "",
        "7 mm",
        "[" * 100_000,
    ],
)
def test_refuses_what_is_out_of_reason(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.json"
    path.write_text(text)
    with pytest.raises((ValueError, RecursionError)):
        read_json(path)
