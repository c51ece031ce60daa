"""Tables of a TOML file, key by key."""

import pytest

from sizing.base.errors import PieceError
from sizing.piece.toml_table import Source, Table

TEXT = """\
top = 1
[one]  # a comment
"key" = "2 mm"
[[many]]
key = 1
[[many]]
other = 2

key = true
"""
SOURCE = Source("file.toml", TEXT)


@pytest.mark.parametrize(
    ("table", "index", "key", "line"),
    [
        ("", 0, "top", 1),
        ("", 0, "one", 2),
        ("", 0, "absent", 1),
        ("one", 0, "key", 3),
        ("one", 0, "absent", 2),
        ("many", 0, "key", 5),
        ("many", 1, "key", 9),
        ("many", 1, "absent", 6),
    ],
)
def test_knows_where_a_key_stands(table: str, index: int, key: str, line: int) -> None:
    assert SOURCE.line_of(table, index, key) == line


def test_takes_values_of_the_right_kind() -> None:
    values = SOURCE.parsed()
    top = Table(SOURCE, "", values)
    assert top.count("top", 0) == 1
    assert top.table("one").length("key") == 2.0
    first, second = top.tables("many")
    assert (first.number("key"), second.flag("key", default=False)) == (1.0, True)
    assert top.table("none").length("key") is None
    assert top.tables("nobody") == []
    top.close()


def test_complains_of_what_nobody_took() -> None:
    table = Table(SOURCE, "many", {"other": 2}, index=1)
    assert table.text("mother") == ""
    with pytest.raises(PieceError, match=r"file.toml, line 7, \[many\] other: .*did you mean mother\?"):
        table.close()
    stranger = Table(SOURCE, "many", {"other": 2})
    stranger.text("a")
    stranger.text("b")
    with pytest.raises(PieceError, match="known are a, b"):
        stranger.close()


def test_a_broken_file_names_line_and_column() -> None:
    with pytest.raises(PieceError, match=r"broken.toml: .*line 2"):
        Source("broken.toml", "a = 1\nb = \n").parsed()
