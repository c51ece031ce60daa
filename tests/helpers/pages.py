"""Pages made of given beads, and a reader of pages, for the tests of the reports."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser

from sizing.base.loop import Link
from sizing.base.target import Target, make_target
from sizing.lot.conformity import check_label
from sizing.lot.label import parse_label
from sizing.lot.marking import mark_classes, mark_decisions
from sizing.lot.picks import make_picks
from sizing.lot.sizes import unmeasured
from sizing.lot.sorting import sort_lot
from sizing.piece.parts import BeadPart
from sizing.piece.piece import Piece
from sizing.piece.plan import make_plan
from sizing.piece.toml.read import PIECE_HELP, read_piece
from sizing.report.html.check import check_page
from sizing.report.html.lot import lot_page
from sizing.report.html.lot_sections import lot_texts
from sizing.report.html.page import Picture
from sizing.report.html.plan import plan_page
from sizing.report.html.strand import strand_page
from sizing.report.sentences.check import CheckedLot
from sizing.strand.sized import size_strands
from tests.helpers.lots import bead, conditions, lot_of
from tests.helpers.strands import make_loop, make_strand, numbered_on
from vision.common.records import Lot, Strand

VOID = {"meta", "link", "img", "br", "hr", "input"}


@dataclass
class Document(HTMLParser):
    """What a page holds: its elements with their attributes; every element must be closed in its place."""

    open_tags: list[str] = field(default_factory=list)
    elements: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element that is opened."""
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open_tags.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element that is closed at once, as in SVG."""
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """Check that the last one opened is closed."""
        assert self.open_tags.pop() == tag

    def all(self, tag: str) -> list[dict[str, str | None]]:
        """Return the attributes of all elements of a kind."""
        return [attributes for name, attributes in self.elements if name == tag]


def read(page: str) -> Document:
    """Read a page."""
    document = Document()
    document.feed(page)
    document.close()
    assert document.open_tags == []
    return document


# One pixel as a PNG file.
PIXEL = (
    "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAA"
    "AABJRU5ErkJggg=="
)
PICTURE = Picture(source=PIXEL, size_px=(40, 30), alt="A strand.", caption="")
STRAND = make_strand([6.0] * 30, flags={4: ("weak-edge",)})


def finished_target() -> Target:
    target = make_target({"finished": 200.0}, findings=[Link(along_mm=22.0)])
    assert target
    return target


def strand_html(strand: Strand = STRAND) -> str:
    return strand_page(size_strands([strand], finished_target()), picture=PICTURE)


def strands_html() -> str:
    """Return a page of two strands and a closed loop, the second flagged, compared with a target."""
    flagged = make_strand([4.0, 8.0] * 6, flags={4: ("weak-edge",)}, gap_mm=2.0)
    strands = numbered_on(make_strand([6.0] * 30), flagged, make_loop([8.0] * 22))
    return strand_page(size_strands(strands, finished_target()), picture=PICTURE)


def nested_html() -> str:
    """Return a page of three strands that lie one around the other, with a step that is too small."""
    strands = numbered_on(make_strand([6.0] * 30), make_strand([8.0] * 22), make_strand([6.0] * 34))
    return strand_page(size_strands(strands, replace(finished_target(), step_mm=12.7)), picture=PICTURE)


def lot_html(lot: Lot) -> str:
    result = sort_lot(lot)
    picks = make_picks(result.sizes, pairs=2, uniform=4, graduated_mm=60.0)
    shown = [replace(PICTURE, alt=alt, caption=caption) for alt, caption in lot_texts(lot)]
    return lot_page(result, picks, marking=mark_classes(result), pictures=shown)


def check_html(lot: Lot, text: str = "8mm") -> str:
    label = parse_label(text)
    checked = CheckedLot(lot=lot, label=label, conformity=check_label(lot, label))
    marking = mark_decisions(checked.conformity, unmeasured(lot))
    return check_page(checked, marking=marking, pictures=[PICTURE])


def handfuls() -> Lot:
    """Two beads on each of three photos."""
    names = ("one.jpg", "two.jpg", "three.jpg")
    beads = tuple(bead(i, 6.0 + i, 6.0 + i, photo=name) for name in names for i in (1, 2))
    return Lot(conditions=tuple(map(conditions, names)), beads=beads)


def kept_html() -> str:
    """Return a page of a plan with kept beads of a long name in three sizes, longer than thick."""
    beads = tuple(
        BeadPart(name="carved wood with brass caps", along_mm=size, across_mm=size + 0.12, have=8)
        for size in (5.83, 7.86, 9.82)
    )
    return plan_page(make_plan(Piece(beads=beads, target_mm={"wrist": 165.1})))


LOT = lot_of([6.0, 6.02, 6.5, 7.95, 8.0, 8.05, math.nan])
PAGES: dict[str, Callable[[], str]] = {
    "strand": strand_html,
    "strand without target": lambda: strand_page(
        size_strands([make_strand([4.0, 8.0, 6.0])]), picture=PICTURE
    ),
    "closed loop": lambda: strand_page(size_strands([make_loop([8.0] * 22)]), picture=PICTURE),
    "several strands": strands_html,
    "strands one around the other": nested_html,
    "lot": lambda: lot_html(LOT),
    "check": lambda: check_html(LOT),
    "check of a pair": lambda: check_html(lot_of([4.0] * 5, [6.0] * 5), "6x4mm"),
    "lot of several photos": lambda: lot_html(handfuls()),
    "plan": lambda: plan_page(make_plan(read_piece(PIECE_HELP))),
    "plan of kept beads": kept_html,
}
