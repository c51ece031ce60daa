"""Tables of a TOML text, key by key."""

import pytest

from sizing.base.errors import PieceError
from sizing.piece.toml.document import read_document
from sizing.piece.toml.table import Table

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
ONE_LINE = 120  # letters


def top() -> Table:
    document = read_document(TEXT, name="file.toml")
    return Table(document=document, values=document.values)


def test_takes_values_of_the_right_kind() -> None:
    table = top()
    assert table.count("top", 0) == 1
    assert table.table("one").length("key") == 2.0
    first, second = table.tables("many")
    assert (first.number("key"), second.flag("key", default=False)) == (1.0, True)
    table.close()


def test_what_is_not_given_is_usual_or_empty() -> None:
    table = top().table("none")
    assert (table.length("key"), table.number("key"), table.text("key")) == (None, None, "")
    assert (table.count("key", 7), table.flag("key", default=True)) == (7, True)
    assert table.choice("key", ("a", "b"), default="b") == "b"
    assert table.tables("key") == []
    table.close()


def test_complains_about_what_nobody_took() -> None:
    first, second = top().tables("many")
    second.flag("key", default=False)
    second.text("mother")
    with pytest.raises(
        PieceError, match=r"^file.toml, line 7, \[many\] other: unknown key; did you mean mother\?"
    ):
        second.close()
    first.text("a")
    first.text("b")
    with pytest.raises(PieceError, match=r"line 5, \[many\] key: unknown key; the keys here are a, b"):
        first.close()


def test_a_long_value_is_cut_short() -> None:
    document = read_document(f"key = '{'x' * 500}'", name="file.toml")
    with pytest.raises(PieceError, match=r"'xxx.*\.\.\. is not a number") as error:
        Table(document=document, values=document.values).number("key")
    assert len(str(error.value)) < ONE_LINE


def test_a_text_of_several_lines_becomes_one() -> None:
    document = read_document(r'name = "two\nlines \u001b[31m ½"', name="file.toml")
    table = Table(document=document, values=document.values)
    assert table.text("name") == r"two\nlines \x1b[31m ½"
