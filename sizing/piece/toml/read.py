"""The piece file: everything needed to make a piece again, kept as TOML.

`PIECE_HELP` shows version 1 of the format with every key. Lengths are texts with their unit.
"""

from pathlib import Path

from sizing.base.files import read_text
from sizing.base.target import parse_step
from sizing.base.units import format_mm
from sizing.piece.bead_size import check_size
from sizing.piece.parts import (
    COUNTS,
    FRENCH_WIRE_USUAL_MM,
    LOOP_USUAL_MM,
    TAIL_USUAL_MM,
    BeadPart,
    Finding,
    Kind,
    Wire,
    Work,
    awg_mm,
)
from sizing.piece.piece import SPARE_USUAL, TARGET_KEYS, Piece
from sizing.piece.stringing import Layout
from sizing.piece.toml.table import Table

VERSION = 1
_FINEST_GAUGE = 40  # 0.08 mm, finer than any wire for beads: common practice, no source
_DENSEST = 30.0  # g/cm3: over osmium, the densest metal, 22.6 (CRC Handbook of Chemistry and Physics)
_MOST_SPARE = 10.0  # a larger share is a percentage typed for a share: common practice, no source

PIECE_HELP = """\
piece = 1                  # version of this format
name = "Blue glass anklet"
spare = 0.05               # beads to buy beyond those strung, as a share
sizes = "women"            # sizes to plan besides: women, men, or "8 1/2 in, 9 in, 9 1/2 in"

[target]                   # one of wrist, ankle, neck, finished, strung
ankle = "8 1/2 in"
ease = "1/4 in"            # how loose: the inside of the closed piece less wrist, ankle or neck
# step = "1/2 in"          # of strands one around the other: each so much longer, or "touching"

[[bead]]                   # in order of stringing; several make a repeat
name = "blue glass"
size = "6 mm"              # a round bead; or instead along = "4 mm" and across = "6 mm"
count = 1                  # how many in a row; of measured beads also have = 40 and uncertainty = "0.1 mm"
hole = "1 mm"
material = "soda-lime glass"   # for the weight; or density = 2.49 in g/cm3
cost = 0.12                # of one

[layout]
order = "repeat"           # or "graduated": largest in the middle
symmetric = false          # reads the same from both ends
whole = true               # only whole repeats are strung

[[finding]]                # one table each
kind = "clasp"             # clasp, jump ring, crimp, cover, french wire, extender, headpin, other
name = "spring ring"
length = "12 mm"           # what one adds to the piece; of an extender, the whole chain
count = 1
thickness = "2 mm"         # how thick it lies on the body
bore = "1.3 mm"            # inside diameter: crimp, french wire
cut = "3/8 in"             # length of one to cut: french wire, headpin
link = "4 mm"              # of an extender: from one link to the next
cost = 0.80
mass = 0.6                 # grams

[wire]
diameter = ".015 in"       # or awg = 28
tail = "2 in"              # beyond the beads at each end
loop = "1/4 in"            # at each end, around the clasp's ring
back_through = 2           # how many beads each tail goes back through
cost_per_metre = 0.45

[work]
minutes = 25
rate = 20.0                # an hour
margin = 0.5               # share of the price
currency = "USD"
"""


def load_piece(path: str | Path) -> Piece:
    """Read a piece file; see `read_piece`.

    Raises
    ------
    PieceError
        The file cannot be read, or one of its lines is wrong.
    """
    return read_piece(read_text(path), name=Path(path).name)


def read_piece(text: str, *, name: str = "piece") -> Piece:
    r"""Read the text of a piece file; `name` is what messages call it.

    Raises
    ------
    PieceError
        A line is wrong: the message names the line and the key.

    Examples
    --------
    >>> piece = read_piece('piece = 1\ntarget.wrist = "6 1/2 in"\n[[bead]]\nsize = "7 mm"\n')
    >>> piece.target_mm["wrist"], piece.beads[0].across_mm
    (165.1, 7.0)
    """
    from sizing.piece.toml.document import read_document  # noqa: PLC0415 - takes its time to import

    document = read_document(text, name=name)
    top = Table(document=document, values=document.values)
    if top.count("piece", 0, least=0) != VERSION:
        raise top.fail("piece", f'the file must begin with "piece = {VERSION}", the version of its format')
    target = top.table("target")
    findings = [_finding(table) for table in top.tables("finding")]
    piece = Piece(
        beads=tuple(_bead(table) for table in top.tables("bead")),
        name=top.text("name"),
        target_mm=_target(target),
        ease_mm=target.length("ease", allow_zero=True),
        step_mm=target.read("step", parse_step),
        layout=_layout(top.table("layout")),
        findings=tuple(findings) if top.has("finding") else None,
        wire=_wire(top.table("wire")),
        work=_work(top.table("work")),
        spare=_or(top.number("spare", below=_MOST_SPARE), SPARE_USUAL),
        sizes=top.text("sizes"),
    )
    target.close()
    top.close()
    return piece


