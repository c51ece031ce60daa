"""The blocks that a page is made of, and the page as one HTML document.

Each command fills the same few blocks; `templates/report.html` and `templates/report.css` alone say how
they look.
"""

import functools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import ClassVar

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from sizing.report.front.front import Fact, Front

NO_BREAK = "\N{NO-BREAK SPACE}"
# Between a number and its unit, around a plus-minus sign, between whole inches and their fraction.
_TIES = re.compile(r"(?<=\d) (?=(?:mm|in|g|%|°|±)(?![a-z]))|(?<=±) |(?<=\d) (?=\d+/\d+)")
_TIMES = re.compile(r"(?<=\d) x (?=\w)")
_UNCERTAINTY = re.compile(r"(?<=\d\N{NO-BREAK SPACE})±\N{NO-BREAK SPACE}[\d.]+")
_OPTION = re.compile(r"\bgive --(?P<name>[a-z-]+)")
_IN_WORDS = {"findings": "say their length", "ease": "say your own", "round": "say so"}
"""What a maker, who reads no option's name on a page, is asked to give."""
_FRACTION = re.compile(r"\b\d+/\d+(?=\N{NO-BREAK SPACE}in\b)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell of a table.

    Attributes
    ----------
    text : str
    more : str
        A quieter line below.
    colour : str
        CSS colour of a swatch before the text; empty for none.
    tone : str
        `good`, `warning`, `strong`, or empty: how the text is set.
    """

    text: str
    more: str = ""
    colour: str = ""
    tone: str = ""


Row = Sequence[Cell | str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; the first cell of each row names it.

    Attributes
    ----------
    title : str
        What it shows, for readers who cannot see it.
    head : sequence of str
        Empty if the rows explain themselves.
    rows : sequence of rows
    figures : sequence of int
        Columns that are set flush right as figures.
    """

    block: ClassVar = "table"
    title: str
    rows: Sequence[Row]
    head: Sequence[str] = ()
    figures: Sequence[int] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Sentences, one below the other."""

    block: ClassVar = "lines"
    lines: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """Sentences set apart, for readers who want to know more."""

    block: ClassVar = "box"
    lines: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """Lesser facts, side by side if there is room."""

    block: ClassVar = "terms"
    facts: Sequence[Fact]


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What the colours mean: names with their CSS colours."""

    block: ClassVar = "key"
    entries: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A photo as part of the page.

    Attributes
    ----------
    source : str
        A data URI.
    size_px : tuple of int
        (width, height).
    alt, caption : str
    """

    block: ClassVar = "picture"
    source: str
    size_px: tuple[int, int]
    alt: str
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing as inline SVG, laid out for a wide page and for a phone.

    Attributes
    ----------
    wide, narrow : str
        SVG elements; `narrow` is empty if `wide` serves both.
    alt, caption : str
    """

    block: ClassVar = "drawing"
    wide: str
    narrow: str
    alt: str
    caption: str = ""


Block = Table | Lines | Box | Terms | Key | Picture | Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Blocks one below the other, as one part of a `Beside`."""

    block: ClassVar = "stack"
    blocks: Sequence[Block]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Blocks that stand beside each other on a wide page."""

    block: ClassVar = "beside"
    blocks: Sequence[Block | Stack]


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading and its blocks; a section without blocks is left out."""

    title: str
    blocks: Sequence[Block | Beside]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A whole report: what stands first, and the sections below it."""

    front: Front
    sections: Sequence[Section]


def render(page: Page) -> str:
    """Return a page as one HTML document that loads no other file."""
    return _environment().get_template("report.html").render(page=page, version=version("strandgauge"))


def typeset(text: str) -> Markup:
    """Return a text as HTML: options in words, units tied, fractions and uncertainties marked."""
    worded = _OPTION.sub(lambda found: _IN_WORDS.get(found["name"], "say so"), text)
    tied = _TIES.sub(NO_BREAK, _TIMES.sub(" \N{MULTIPLICATION SIGN} ", worded))
    html = _FRACTION.sub(r'<span class="fraction">\g<0></span>', str(escape(tied)))
    return Markup(_UNCERTAINTY.sub(r'<span class="uncertainty">\g<0></span>', html))  # noqa: S704 - escaped above


@functools.cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("sizing.report.html"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["typeset"] = typeset
    return environment
