"""Names and values as one line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizing.base.printable import one_line, printable

MOST_LETTERS = 1500


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\nb", "a\\nb"),
        ("a\r\tb", "a\\r\\tb"),
        ("\x1b[31mred", "\\x1b[31mred"),
        ("a\u2028b", "a\\u2028b"),
        ("gpj.\u202ea", "gpj.\\u202ea"),
        ("caf\udce9.jpg", "caf\\udce9.jpg"),  # PEP 383: a byte of a name that is not UTF-8
        ("½ in, café, 珠, a\xa0b", "½ in, café, 珠, a\xa0b"),
    ],
)
def test_what_breaks_a_line_is_escaped(text: str, shown: str) -> None:
    assert printable(text) == shown


@given(st.text(st.characters(exclude_categories=[]), max_size=300))
def test_any_text_is_one_line_that_can_be_written(text: str) -> None:
    assert len(printable(text).splitlines()) <= 1
    printable(text).encode()


def test_a_long_value_is_cut_in_the_middle() -> None:
    line = one_line(f"{'x' * 5000} is not a length: write 7mm")
    assert line.startswith("xxx")
    assert "x...x" in line
    assert line.endswith(" is not a length: write 7mm")
    assert len(line) < 300


def test_a_long_line_keeps_both_ends() -> None:
    line = one_line("start " + "word " * 5000 + "end")
    assert line.startswith("start word")
    assert line.endswith("word end")
    assert len(line) <= MOST_LETTERS