def _or(value: float | None, usual: float) -> float:
    return usual if value is None else value


def _target(table: Table) -> dict[str, float]:
    lengths = {key: table.length(key) for key in TARGET_KEYS}
    given = {key: length for key, length in lengths.items() if length is not None}
    if len(given) > 1:
        raise table.fail(list(given)[-1], f"{' and '.join(given)} are different targets: keep one of them")
    return given


def _bead(table: Table) -> BeadPart:
    sizes = {key: table.length(key) for key in ("size", "along", "across")}
    for key, size_mm in sizes.items():
        if size_mm is not None:
            _check_size(table, key, size_mm)
    size, along, across = sizes.values()
    u95_mm = _or(table.length("uncertainty", allow_zero=True), 0.0)
    long, thick = _or(along, size or 0.0), _or(across, size or 0.0)
    bead = BeadPart(
        along_mm=long,
        across_mm=thick,
        name=table.text("name"),
        count=table.count("count", 1),
        hole_mm=table.length("hole"),
        material=table.text("material").lower(),
        density=table.number("density", below=_DENSEST),
        cost=table.number("cost"),
        rel_u95=u95_mm / long if long else 0.0,
        have=table.count("have", 0, least=0) if table.has("have") else None,
    )
    table.close()  # before a size is missed: it may be there, misspelt
    if (size is None) == (along is None or across is None):
        raise table.fail("size", 'give either size = "6 mm", or both along and across')
    _check_hole(table, bead)
    return bead


def _check_hole(table: Table, bead: BeadPart) -> None:
    """Refuse a hole that leaves nothing of a bead: it would weigh nothing, and any wire would fit."""
    if bead.hole_mm is not None and bead.hole_mm >= bead.across_mm:
        hole, thick = (format_mm(size_mm, decimals=2) for size_mm in (bead.hole_mm, bead.across_mm))
        raise table.fail("hole", f"a hole of {hole} is no smaller than the bead, {thick}: check its unit")


def _check_size(table: Table, key: str, size_mm: float) -> None:
    try:
        check_size(size_mm)
    except ValueError as error:
        raise table.fail(key, str(error)) from error


def _layout(table: Table) -> Layout:
    layout = Layout(
        graduated=table.choice("order", ("repeat", "graduated"), default="repeat") == "graduated",
        symmetric=table.flag("symmetric", default=False),
        whole=table.flag("whole", default=True),
    )
    table.close()
    return layout


def _finding(table: Table) -> Finding:
    kind = Kind(table.choice("kind", [k.value for k in Kind]))
    cut = table.length("cut")
    if cut is None and kind is Kind.FRENCH_WIRE:
        cut = FRENCH_WIRE_USUAL_MM
    # French wire is bent in half around the clasp's ring, and a headpin hangs. All else lies along the piece.
    usual_mm = {Kind.FRENCH_WIRE: (cut or 0.0) / 2, Kind.HEADPIN: 0.0}.get(kind)
    length = table.length("length", allow_zero=True)
    finding = Finding(
        kind=kind,
        length_mm=_or(length, usual_mm or 0.0),
        name=table.text("name"),
        count=table.count("count", COUNTS.get(kind, 1)),
        thickness_mm=_or(table.length("thickness", allow_zero=True), 0.0),
        bore_mm=table.length("bore"),
        cut_mm=cut,
        link_mm=table.length("link"),
        cost=table.number("cost"),
        mass_g=table.number("mass"),
    )
    table.close()  # before the length is missed: it may be there, misspelt
    if length is None and usual_mm is None:
        raise table.fail("length", 'it is missing: give the length that one adds, as in length = "12 mm"')
    return finding


def _wire(table: Table) -> Wire:
    diameter = table.length("diameter")
    gauge = table.count("awg", 0, most=_FINEST_GAUGE)
    if diameter is not None and gauge:
        raise table.fail("awg", "the diameter is given as well: keep one of the two")
    wire = Wire(
        diameter_mm=awg_mm(gauge) if gauge else diameter,
        tail_mm=_or(table.length("tail", allow_zero=True), TAIL_USUAL_MM),
        loop_mm=_or(table.length("loop", allow_zero=True), LOOP_USUAL_MM),
        back_through=table.count("back_through", 2, least=0),
        gauge=gauge,
        cost_per_metre=table.number("cost_per_metre"),
    )
    table.close()
    return wire


def _work(table: Table) -> Work:
    work = Work(
        minutes=_or(table.number("minutes"), 0.0),
        rate_per_hour=_or(table.number("rate"), 0.0),
        margin=_or(table.number("margin", below=1), 0.0),
        currency=table.text("currency"),
    )
    table.close()
    return work
