"""The values of a TOML text, and the line on which each of its keys stands.

Python's own reader gives the values but forgets where they stood. The syntax tree keeps the place of
every key, also of dotted keys, inline tables and texts over several lines.
"""

import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from sizing.base.errors import PieceError

Place = tuple[str | int, ...]
"""Keys from the top of the text down; a number says which of several: ("bead", 1, "size")."""

_DEEPEST = 20  # a piece file needs three levels of brackets; Python's reader fails at some 300
_MOST_DIGITS = 100  # Python converts no text of over 4300 digits, and then names no line
_BRACKETS = {"[": 1, "[[": 2, "{": 1, "]": -1, "]]": -2, "}": -1}
_PARSER = Parser(Language(tree_sitter_toml.language()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A TOML text that was read.

    Attributes
    ----------
    name : str
        What messages call it.
    values : dict
    stated : tuple of (Place, int)
        Keys, tables and items of arrays in the order of the text, and the line of each, from 1.
    """

    name: str
    values: dict[str, object]
    stated: tuple[tuple[Place, int], ...]

    def line_of(self, place: Place) -> int:
        """Return the line where a place is first named, or that of the nearest table around it."""
        for depth in range(len(place), 0, -1):
            for stated, line in self.stated:
                if stated[:depth] == place[:depth]:
                    return line
        return 1


def read_document(text: str, *, name: str) -> Document:
    r"""Read a TOML text.

    Raises
    ------
    PieceError
        The text is not TOML, or brackets lie too deep inside each other; one line that names the line.

    Examples
    --------
    >>> document = read_document('piece = 1\ntarget.wrist = "6 in"\n', name="bracelet.toml")
    >>> document.values["target"]
    {'wrist': '6 in'}
    >>> document.line_of(("target", "wrist"))
    2
    """
    text = text.removeprefix("\ufeff")  # some editors begin a file with this mark
    root = _tree(text)
    for node in _nodes(root):
        if node.type == "integer" and node.end_byte - node.start_byte > _MOST_DIGITS:
            raise PieceError(
                f"{name}, line {_line(node)}: a number has over {_MOST_DIGITS} digits: shorten it"
            )
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PieceError(f"{name}, {_complaint(error, text)}") from error
    except RecursionError as error:
        deep = f"line {_deep_line(root)}: over {_DEEPEST} brackets lie inside each other"
        raise PieceError(f"{name}, {deep}: a piece file needs two or three") from error
    return Document(name=name, values=values, stated=tuple(_stated(root)))


def _tree(text: str) -> Node:
    return _PARSER.parse(text.encode("utf-8", "replace")).root_node


def _nodes(root: Node) -> Iterator[Node]:
    """Yield the parts of a tree in the order of the text, without recursion."""
    waiting = [root]
    while waiting:
        node = waiting.pop()
        yield node
        waiting += reversed(node.children)


def _line(node: Node) -> int:
    return node.start_point.row + 1


def _deep_line(root: Node) -> int:
    """Return the line of the first bracket that lies inside too many others."""
    opened = zip(_nodes(root), accumulate(_BRACKETS.get(node.type, 0) for node in _nodes(root)), strict=True)
    return next((_line(node) for node, depth in opened if depth > _DEEPEST), 1)


def _complaint(error: tomllib.TOMLDecodeError, text: str) -> str:
    """Say in plain words what is wrong and on which line."""
    problem, _, where = str(error).removesuffix(")").rpartition(" (at ")
    if problem.startswith("Cannot "):
        lines = text.split("\n")
        end = int(where.split()[1].rstrip(",")) if where.startswith("line ") else len(lines)
        return _given_twice("\n".join(lines[:end]) + "\n", end=end)
    if not where.startswith("line "):  # it is the end of the text: what was left open begins further up
        root = _tree(text)
        where = (
            f"line {next((_line(node) for node in _nodes(root) if node.is_error), _line(root.children[-1]))}"
        )
    return f"{where}: {problem}; texts and lengths belong in quotes, numbers begin with a digit"


def _given_twice(text: str, *, end: int) -> str:
    """Say where else the key or table of the last statement is given; it ends on line `end`."""
    root = _tree(text)
    try:
        *above, (place, node) = [] if root.has_error else _statements(root)
    except ValueError:  # what follows on the same line is wrong as well
        return f"line {end}: a key or table is given further up already: keep one of the two"
    first = next((f"in line {_line(other)}" for same, other in above if same == place), "further up")
    key = next(part for part in reversed(place) if isinstance(part, str))
    several = f", or write [[{key}]] over each" if node.type == "table" else ""
    return f"line {_line(node)}, {key}: it is given {first} already: keep one of the two{several}"


def _stated(root: Node) -> Iterator[tuple[Place, int]]:
    """Yield every key, table and item of an array with its line, in the order of the text."""
    for place, node in _statements(root):
        yield place, _line(node)
        if node.type == "pair":
            yield from _in_pair(node, place)


def _statements(root: Node) -> Iterator[tuple[Place, Node]]:
    """Yield the header of every table and every key with a value, but not what lies inside values."""
    tables: Counter[Place] = Counter()  # of each array of tables, how many were seen
    for node in root.named_children:
        if node.type == "pair":
            yield _place((), node), node
        elif node.type in {"table", "table_array_element"}:
            place = _header(node, tables)
            yield place, node
            yield from ((_place(place, pair), pair) for pair in node.named_children if pair.type == "pair")


def _header(table: Node, tables: Counter[Place]) -> Place:
    """Return the place of a table from its header; [bead.more] belongs to the last [[bead]]."""
    place: Place = ()
    for key in _keys(table.named_children[0]):
        if tables[place]:
            place = (*place, tables[place] - 1)
        place = (*place, key)
    if table.type == "table_array_element":
        tables[place] += 1
        place = (*place, tables[place] - 1)
    return place


def _in_pair(pair: Node, place: Place) -> Iterator[tuple[Place, int]]:
    for value in pair.named_children[1:2]:  # after it may come a comment
        yield from _in_value(value, place)


def _in_value(value: Node, place: Place) -> Iterator[tuple[Place, int]]:
    """Yield what is named inside a value that lies at a place."""
    if value.type not in {"inline_table", "array"}:
        return
    items = [node for node in value.named_children if node.type != "comment"]
    for at, item in enumerate(items):
        inside = _place(place, item) if item.type == "pair" else (*place, at)
        yield inside, _line(item)
        yield from _in_pair(item, inside) if item.type == "pair" else _in_value(item, inside)


def _place(table: Place, pair: Node) -> Place:
    return (*table, *_keys(pair.named_children[0]))


def _keys(key: Node) -> list[str]:
    """Return the parts of a bare, quoted or dotted key, read by Python's reader."""
    rest: object = tomllib.loads(f"{(key.text or b'').decode()} = 0")
    keys = []
    while isinstance(rest, dict):
        [(part, rest)] = rest.items()
        keys.append(part)
    return keys
