"""A piece is planned on a page, of typed beads, of those in the stash, or as a piece file says."""

import re
from collections.abc import Mapping
from dataclasses import replace

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from sizing.base.errors import PieceError, SizingError, StashError
from sizing.base.units import format_length, printed_as
from sizing.piece.bead_size import read_bead, size_remarks
from sizing.piece.parts import BeadPart, Work
from sizing.piece.piece import Piece
from sizing.piece.plan import Plan, make_plan
from sizing.piece.size_run import SizeRow
from sizing.piece.stringing import Layout
from sizing.piece.toml.write import piece_text
from sizing.report.front.plan import plan_front
from sizing.report.sentences.phrases import aim, counted, opening
from sizing.report.sentences.plan import fits_phrase, plan_outcomes, size_name, stringing
from sizing.report.text.plan import cut_line, purchase_line
from sizing.stash.book import reading
from sizing.stash.entries import find
from sizing.stash.parts import part_of
from sizing.web.pages import again, page
from sizing.web.reading.shopping import finding_lines
from sizing.web.reading.wishes import PIECE_FILE, PLAN, read_plan, tidy, wished_piece

_LONGEST = 200  # letters of a list of beads
_MOST_BEADS = 30  # of a repeat, or sizes of a graduated strand
# A comma between two digits is a decimal comma, but for seed beads: `11/0,8/0` are two sizes.
_BETWEEN_BEADS = re.compile(r";|,(?![0-9])|(?<![0-9]),|(?<=/0),")
_FIELDS = ("name", "beads", "kept", "sizes", "order")


async def plan(request: Request) -> Response:
    """Plan a piece, where a target and beads are given, or a piece file."""
    values = _values(request)
    asked = {
        "typed": tidy(values),
        "query": request.url.query,
        **{name: values.get(name, "") for name in (*_FIELDS, PLAN)},
    }
    try:
        found = await run_in_threadpool(_found, values)
    except SizingError as error:
        piece = asked[PLAN] if _is_sound(values.get(PLAN, "")) else ""  # else another one must be opened
        return again("plan.html", request, error, asked={**asked, PLAN: piece}, found=None)
    return page("plan.html", request, asked=asked, found=found)


async def piece_file(request: Request) -> Response:
    """Return the piece file of what is planned."""
    text = piece_text(await run_in_threadpool(_piece, _values(request)))
    named = {"Content-Disposition": 'attachment; filename="piece.toml"'}
    return Response(text, media_type="application/toml", headers=named)


def _values(request: Request) -> dict[str, str]:
    sent = dict(request.query_params)
    return {name: value if name == PLAN else value[:_LONGEST] for name, value in sent.items()}


def _has_target(typed: Mapping[str, str]) -> bool:
    return bool(typed.get(PLAN) and read_plan(typed[PLAN]).target_mm)


def _is_sound(text: str) -> bool:
    """Return whether a piece file can be planned with."""
    try:
        return bool(read_plan(text).beads)
    except PieceError:
        return False


def _found(values: Mapping[str, str]) -> dict[str, object] | None:
    """Return what the page says of a plan; None where no target is given yet."""
    typed = tidy(values)
    if not typed.get("goal") and not _has_target(typed):
        return None
    piece = _piece(values)
    with printed_as(next(iter(piece.target_mm.values()), None)):
        made = make_plan(piece)
        return {
            "front": plan_front(made),
            "outcomes": plan_outcomes(made),
            "lines": _lines(made),
            "lists": {
                "Cut": [cut_line(cut) for cut in made.cuts],
                "Buy": [purchase_line(bought) for bought in made.purchases],
                "Findings": list(finding_lines([(made, 1)])) if piece.findings else [],
            },
            "sizes": [_size_line(row, made.piece.work.currency) for row in made.sizes],
            "bill": _bill(made),
            "cautions": made.cautions,
            "title": piece.name,
            "name": piece.name or _named(made),
            "piece": piece_text(piece),
        }


def _named(made: Plan) -> str:
    """Name a piece that has no name by its beads and its target."""
    beads = dict.fromkeys(bead.name or bead.title for bead in made.piece.beads)
    return f"{' and '.join(beads)} for {aim(made.target)}"


def _lines(made: Plan) -> list[str]:
    fits = [f"It fits {fits_phrase(made.girths)}."] if made.girths else []
    order = f"In order: {stringing(made.best.sequence)}."
    return [order, *fits, *(each.sentence for each in made.clearances)]


def _size_line(row: SizeRow, currency: str) -> str:
    price = f", {row.cost.price:.2f} {currency}".rstrip() if row.cost else ""
    length = format_length(row.fit.finished_mm)
    return f"{opening(size_name(row.label))}: {counted(row.fit.count, 'bead')}, finished {length}{price}"


def _bill(made: Plan) -> list[tuple[str, str]]:
    """Return what a piece weighs and costs, as names and amounts."""
    rows = [(opening(material), f"{grams:.1f} g") for material, grams in made.mass.by_material_g]
    if made.cost is None:
        return rows
    cost, currency = made.cost, made.piece.work.currency
    amounts = [*cost.items, ("materials", cost.materials), ("labour", cost.labour), ("price", cost.price)]
    rows += [(opening(name), f"{amount:.2f} {currency}".rstrip()) for name, amount in amounts]
    return [*rows, *((opening(name), "not counted") for name in cost.unknown)]


def _piece(values: Mapping[str, str]) -> Piece:
    """Return what a piece file says, or typed beads, with the target, sizes and name that are typed."""
    piece = read_plan(values[PLAN]) if values.get(PLAN) else _new_piece(values)
    if not piece.beads:
        raise SizingError(f"{PIECE_FILE} has no beads: type them there, or plan a new piece")
    typed = {name: values[name] for name in ("sizes", "name") if values.get(name)}
    return replace(wished_piece(tidy(values), piece), **typed)  # type: ignore[arg-type]  # both are texts


def _new_piece(values: Mapping[str, str]) -> Piece:
    piece = _kept_piece(values["kept"]) if values.get("kept") else _typed_piece(values.get("beads", ""))
    if not piece.beads:
        raise SizingError("type the beads of the piece, as 8 mm, or 8 mm, 6 mm for a repeat")
    return replace(piece, layout=Layout(graduated=values.get("order") == "graduated"))


def _typed_piece(text: str) -> Piece:
    beads = _typed_beads(text)
    return Piece(beads=beads, remarks=tuple(size_remarks(beads)))


def _typed_beads(text: str) -> tuple[BeadPart, ...]:
    try:
        words = [word.strip() for word in _BETWEEN_BEADS.split(text)[:_MOST_BEADS]]
        return tuple(read_bead(word) for word in words if word)
    except ValueError as error:
        raise SizingError(f"Beads: {error}") from error


def _kept_piece(text: str) -> Piece:
    """Return a piece of beads of the stash, which are named by entry and size: `3.1 4.2`."""
    rows = [word.split(".") for word in text.split()[:_MOST_BEADS]]
    if not all(len(row) == 2 and all(part.isascii() and part.isdecimal() for part in row) for row in rows):
        raise StashError("that cannot be read: open the page again")
    with reading() as book:
        named = [(find(book, int(number)), int(place)) for number, place in rows]
    beads = tuple(
        part_of(entry, size) for entry, place in named for size in entry.sizes if size.place == place
    )
    paid = {entry.details.currency for entry, _ in named if entry.details.price is not None}
    if len(paid) > 1:  # amounts of several currencies do not add up
        return Piece(beads=tuple(replace(bead, cost=None) for bead in beads))
    return Piece(beads=beads, work=Work(currency="".join(paid)))
