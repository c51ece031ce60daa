"""The line of every key of a TOML text, and one clear line about a text that is not TOML."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.base.errors import PieceError
from sizing.piece.toml.document import Place, read_document


@pytest.mark.parametrize(
    ("text", "place", "line"),
    [
        ("\n# note\na = 1\n", ("a",), 3),
        ("a.b = 1\na.c = 2\n", ("a", "c"), 2),
        ("a.b = 1\na.c = 2\n", ("a",), 1),
        ("[t]\n\na . b = 1\n", ("t", "a", "b"), 3),
        ("a = 1\n[t.u]\nb = 1\n", ("t",), 2),
        ("[t.u]\nb = 1\n[t]\nc = 1\n", ("t", "c"), 4),
        ("a = 1\nt = {b = 1, c.d = 2}\n", ("t", "c", "d"), 2),
        ("t = [\n  {b = 1},\n  # note\n  {b = 2},\n]\n", ("t", 1, "b"), 4),
        ("t = [\n  {b = 1},\n  {b = [\n    7,\n    8\n  ]},\n]\n", ("t", 1, "b", 1), 5),
        ("t = [ # note\n  {b = 1}, # note\n  # note\n  {b = [1,\n2]},\n] # note\n", ("t", 1, "b", 1), 5),
        ('a = """\nb = 1\n[t]\n"""\nb = 2\n', ("b",), 5),
        ("a = '''\n'''\n[t]\nb = [\n1,\n]\nc = 1\n", ("t", "c"), 7),
        ('"a b" = 1\n[ "t" . \'u\' ]\n"x\\u0079" = 2\n', ("a b",), 1),
        ('"a b" = 1\n[ "t" . \'u\' ]\n"x\\u0079" = 2\n', ("t", "u", "xy"), 3),
        ("[[t]]\nb = 1\n[[v]]\nb = 1\n[[t]]\nb = 2\n", ("t", 1, "b"), 6),
        ("[[t]]\n[[t.u]]\n[[t]]\n[[t.u]]\n[[t.u]]\nb = 1\n", ("t", 1, "u", 1, "b"), 6),
        ("[[t]]\n[[t]]\n[t.u]\nb = 1\n", ("t", 1, "u", "b"), 4),
        ('a = 1\r\nb = """\r\n\r\n"""\r\nc = 2\r\n', ("c",), 5),
        ("\ufeffa = 1\nb = 2\n", ("b",), 2),
        ('"é" = "ü"\nb = "é" # ü\nc = 1\n', ("c",), 3),
        ("a = 1\n\n[t]\nb = 1\n", ("t", "absent"), 3),
        ("a = 1\nb = 2\n", ("absent",), 1),
        ("", ("absent",), 1),
    ],
)
def test_every_key_has_its_line(text: str, place: Place, line: int) -> None:
    assert read_document(text, name="file.toml").line_of(place) == line


KEYS = {"bare": "bare", '"quoted key"': "quoted key", "'it'": "it", '"\\u00e9"': "é"}
VALUES = ["1", '"text"', "[\n1,\n# note\n2\n]", '"""\nk = 1\n"""', "'''\n[t]'''", "{}", "1979-05-27 # note"]
HEADERS = ["", "[{}]", "[[{}]]", "[ 't' . {} ]"]
statements = st.tuples(st.sampled_from(list(KEYS)), st.sampled_from(VALUES), st.integers(0, 2))


@given(st.lists(st.tuples(st.sampled_from(HEADERS[1:]), statements), max_size=8), st.booleans())
@settings(deadline=None)
def test_a_text_put_together_line_by_line(tables: list[tuple[str, tuple[str, str, int]]], crlf: bool) -> None:  # noqa: FBT001 - drawn
    text, expected = "", []
    for number, (header, (key, value, blank)) in enumerate(tables):
        text += "\n" * blank + header.format(f"t{number}") + "\n"
        expected.append((number, header, KEYS[key], text.count("\n") + 1))
        text += f"{key} = {value}\n"
    document = read_document(text.replace("\n", "\r\n") if crlf else text, name="file.toml")
    for number, header, key, line in expected:
        above: Place = {"[{}]": (f"t{number}",), "[[{}]]": (f"t{number}", 0)}.get(header, ("t", f"t{number}"))
        assert document.line_of((*above, key)) == line


LONG = "a = 1\n" + "".join(f"b{i} = [{i}, 'x']\n" for i in range(40))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a = 1\nb = Blue\n", "line 2, column 5: Invalid value; texts and lengths belong in quotes"),
        ("a = 1\r\n\r\nb = 6 mm\r\n", "line 3, column 7: Expected newline"),
        ("\ufeffa = 1\nb = \n", "line 2, column 5: Invalid value"),
        ('a = """\n\n"""\nb = "x\n', r"line 4, column 7: Illegal character '\\n'"),
        # What is left open to the end of the text is named where it begins.
        ('a = 1\nb = """\nc = 1\nd = 2\n', "line 2: Unterminated string"),
        ("a = 1\nb = '''\nc = 1\n", "line 2: Expected"),
        ("a = 1\nb = [1,\n2,\n", "line 2: Invalid value"),
        ("a = 1\n[t", r"line 2: Expected '\]' at the end of a table declaration"),
        ("a = 1\nb =", "line 2: Invalid value"),
        (LONG + 'c = """\n' + LONG, "line 42: Unterminated string"),
        (LONG + "c = [\n1,\n", "line 42: Invalid value"),
        # What is given twice is named by its key, and where it was given first.
        ("a = 1\na = 2\n", "line 2, a: it is given in line 1 already: keep one of the two"),
        ('a = 1\n\na = """\n\n"""\n"\\uD800" = 1\n', "line 3, a: it is given in line 1 already"),
        ("[t]\na = 1\n[u]\n[t]\n", r"line 4, t: it is given in line 1 already: .* write \[\[t\]\] over each"),
        ("[t]\na.b = 1\na = 2\n", "line 3, a: it is given further up already"),
        ("[[t]]\n[t]\n", "line 2, t: it is given further up already"),
        ("[t]\n\n[t] = Blue\n", "line 3: a key or table is given further up already"),
        ("a = 1\n\na = 2", "line 3, a: it is given in line 1 already"),
        ("a = 1\n\nb = " + "9" * 5000, "line 3: a number has over 100 digits"),
        ("a = 1\n\nb = " + "[" * 5000 + "]" * 5000, "line 3: over 20 brackets lie inside each other"),
        ("a = 1\nb = [\n" + "{a = [" * 5000, "line 3: over 20 brackets lie inside each other"),
    ],
)
def test_a_text_that_is_not_toml_is_one_line(text: str, message: str) -> None:
    with pytest.raises(PieceError, match=f"^file.toml, {message}") as error:
        read_document(text, name="file.toml")
    assert str(error.value).isprintable()


@pytest.mark.parametrize("text", ["a." * 2000 + "a = 1", "[" + "a." * 2000 + "a]\nb = 1", "[[a]]\n" * 5000])
def test_many_keys_or_tables_are_read(text: str) -> None:
    assert read_document(text, name="file.toml").line_of(("a", 0)) == 1


PARTS = ["a", "b", "[", "]", "[[", "]]", "{", "}", "=", ".", ",", "\n", " ", '"', "'", '"""', "'''", "1", "#"]


@given(st.lists(st.sampled_from([*PARTS, "\\uD800"]), max_size=30).map("".join) | st.text(max_size=20))
@settings(deadline=None, max_examples=300)
def test_any_text_is_read_or_refused_with_a_line(text: str) -> None:
    message = ""
    try:
        line = max((line for _, line in read_document(text, name="file.toml").stated), default=1)
    except PieceError as error:
        message = str(error)
        line = int(message.removeprefix("file.toml, line ").replace(":", ",").partition(",")[0])
    assert not message or message.isprintable()
    assert 1 <= line <= text.count("\n") + 1
